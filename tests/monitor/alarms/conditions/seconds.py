"""Readings of single points, second by second, for the conditions; no wires behind them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from drivers.reading import Quality, Values
from monitor.alarms.conditions import Conditions
from monitor.alarms.judge import Judge
from monitor.alarms.model import Now, PointNow
from monitor.show.model import Point

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from monitor.alarms.model import Observation
    from monitor.show.model import Show

BEGIN_MS = 1_790_000_000_000


def at(point: str) -> Point:
    """Give a point by its name."""
    place, _, leg = point.partition("/")
    return Point(place, leg)


class Seconds:
    """A show, watched second by second.

    Attributes:
        seen: the observations of the last second, by code and place.
        raised: (second, code, where) of every alarm raised.

    """

    def __init__(self, show: Show) -> None:
        self.conditions = Conditions(show)
        self.judge = Judge(show)
        self.seen: dict[tuple[str, str], Observation] = {}
        self.raised: list[tuple[int, str, str]] = []
        self.second = -1
        self._known = dict.fromkeys(show.points(), PointNow())

    def second_of(
        self,
        rows: Mapping[str, tuple[float | None, float | None]],
        hertz: float | None = 60.0,
        *,
        resumed: bool = False,
    ) -> None:
        """Show one second: (volts [V], amps [A]) of each point that was read; the others are silent."""
        points = {}
        for point in self._known:
            if str(point) in rows:
                volts, amps = rows[str(point)]
                watts = None if volts is None or amps is None else volts * amps
                values = Values(volts=volts, amps=amps, hertz=hertz, watts=watts)
                points[point] = PointNow(values, Quality.GOOD, "", 0.0, fresh=True)
            else:
                points[point] = PointNow(None, Quality.SILENT, "", None, fresh=True)
        self.moment(points, resumed=resumed)

    def moment(self, points: Mapping[Point, PointNow], *, resumed: bool = False) -> None:
        """Show one second as it is."""
        self.second += 1
        now = Now(BEGIN_MS + 1000 * self.second, points, resumed=resumed or self.second == 0)
        found = self.conditions.observe(now)
        self.seen = {(seen.code, seen.where): seen for seen in found}
        assert len(self.seen) == len(found)
        for change in self.judge.judge(found, now):
            if change.alarm.state == "unacknowledged" and change.before != change.alarm.state:
                self.raised.append((self.second, change.alarm.code, change.alarm.where))

    def rows(
        self,
        rows: Iterable[Mapping[str, tuple[float | None, float | None]]],
        hertz: float | None = 60.0,
    ) -> list[tuple[str, str]]:
        """Show several seconds; give what was raised in them, as (code, where)."""
        before = len(self.raised)
        for row in rows:
            self.second_of(row, hertz)
        return sorted((code, where) for _, code, where in self.raised[before:])

    def value(self, code: str, where: str) -> float | None:
        """Give what one rule sees at one place now."""
        return self.seen[code, where].value
