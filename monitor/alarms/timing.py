"""On-delay, off-delay and deadband: from one value a moment to "holds" and "has gone".

The on-delay counts only over moments without a break in which the value is known and beyond the limit. Once a
condition holds, it goes when the value has stood clear of the limit by the deadband for the whole off-delay; a value
between the two starts the off-delay anew, an unknown value stops it where it is. After a pause in which nothing was
looked at, both start anew: so the alarms as they stand are all that a restart needs.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, auto
from math import inf, isnan
from typing import TYPE_CHECKING

from monitor.alarms.rules import Side

if TYPE_CHECKING:
    from monitor.alarms.model import Observation

_ROUNDING = 1e-9


class Look(Enum):
    """What one value says."""

    BEYOND = auto()  # the condition is seen
    BETWEEN = auto()  # inside the limit, by less than the deadband
    CLEAR = auto()  # inside the limit by the deadband or more
    UNKNOWN = auto()


@dataclass(frozen=True, slots=True)
class Timing:
    """How one rule is timed at one place.

    Attributes:
        side: on which side of the limit its condition lies.
        on_ms: on-delay [ms].
        off_ms: off-delay [ms].
        deadband: part of the limit [1].

    """

    side: Side
    on_ms: float
    off_ms: float
    deadband: float = 0.0

    def look(self, seen: Observation) -> Look:
        """Say what one observation's value says."""
        value = seen.value
        if value is None or isnan(value):
            return Look.UNKNOWN
        if self.side is Side.STATE:
            return Look.BEYOND if value > 0 else Look.CLEAR
        inside = seen.limit - value if self.side is Side.ABOVE else value - seen.limit
        if inside < 0:
            return Look.BEYOND
        return Look.CLEAR if inside >= self.deadband * abs(seen.limit) else Look.BETWEEN

    def clear_span(self, limit: float) -> tuple[float, float]:
        """Give the lowest and highest value, in the rule's unit, that stand clear of a limit for certain."""
        if self.side is Side.STATE:
            return -inf, 0.0
        inside = self.deadband * abs(limit) + _ROUNDING * abs(limit)
        return (-inf, limit - inside) if self.side is Side.ABOVE else (limit + inside, inf)


@dataclass(slots=True)
class Clock:
    """The two delays of one alarm.

    Attributes:
        beyond_since_ms: first moment of the on-delay that runs [ms], or None.
        clear_ms: how much of the off-delay has run [ms].
        clear_at_ms: the moment before, where the value stood clear at it [ms], or None.

    """

    beyond_since_ms: int | None = None
    clear_ms: int = 0
    clear_at_ms: int | None = None

    def start_anew(self) -> None:
        """Forget what has run."""
        self.beyond_since_ms, self.clear_ms, self.clear_at_ms = None, 0, None

    def on(self, look: Look, time_ms: int) -> int | None:
        """Count the on-delay; give how long the condition has been seen without a break [ms], None where it isn't."""
        if look is not Look.BEYOND:
            self.beyond_since_ms = None
            return None
        if self.beyond_since_ms is None:
            self.beyond_since_ms = time_ms
        return time_ms - self.beyond_since_ms

    def off(self, look: Look, time_ms: int) -> int | None:
        """Count the off-delay; give how long the value has stood clear [ms], None where it doesn't."""
        if look is Look.CLEAR:
            self.clear_ms += 0 if self.clear_at_ms is None else time_ms - self.clear_at_ms
            self.clear_at_ms = time_ms
            return self.clear_ms
        self.clear_at_ms = None
        if look is not Look.UNKNOWN:
            self.clear_ms = 0
        return None
