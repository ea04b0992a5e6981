"""The last good samples of each point: what it reads, what it has settled at, and whether it is in service.

A poll that failed adds nothing: the last values stand for as long as they are live, and then all is forgotten. The
*settled* value is the middle one of the last three samples, so that neither a single odd sample nor meters read at
different moments of one change speak.

A point is *in service* once its volts have come up and stood steady; until then nobody's limits apply to them: a set
that runs up, a breaker that is being closed. How the volts were at that moment, with no load yet, is kept for the rule
about the wrong service.
"""

from __future__ import annotations

from collections import deque
from enum import Enum, auto
from typing import TYPE_CHECKING

from drivers.reading import Quality

if TYPE_CHECKING:
    from drivers.reading import Values
    from monitor.alarms.model import PointNow
    from monitor.show.model import Point

GONE = 0.10  # of nominal: less is no service (IEEE 1159's interruption)
POWERED = 0.50  # of nominal: less is neither here nor gone
KEPT = 18  # samples of settled volts and of amps; the longest ride through a start or a step needs 17
_MIDDLE = 3
_IDLE_AMPS = 1.0
_STEADY = 0.02  # of nominal: the spread of the last three samples
_COMING_MS = 4000  # volts stand for this long before they are in service (a judgement)
_LONGEST_MS = 60_000  # volts that never stand steady are taken as they are after this (a judgement)
_HEARD = (Quality.GOOD, Quality.IMPLAUSIBLE)


class Service(Enum):
    """Where the volts of a point are."""

    UNKNOWN = auto()
    GONE = auto()
    COMING = auto()
    IN = auto()


class Track:
    """One point.

    Args:
        point: which.
        nominal: volts as its meter sees them [V]; 0 for a neutral.

    Attributes:
        values: live values, or None.
        quality: of the last reading.
        volts: last good sample [V], or None.
        amps: last good sample [A], or None.
        settled_volts: middle of the last three [V]; None before the second.
        settled_amps: [A], likewise.
        settled_watts: [W], likewise.
        heard_ms: when the last good sample came [ms].
        new: whether a good sample came with this moment.
        service: where its volts are.
        first_volts: settled volts when it came into service with no load [V]; None where load was there first.

    """

    __slots__ = (
        "_amps", "_coming_ms", "_volts", "_watts", "amps", "first_volts", "heard_ms", "low", "new", "nominal", "point",
        "quality", "recent_amps", "recent_volts", "service", "settled_amps", "settled_volts", "settled_watts", "values",
        "volts",
    )  # fmt: skip

    def __init__(self, point: Point, nominal: float) -> None:
        self.point = point
        self.nominal = nominal
        self.low = GONE * nominal
        self.heard_ms = 0
        self._coming_ms = 0
        self.first_volts: float | None = None
        self.service = Service.UNKNOWN
        self.quality: Quality | None = None
        self._volts: deque[float] = deque(maxlen=_MIDDLE)
        self._amps: deque[float] = deque(maxlen=_MIDDLE)
        self._watts: deque[float] = deque(maxlen=_MIDDLE)
        self.recent_volts: deque[float] = deque(maxlen=KEPT)
        self.recent_amps: deque[float] = deque(maxlen=KEPT)
        self.forget()

    def forget(self) -> None:
        """Forget every sample: nothing is known of the time between the last one and the next."""
        self.values: Values | None = None
        self.new = False
        self.volts: float | None = None
        self.amps: float | None = None
        self.settled_volts: float | None = None
        self.settled_amps: float | None = None
        self.settled_watts: float | None = None
        for samples in (self._volts, self._amps, self._watts, self.recent_volts, self.recent_amps):
            samples.clear()

    def take(self, now: PointNow, time_ms: int) -> None:
        """Take what is known of the point at one moment."""
        self.quality = now.quality
        values = now.values
        if values is None:
            if self.values is not None:
                self.forget()
            self.new = False
            return
        self.new = self.values is None or (now.fresh and now.quality in _HEARD)
        if not self.new:
            return
        self.values = values
        self.heard_ms = time_ms
        self.volts, self.settled_volts = _add(self._volts, values.volts)
        self.amps, self.settled_amps = _add(self._amps, values.amps)
        self.settled_watts = _add(self._watts, values.watts)[1]
        if self.settled_volts is not None:
            self.recent_volts.append(self.settled_volts)
        if values.amps is not None:
            self.recent_amps.append(values.amps)

    def serve(self, time_ms: int, *, at_speed: bool) -> None:
        """Follow the volts into and out of service; ``at_speed`` is False while the source's hertz are still coming."""
        if self.volts is None or not self.nominal:
            return
        if self.volts < self.low:
            self.service = Service.GONE
            self.first_volts = None
        elif self.service is not Service.IN:
            self._come(time_ms, at_speed=at_speed)

    def _come(self, time_ms: int, *, at_speed: bool) -> None:
        if self.service is not Service.COMING:
            self.service, self._coming_ms = Service.COMING, time_ms
        waited = time_ms - self._coming_ms
        loaded = self.settled_amps is not None and self.settled_amps > _IDLE_AMPS
        steady = len(self._volts) == _MIDDLE and max(self._volts) - min(self._volts) <= _STEADY * self.nominal
        if loaded or (steady and at_speed and waited >= _COMING_MS) or waited >= _LONGEST_MS:
            self.service = Service.IN
            self.first_volts = None if loaded else self.settled_volts

    @property
    def serving_volts(self) -> float | None:
        """Settled volts while they are in service [V]."""
        return self.settled_volts if self.service is Service.IN else None

    def lowest_amps(self, samples: int) -> float | None:
        """Give the lowest of the last samples [A]."""
        return min(list(self.recent_amps)[-samples:]) if self.recent_amps else None


def _add(samples: deque[float], value: float | None) -> tuple[float | None, float | None]:
    """Add a sample; give it and the middle one; a sample without this quantity forgets it."""
    if value is None:
        samples.clear()
        return None, None
    samples.append(value)
    if len(samples) == _MIDDLE:
        first, second, _ = samples
        low, high = (first, second) if first < second else (second, first)
        return value, low if value < low else min(value, high)
    return value, (samples[0] + value) / 2 if len(samples) > 1 else None
