"""A writer beside screens that read its log, one of them stuck in a read."""

from __future__ import annotations

import sqlite3
import time
from dataclasses import dataclass, replace
from pathlib import Path
from statistics import median

from monitor.log.reader import LogReader
from monitor.show.model import Point
from tests.monitor.log.logs import SHOW, keep, opened, reading
from tests.support.shows import circuit, show

POINTS = 48
_LARGE = replace(show(*(circuit(f"A{n}") for n in range(POINTS))), text=SHOW.text)


@dataclass(frozen=True)
class Beside:
    """What was measured.

    Attributes:
        committed: cycles.
        commit_ms: middle commit with the stuck reader [ms].
        alone_ms: the same before there was any reader [ms].
        wal_stuck: largest WAL while the reader was stuck [bytes].
        wal_after: the WAL some cycles after it had ended [bytes].

    """

    committed: int
    commit_ms: float
    alone_ms: float
    wal_stuck: int
    wal_after: int


def write_beside_screens(log: Path, screens: int, cycles: int) -> Beside:
    """Write ``cycles`` cycles of 48 readings: a tenth alone, most with screens and one stuck, then a tenth without."""
    wal, points = Path(f"{log}-wal"), [Point(f"A{n}") for n in range(POINTS)]
    took_ms: list[float] = []
    largest = 0
    with opened(log, given=_LARGE) as writer:

        def write(begin: int, end: int, readers: list[LogReader]) -> None:
            nonlocal largest
            for second in range(begin, end):
                begun_s = time.perf_counter()
                keep(writer, *(reading(second, point) for point in points))
                took_ms.append(1000 * (time.perf_counter() - begun_s))
                for reader in readers if second % 10 == 0 else ():
                    reader.readings_since(reading(second - 2).time_ms)
                largest = max(largest, wal.stat().st_size)

        tenth = max(1, cycles // 10)
        write(0, tenth, [])
        stuck = sqlite3.connect(f"file:{log}?mode=ro", uri=True, isolation_level=None)
        stuck.execute("BEGIN")
        stuck.execute("SELECT count(*) FROM reading").fetchone()
        readers = [LogReader(log) for _ in range(screens)]
        write(tenth, cycles - tenth, readers)
        stuck.close()
        write(cycles - tenth, cycles, readers)
        with LogReader(log) as after:
            committed = len(after.readings_between(points[0], 0, 2**53))
        wal_after = wal.stat().st_size
        for reader in readers:
            reader.close()
    return Beside(committed, median(took_ms[tenth:-tenth]), median(took_ms[:tenth]), largest, wal_after)
