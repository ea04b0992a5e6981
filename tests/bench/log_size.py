"""Measure the log: bytes a reading, and KiB written a 48-row commit. Prints; run it by hand.

    python tests/bench/log_size.py [HOURS] [--directory DIR]

48 points on 16 meters at 1 Hz, each meter at its own moment, with volts, amps, hertz and watts that wander like
those of a set. What is written is what Linux counts for this process in /proc/self/io (``write_bytes``: pages made
dirty, the WAL, its checkpoints and all), so take a directory on a disk, not on a tmpfs, where nothing is counted.
An hour of log takes about 5 s.
"""

from __future__ import annotations

import argparse
import random
import sqlite3
import tempfile
from pathlib import Path

from drivers.clock import Instant, monotonic
from drivers.reading import Quality, Values
from monitor.engine.reading import Reading
from monitor.log.writer import LogWriter
from monitor.show.model import Point, Show, Source

METERS, CHANNELS = 16, 3
BEGIN_MS = 1_790_000_000_000
LIMIT_BYTES, LIMIT_KIB = 34.0, 20.0


def written() -> int:
    """Give what this process has had written so far [bytes]."""
    lines = Path("/proc/self/io").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("write_bytes"))


def cycle(second: int, chance: random.Random) -> list[Reading]:
    """Make the 48 readings of one second."""
    readings = []
    time_ms = BEGIN_MS + 1000 * second
    for meter in range(METERS):
        time_ms += chance.randint(5, 40)
        for channel in range(CHANNELS):
            amps = chance.uniform(0.1, 18.0)
            values = Values(chance.gauss(119.0, 1.5), amps, chance.gauss(60.0, 0.1), amps * 119.0 * 0.96)
            point = Point(f"c{meter * CHANNELS + channel}")
            readings.append(Reading(point, time_ms, time_ms / 1000.0, Quality.GOOD, values))
    return readings


def measure(path: Path, hours: float) -> tuple[float, float, float, float]:
    """Write ``hours`` of log.

    Returns:
        bytes a reading in table ``reading``; bytes a reading of the whole file; KiB written a commit; CPU and waiting
        a commit [ms].

    """
    source = Source("set", "generator", "120/240", 60.0)
    show = Show("bench", "north-america", "UTC", source, (), (), (), (), {})
    chance = random.Random(1)
    seconds = round(hours * 3600)
    spent = 0.0
    with LogWriter.open(path, show, Instant(BEGIN_MS, BEGIN_MS / 1000.0)) as writer:
        before = written()
        for second in range(seconds):
            readings = cycle(second, chance)
            begun = monotonic()
            writer.write_cycle(readings, (), Instant(readings[-1].time_ms, readings[-1].mono_s))
            spent += monotonic() - begun
        wrote = written() - before
    count = seconds * METERS * CHANNELS
    with sqlite3.connect(path) as db:
        (page,) = db.execute("PRAGMA page_size").fetchone()
        (pages,) = db.execute("SELECT count(*) FROM dbstat WHERE name = 'reading'").fetchone()
    return page * pages / count, path.stat().st_size / count, wrote / 1024 / seconds, 1000 * spent / seconds


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("hours", type=float, nargs="?", default=1.0)
    parser.add_argument("--directory", type=Path, default=None)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=options.directory) as directory:
        table, whole, kib, commit_ms = measure(Path(directory) / "bench.sqlite", options.hours)
    print(f"bytes a reading: {table:.1f} in its table, {whole:.1f} with everything (limit {LIMIT_BYTES:.0f})")
    print(f"written a 48-row commit: {kib:.1f} KiB (limit {LIMIT_KIB:.0f}); time {commit_ms:.2f} ms")


if __name__ == "__main__":
    main()
