"""Print the time from a load's rise above the rating to its alarm in the log, on a line that can't keep up.

Forty meters on one paced 9600-baud bus want a poll a second each and get one in about two and a half. One circuit
stands close to its limit and then rises above its rating, at a random moment. Measured with the close circuit's meter
read first, as it is, and round-robin, in turn; there is no on-delay. Run: python tests/bench/urgency.py [TIMES].
"""

from __future__ import annotations

import random
import sqlite3
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from drivers.maps.mapfile import load_map
from drivers.reading import Values
from drivers.virtual.image import one_meter, several_meters
from drivers.virtual.serial_slave import SerialSlave
from monitor.recorder.recorder import Recorder
from monitor.recorder.urgency import Urgency
from monitor.show.loading import load_show
from tests.bench.alarm_latency import CIRCUIT, HEAD, MAP, METER

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

UNITS = range(1, 41)
CLOSE_AMPS, HIGH_AMPS = 15.8, 24.0


class _Nobody(Urgency):
    """Hurries nobody."""

    def units(self, places: Iterable[str]) -> Mapping[str, frozenset[int]]:
        """Give no unit."""
        return super().units([] if places else places)


class Load:
    """What the meters read: one changing circuit, the rest idle."""

    amps = CLOSE_AMPS


def main() -> None:
    """Measure both ways in turn, and print."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 10
    times: dict[str, list[float]] = {"round-robin": [], "close ones first": []}
    for _ in range(count):
        for way, found in times.items():
            found.append(_one(urgent=way != "round-robin"))
    for way, found in times.items():
        print(f"{way}: rise to alarm median {statistics.median(found):.0f} ms, worst {max(found):.0f} ms")


def _one(*, urgent: bool) -> float:
    """Run a logger until it has settled, let one load rise, and give the time to the alarm [ms]."""
    idle = {f"ch{n}": Values(volts=120.0, amps=5.0, hertz=60.0, watts=600.0) for n in (1, 2, 3)}

    def close() -> dict[str, Values]:
        return {"ch1": Values(volts=120.0, amps=Load.amps, hertz=60.0, watts=120.0 * Load.amps)} | {
            name: idle[name] for name in ("ch2", "ch3")
        }

    mapped = load_map(MAP)
    image = several_meters({unit: one_meter(mapped, close if unit == 1 else lambda: idle) for unit in UNITS})
    Load.amps = CLOSE_AMPS
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        slave = SerialSlave(image, folder / "bus", 9600)
        slave.start()
        text = HEAD.format(port=folder / "bus")
        text += "".join(CIRCUIT.format(id=f"c{u}") + METER.format(unit=u, id=f"c{u}") for u in UNITS)
        (folder / "bench.toml").write_text(text, encoding="utf-8")
        recorder = Recorder(load_show(folder / "bench.toml"), folder / "bench.sqlite")
        if not urgent:
            recorder._urgency = _Nobody(recorder.show)
        with recorder:
            time.sleep(8.0 + random.random() * 3)
            began = time.monotonic()
            Load.amps = HIGH_AMPS
            while not _alarmed(folder / "bench.sqlite"):
                time.sleep(0.005)
            took_ms = 1000 * (time.monotonic() - began)
        slave.stop()
    return took_ms


def _alarmed(log: Path) -> bool:
    db = sqlite3.connect(f"file:{log}?mode=ro", uri=True)
    found = db.execute("SELECT 1 FROM alarm WHERE code = 'above-rating' AND place = 'c1'").fetchone()
    db.close()
    return found is not None


if __name__ == "__main__":
    main()
