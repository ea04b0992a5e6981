"""Measure looking back into a long log: 48 circuits at 1 Hz for two weeks. Prints; run it by hand.

    python tests/bench/long_log.py [--days 14] [--keep FILE]

The readings are made inside SQLite, in the log's own schema, with the minutes that the logger would have finished,
steps, gaps, alarms and incidents: 58 million readings and 2 GB for 14 days. ``--days 1`` is made in a
fourteenth of that. ``--keep`` makes the log there once and measures it again when it is there already. Commands are
measured as whole processes, start of Python and all; look-ups inside a process that is running.
"""

from __future__ import annotations

import argparse
import sqlite3
import subprocess
import sys
import tempfile
from pathlib import Path

from drivers.clock import Instant, monotonic
from monitor.electrical.steps import Step
from monitor.incidents.model import Alternative, Evidence, Found, FoundStep, Incident, Kind
from monitor.log.reader import LogReader
from monitor.log.upkeep import finish_minutes
from monitor.log.writer import LogWriter
from monitor.show.loading import load_show_text
from monitor.show.model import Point

BEGIN_MS = 1_790_000_040_000
CIRCUITS, HOUR_S, DAY_S = 48, 3_600, 86_400
STEPS_A_DAY, INCIDENTS_A_DAY = 20, 2
LIMITS = {"review": 0.3, "ten minutes": 0.3, "minutes": 0.3, "report": 2.0}
HEAD = """
[show]
name = "Long run"
region = "north-america"
timezone = "America/Halifax"
[source]
name = "Set"
kind = "generator"
system = "120/240"
hertz = 60
rated_kw = 100
rated_kva = 125
amps_per_leg = 400
[[bus]]
id = "rs485"
port = "/dev/null"
protocol = "modbus-rtu"
"""
CIRCUIT = """
[[circuit]]
id = "c{0}"
fed_from = "source"
legs = ["L{1}"]
breaker = {{ amps = 20 }}
load = [{{ name = "Head {0}", watts = 1200 }}]
"""
METER = """
[[meter]]
bus = "rs485"
unit = {0}
map = "three-channel"
powered_from = "source"
points = {{ ch1 = "c{1}", ch2 = "c{2}", ch3 = "c{3}" }}
"""
READINGS = """
WITH RECURSIVE second(s) AS (SELECT ? UNION ALL SELECT s + 1 FROM second WHERE s + 1 < ?)
INSERT INTO reading
SELECT ? + 1000 * s + p.id / 3 * 20, p.id, 119000 + (s * 7919 + p.id * 104729) % 2000,
  8000 + (s * 31 + p.id * 7) % 500, 10000 + s * 13 % 90, 9600 + (s * 31 + p.id * 7) % 600, NULL, 0
FROM second CROSS JOIN point p ORDER BY 1, 2
"""


def make(path: Path, days: float) -> None:
    """Write a log of that many days."""
    text = HEAD + "".join(CIRCUIT.format(n, 1 + n % 2) for n in range(CIRCUITS))
    text += "".join(METER.format(n + 1, 3 * n, 3 * n + 1, 3 * n + 2) for n in range(CIRCUITS // 3))
    show = load_show_text(text, "bench.toml", with_maps=False)
    seconds = round(days * DAY_S)
    with LogWriter.open(path, show, Instant(BEGIN_MS, 0.0)) as writer:
        writer.write_cycle((), (), Instant(BEGIN_MS, 0.0), (), _found(seconds))
    db = sqlite3.connect(path, isolation_level=None)
    db.execute("PRAGMA synchronous = OFF")
    db.execute("PRAGMA cache_size = -64000")
    for first in range(0, seconds, HOUR_S):
        end = min(first + HOUR_S, seconds)
        db.execute("BEGIN")
        db.execute(READINGS, (first, end, BEGIN_MS))
        finish_minutes(db, (BEGIN_MS + 1000 * end) // 60_000, {})
        db.execute(
            "INSERT INTO gap VALUES (1 + ? % 48, ?, 'silent', ?, 'no reply')",
            (end, BEGIN_MS + 1000 * first, BEGIN_MS + 1000 * first + 9_000),
        )
        db.execute("COMMIT")
        print(f"\r{end / DAY_S:.1f} days made", end="", flush=True)
    print()
    db.close()


def _found(seconds: int) -> Found:
    steps = []
    for n in range(seconds * STEPS_A_DAY * CIRCUITS // DAY_S):
        time_ms = BEGIN_MS + 1000 * n * DAY_S // (STEPS_A_DAY * CIRCUITS)
        circuit = n % CIRCUITS
        watts = 1200.0 if n // CIRCUITS % 2 else -1200.0
        step = Step(
            time_ms / 1000,
            time_ms / 1000 - 1,
            watts,
            watts / 120,
            "on" if watts > 0 else "off",
            "steady",
            (f"Head {circuit}",),
            0.9,
        )
        steps.append(FoundStep(f"c{circuit}", time_ms, time_ms - 1000, step))
    count = max(1, seconds * INCIDENTS_A_DAY // DAY_S)
    incidents = tuple(_incident(n, BEGIN_MS + 1000 * seconds * n // (count + 1)) for n in range(1, count + 1))
    return Found(tuple(steps), incidents)


def _incident(number: int, begin_ms: int) -> Incident:
    return Incident(
        number=number,
        kind=Kind.OVERLOAD_TRIP,
        points=(Point(f"c{number % CIRCUITS}"),),
        begin_ms=begin_ms,
        earliest_ms=begin_ms - 1000,
        end_ms=begin_ms + 60_000,
        confidence=0.8,
        evidence=(Evidence("22 A on a 20 A breaker"),),
        not_shown=("what opened it",),
        alternatives=(Alternative(Kind.FAULT_TRIP, 0.1),),
    )


def command(*words: str | Path) -> float:
    """Run a command of ours and give its time [s]."""
    begun = monotonic()
    subprocess.run([Path(sys.executable).with_name("legwatch"), *words], check=True, stdout=subprocess.DEVNULL)
    return monotonic() - begun


def look_up(path: Path, days: float) -> tuple[float, float]:
    """Give the time of ten minutes of one circuit, and of all its minutes [s]; the log is opened each time."""
    middle_ms = BEGIN_MS + round(days * DAY_S * 500)
    begun = monotonic()
    with LogReader(path) as reader:
        readings = reader.readings_between(Point("c7"), middle_ms, middle_ms + 600_000)
    ten = monotonic() - begun
    begun = monotonic()
    with LogReader(path) as reader:
        minutes = reader.minutes(Point("c7"), BEGIN_MS, BEGIN_MS + round(days * DAY_S * 1000))
    print(f"{len(readings)} readings and {len(minutes)} minutes of one circuit")
    return ten, monotonic() - begun


def measure(path: Path, days: float, directory: Path) -> None:
    """Measure and print."""
    print(f"{path.stat().st_size / 1e9:.2f} GB, {days:g} days")
    ten, minutes = look_up(path, days)
    number = str(max(1, round(days)))
    figures = {
        "ten minutes": ten,
        "minutes": minutes,
        "review": min(command("review", path) for _ in range(2)),
        "report": min(command("report", path, "--incident", number, "-o", directory / "i.html") for _ in range(2)),
    }
    for name, seconds in figures.items():
        print(f"{name}: {seconds:.3f} s (limit {LIMITS[name]:g})")
    bare = min(command("--version") for _ in range(2))
    print(f"of a command, {bare:.3f} s is the start of the program")
    print(f"shift report: {command('report', path, '--shift', '-o', directory / 's.html'):.2f} s")
    print(f"fuel report: {command('report', path, '--fuel', '-o', directory / 'f.html'):.2f} s")


def main() -> None:
    """Make the log, measure, print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--days", type=float, default=14.0)
    parser.add_argument("--keep", type=Path, default=None)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as directory:
        path = options.keep or Path(directory) / "long.sqlite"
        if not path.exists():
            make(path, options.days)
        measure(path, options.days, Path(directory))


if __name__ == "__main__":
    main()
