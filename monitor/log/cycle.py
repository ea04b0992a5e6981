"""What one cycle's readings mean for the log; pure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from monitor.log.gaps import Gap, Trail, follow
from monitor.log.problems import LogProblem
from monitor.log.resume import MINUTE_MS
from monitor.log.scaled import scale, to_row

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from monitor.engine.reading import Reading
    from monitor.log.scaled import Row
    from monitor.show.model import Point


@dataclass(frozen=True, slots=True)
class Plan:
    """What is to be written, and the state once it is.

    Attributes:
        readings: oldest first.
        gaps: that begin or end, in that order.
        trails: of the points that were read.
        minute: the minute of the newest reading so far [minutes since 1970 UTC]; all before it are finished.

    """

    readings: tuple[Reading, ...]
    gaps: tuple[Gap, ...]
    trails: dict[Point, Trail]
    minute: int

    def rows(self, ids: Mapping[Point, int]) -> list[Row]:
        """Give the rows of table ``reading``."""
        return [to_row(reading, ids[reading.point]) for reading in self.readings]

    def counters(self, ids: Mapping[Point, int]) -> dict[tuple[int, int], int]:
        """Give (minute, point's id) -> the meter's own energy counter, the last in that minute [0.1 Wh]."""
        return {
            (reading.time_ms // MINUTE_MS, ids[reading.point]): raw
            for reading in self.readings
            if (raw := scale(reading.values.watt_hours, 10)) is not None
        }


def plan(readings: Sequence[Reading], trails: Mapping[Point, Trail], minute: int, hold_ms: int) -> Plan:
    """Work out one cycle.

    Args:
        readings: in any order.
        trails: of every point read so far.
        minute: the minute of the newest reading so far; readings before it come too late.
        hold_ms: see ``monitor.log.gaps.follow``.

    Raises:
        LogProblem: a reading is not later than the last one of its point, or its minute is finished.

    """
    ordered = tuple(sorted(readings, key=lambda reading: reading.time_ms))
    after: dict[Point, Trail] = {}
    gaps: list[Gap] = []
    for reading in ordered:
        before = after.get(reading.point) or trails.get(reading.point)
        if reading.time_ms < minute * MINUTE_MS or (before and reading.time_ms <= before.last_ms):
            raise _too_old(reading)
        after[reading.point], changed = follow(before, reading, hold_ms)
        gaps.extend(changed)
    newest = ordered[-1].time_ms // MINUTE_MS if ordered else minute
    return Plan(ordered, tuple(gaps), after, newest)


def _too_old(reading: Reading) -> LogProblem:
    time = datetime.fromtimestamp(reading.time_ms / 1000, UTC).isoformat(timespec="milliseconds")
    return LogProblem(
        "order",
        f"the log already holds readings of {reading.point} or whole minutes later than {time}: "
        "older readings can't be added; write them to a new file",
    )
