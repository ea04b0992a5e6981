"""Measure how long a logger takes to know again what it had added up: 48 circuits at 1 Hz, two weeks in its log.

    python tests/bench/restart.py [DAYS]

The last ten minutes are readings through the real writer; the minutes before them are copied back over the days inside
SQLite, so that the log is small and has everything that a restart reads. The last line is a logger's own start with it.
"""

from __future__ import annotations

import sqlite3
import sys
import tempfile
from pathlib import Path
from time import process_time

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from drivers.clock import Instant, monotonic
from drivers.reading import Quality, Values
from monitor.engine.reading import Reading
from monitor.engine.watch import Watch
from monitor.log.reader import LogReader
from monitor.log.writer import LogWriter
from monitor.recorder.rebuild import rebuild
from tests.support.days.sets import Made, make

BEGIN_MS = 1_790_000_040_000
MINUTE_MS = 60_000
LIMIT_S = 2.0
LAST_S = 600


def main() -> None:
    """Make the log and measure."""
    days = int(sys.argv[1]) if len(sys.argv) > 1 else 14
    show = make(Made("120/240", "all", boxes=6, each=8))
    points = show.points()
    end_ms = BEGIN_MS + days * 86_400_000
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "long.sqlite"
        with LogWriter.open(path, show, Instant(BEGIN_MS, 0.0)) as writer:
            writer.write_cycle(_second(points, BEGIN_MS, 0), (), Instant(BEGIN_MS, 0.0))
            for second in range(LAST_S):
                at = Instant(end_ms + 1000 * second, 1.0 * second)
                writer.write_cycle(_second(points, at.wall_ms, second), (), at)
        _copy_back(path, days * 1440 - 1)
        watch = Watch(show)
        began, began_cpu = monotonic(), process_time()
        with LogReader(path) as reader:
            rebuild(watch, show, reader)
        took, cpu = monotonic() - began, process_time() - began_cpu
    running = watch.conditions.running
    print(f"{len(points)} points, {days} days: {took:.2f} s, {cpu:.2f} s of a core (limit {LIMIT_S:g})")
    print(f"known again: {running.kilowatt_hours if running else 0:.0f} kWh in {days} days")


def _second(points: frozenset[object] | tuple[object, ...], time_ms: int, second: int) -> list[Reading]:
    amps = 8.0 + second % 7 + 14.0 * (second % 120 < 50)  # now and then above the rating, so that heat has work
    values = Values(volts=119.0, amps=amps, hertz=60.0, watts=119.0 * amps)
    return [Reading(point, time_ms, time_ms / 1000, Quality.GOOD, values) for point in points]  # type: ignore[arg-type]


def _copy_back(path: Path, minutes: int) -> None:
    """Fill the minutes before the last ten with copies of a finished one."""
    db = sqlite3.connect(path)
    columns = [row[1] for row in db.execute("PRAGMA table_info(minute)")][1:]
    (whole,) = db.execute("SELECT max(minute) - 1 FROM minute").fetchone()
    first = BEGIN_MS // MINUTE_MS + 1
    db.execute(
        f"WITH RECURSIVE n(i) AS (SELECT ? UNION ALL SELECT i + 1 FROM n WHERE i < ?)"  # noqa: S608 - own columns
        f" INSERT OR IGNORE INTO minute SELECT i, {', '.join(columns)} FROM n, minute WHERE minute = ?",
        (first, first + minutes - 1, whole),
    )
    db.commit()
    db.close()


if __name__ == "__main__":
    main()
