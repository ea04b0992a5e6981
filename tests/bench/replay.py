"""Print how many readings a second `replay` takes: 48 circuits at 1 Hz, from CSV to the log, judged as live.

The processor's time is counted, not the clock's; memory before and after tells whether it grows with the file.
Run: python tests/bench/replay.py [SECONDS OF THE RECORDING]
"""

from __future__ import annotations

import resource
import sys
import tempfile
from pathlib import Path
from random import Random
from time import process_time
from typing import TYPE_CHECKING

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from monitor.review.readings_csv import read_rows
from monitor.review.replay import replay
from monitor.show.loading import load_show_text
from tests.bench.logger_cpu import show_text

if TYPE_CHECKING:
    from collections.abc import Iterator

LIMIT = 100_000


def rows(points: list[str], seconds: int) -> Iterator[str]:
    """Give the lines of a recording, one reading a second and point."""
    chance = Random(3)
    yield "time,point,volts,amps,hertz,watts\n"
    for second in range(seconds):
        clock = f"2026-11-2{5 + second // 86400}T{second // 3600 % 24:02d}:{second // 60 % 60:02d}:{second % 60:02d}"
        for number, point in enumerate(points):
            volts, amps, watts = 119 + chance.random(), 9 + chance.random(), 1100 + chance.random()
            yield f"{clock}.{10 * number:03d}Z,{point},{volts:.2f},{amps:.3f},60.01,{watts:.1f}\n"


def main() -> None:
    """Measure and print."""
    seconds = int(sys.argv[1]) if len(sys.argv) > 1 else 1800
    show = load_show_text(show_text([Path("/dev/one"), Path("/dev/two")]), "bench", (), with_maps=False)
    points = [str(point) for point in show.points()]
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    making = process_time()
    for _ in rows(points, seconds):
        pass
    making = process_time() - making
    with tempfile.TemporaryDirectory() as name:
        began = process_time()
        done = replay(show, read_rows(rows(points, seconds), show, print), Path(name) / "r.sqlite", lambda _: None)
        took = process_time() - began - making
    grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
    print(f"{done:,} readings, {done / took:,.0f} a second of a core (goal {LIMIT:,}), {grown:.0f} MiB more")


if __name__ == "__main__":
    main()
