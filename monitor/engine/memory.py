"""What is remembered of each point: its last reading, and the last one that carried values."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from statistics import median
from typing import TYPE_CHECKING

from monitor.engine.snapshot import Freshness, Measured

if TYPE_CHECKING:
    from collections.abc import Iterable

    from monitor.engine.reading import Reading
    from monitor.show.model import Point

_APART_S, _MINUTE_S = 5.0, 60.0  # between two amps that are kept for the trend; what the trend is over
_FEW = 3  # of them make one end of it, by their median
_LEAST_S = 45.0  # between the ends, else nothing is said
PRIMARY = ("volts", "amps", "hertz", "watts")


def carries_values(reading: Reading) -> bool:
    """Say whether at least one of volts, amps, hertz and watts was measured."""
    return any(getattr(reading.values, name) is not None for name in PRIMARY)


@dataclass(slots=True)
class PointMemory:
    """The last reading of one point, good or not, and the last one with values.

    Attributes:
        last: the newest reading, or None.
        valued: the newest reading that carries values, or None.
        minute: (monotonic time [s], amps [A]) every few seconds of about the last minute.

    """

    last: Reading | None = None
    valued: Reading | None = None
    minute: deque[tuple[float, float]] = field(default_factory=lambda: deque(maxlen=int(_MINUTE_S / _APART_S) + 1))

    def take(self, reading: Reading) -> bool:
        """Take a reading; give False for one that is not newer than what is known (read twice)."""
        if self.last is not None and reading.time_ms <= self.last.time_ms:
            return False
        self.last = reading
        if carries_values(reading):
            self.valued = reading
            amps = reading.values.amps
            if amps is not None and (not self.minute or reading.mono_s - self.minute[-1][0] >= _APART_S):
                self.minute.append((reading.mono_s, amps))
        return True

    def over_minute(self, now_s: float) -> float | None:
        """Give the newest amps less those of a minute ago [A]; None unless both are known at ``now_s`` [s].

        Both ends are medians, so that one odd reading is no trend: where the newest reading and those of the last
        seconds don't agree, the smaller change counts, and where they go different ways, none.
        """
        while self.minute and now_s - self.minute[0][0] > _MINUTE_S + _APART_S:
            self.minute.popleft()
        newest = None if self.valued is None else self.valued.values.amps
        if newest is None or len(self.minute) < 2 * _FEW or self.minute[-1][0] - self.minute[0][0] < _LEAST_S:
            return None
        kept = [amps for _, amps in self.minute]
        before = median(kept[:_FEW])
        of_late, now = median(kept[-_FEW:]) - before, newest - before
        return min(of_late, now, key=abs) if of_late * now > 0 else 0.0

    def measured(self, now_s: float, old_after_s: float) -> Measured:
        """Give what may be shown at ``now_s`` [s, monotonic]; values older than ``old_after_s`` [s] are OLD."""
        if self.last is None:
            return Measured(Freshness.NEVER)
        last = self.last
        if self.valued is None:
            return Measured(Freshness.NEVER, quality=last.quality, detail=last.detail)
        age = max(0.0, now_s - self.valued.mono_s)
        values = self.valued.values
        return Measured(
            freshness=Freshness.LIVE if age <= old_after_s else Freshness.OLD,
            age_s=age,
            quality=last.quality,
            detail=last.detail,
            volts=values.volts,
            amps=values.amps,
            hertz=values.hertz,
            watts=values.watts,
            power_factor=values.power_factor,
        )


UNMETERED = Measured(Freshness.UNMETERED)


@dataclass(slots=True)
class Memories:
    """The memory of every point of a show."""

    of: dict[Point, PointMemory] = field(default_factory=dict)

    @classmethod
    def for_points(cls, points: Iterable[Point]) -> Memories:
        """Make an empty memory for each point."""
        return cls({point: PointMemory() for point in points})

    def take(self, readings: Iterable[Reading]) -> None:
        """Take readings, in any grouping; points that the show does not know are passed over."""
        for reading in readings:
            memory = self.of.get(reading.point)
            if memory is not None:
                memory.take(reading)

    def measured(self, point: Point, now_s: float, old_after_s: float) -> Measured:
        """Give what may be shown of ``point``; UNMETERED where no meter measures it."""
        memory = self.of.get(point)
        return UNMETERED if memory is None else memory.measured(now_s, old_after_s)

    def over_minute(self, points: Iterable[Point], now_s: float) -> float | None:
        """Give the largest change of amps over the last minute at any of these points [A], with its sign, or None."""
        known = (self.of[point].over_minute(now_s) for point in points if point in self.of)
        return max((change for change in known if change is not None), key=abs, default=None)
