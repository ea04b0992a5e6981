"""The one file that asks for the time. Everything else is given an ``Instant``."""

from __future__ import annotations

import time
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Instant:
    """One moment on two clocks.

    Attributes:
        wall_ms: wall clock, integer milliseconds since 1970 UTC; may step in either direction.
        mono_s: monotonic clock [s]; never steps, has no date. Use it for every duration.

    """

    wall_ms: int
    mono_s: float


def now() -> Instant:
    """Read both clocks."""
    return Instant(time.time_ns() // 1_000_000, time.monotonic())


def monotonic() -> float:
    """Read the monotonic clock [s]."""
    return time.monotonic()
