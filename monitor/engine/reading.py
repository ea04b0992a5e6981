"""A reading: what one point measured at one moment, with two clocks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from drivers.reading import Quality, Values

if TYPE_CHECKING:
    from monitor.show.model import Point


@dataclass(frozen=True, slots=True)
class Reading:
    """One point at one moment.

    Attributes:
        point: where.
        time_ms: the log's clock: milliseconds since 1970 UTC, never going back (see ``monitor.log.timeline``).
        mono_s: monotonic clock [s], for durations; in a replay or an attached screen it is ``time_ms / 1000``.
        quality: ``good``, or why not.
        values: SI units; None is "not measured".
        detail: the reason in plain words, empty when good.

    """

    point: Point
    time_ms: int
    mono_s: float
    quality: Quality
    values: Values
    detail: str = ""


__all__ = ["Quality", "Reading", "Values"]
