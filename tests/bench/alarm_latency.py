"""Print the time from a reply's last byte to its alarm in the log, over a paced 9600-baud bus.

A circuit jumps above its rating again and again, with no on-delay, and then far above it, with the usual one, which
is taken off. The time of the first reading beyond the limit is that of its reply's last byte. Must be at most one poll
cycle (1 s) plus 50 ms.
Run: python tests/bench/alarm_latency.py [TIMES]
"""

from __future__ import annotations

import sqlite3
import statistics
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from drivers.maps.mapfile import load_map
from drivers.reading import Values
from drivers.virtual.image import one_meter, several_meters
from drivers.virtual.serial_slave import SerialSlave
from monitor.recorder.recorder import Recorder
from monitor.show.loading import load_show

MAP = Path(__file__).resolve().parents[2] / "config/meters/three-channel.toml"
UNITS = range(1, 9)
LIMIT_MS = 1050
RULES = {"above-rating": (24.0, 0.0), "far-above-rating": (60.0, 3000.0)}  # amps [A], on-delay [ms]
HEAD = """
[show]
name = "Bench"
region = "north-america"
timezone = "UTC"
[source]
name = "Set"
kind = "house"
system = "120/240"
[alarms]
above_rating_on_seconds = 0
above_rating_off_seconds = 0
far_above_rating_off_seconds = 0
far_above_rating_percent = 200
[[bus]]
id = "b"
port = "{port}"
protocol = "modbus-rtu"
baud = 9600
"""
CIRCUIT = '[[circuit]]\nid = "{id}"\nfed_from = "source"\nlegs = ["L1"]\nbreaker = {{ amps = 20 }}\n'
METER = '[[meter]]\nbus = "b"\nunit = {unit}\nmap = "three-channel"\npoints = {{ ch1 = "{id}" }}\n'


def main() -> None:
    """Measure and print."""
    amps = {"now": 5.0}
    image = several_meters({unit: one_meter(load_map(MAP), lambda: _values(amps["now"])) for unit in UNITS})
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        slave = SerialSlave(image, folder / "bus", 9600)
        slave.start()
        text = HEAD.format(port=folder / "bus")
        text += "".join(CIRCUIT.format(id=f"c{u}") + METER.format(unit=u, id=f"c{u}") for u in UNITS)
        (folder / "bench.toml").write_text(text, encoding="utf-8")
        with Recorder(load_show(folder / "bench.toml"), folder / "bench.sqlite"):
            count = int(sys.argv[1]) if len(sys.argv) > 1 else 10
            found = {rule: [_one(folder / "bench.sqlite", amps, rule) for _ in range(count)] for rule in RULES}
        slave.stop()
    for rule, times in found.items():
        median, worst = statistics.median(times), max(times)
        print(f"{rule}: reply to alarm in the log: median {median:.0f} ms, worst {worst:.0f} ms (limit {LIMIT_MS})")


def _values(amps: float) -> dict[str, Values]:
    return {f"ch{n}": Values(volts=120.0, amps=amps, hertz=60.0, watts=120.0 * amps) for n in (1, 2, 3)}


def _one(log: Path, amps: dict[str, float], rule: str) -> float:
    """Raise the load, wait for the alarm of c1, lower it again; give reply to commit, less the on-delay [ms]."""
    high, delay_ms = RULES[rule]
    amps["now"] = 5.0
    time.sleep(3.37)
    db = sqlite3.connect(f"file:{log}?mode=ro", uri=True)
    began_ms = time.time() * 1000
    amps["now"] = high
    while True:
        row = db.execute(
            "SELECT a.time_ms FROM alarm a WHERE a.code = ? AND a.place = 'c1'"
            " AND a.state = 'unacknowledged' AND a.time_ms > ?",
            (rule, began_ms),
        ).fetchone()
        seen_ms = time.time() * 1000
        if row is not None:
            break
        time.sleep(0.002)
    (reply_ms,) = db.execute(
        "SELECT min(r.time_ms) FROM reading r JOIN point p ON p.id = r.point"
        " WHERE p.name = 'c1' AND r.amps_ma > 20000 AND r.time_ms > ?",
        (began_ms,),
    ).fetchone()
    db.close()
    return seen_ms - float(reply_ms) - delay_ms


if __name__ == "__main__":
    main()
