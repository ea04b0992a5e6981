"""How long to wait for a meter that sends by itself before it is called silent. Pure.

Such meters send as often as they like: a board four times a second, a telegram once a second or once in ten. The
wait follows what was seen: two and a half of the shortest spacing lately, within bounds.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field

_SPACINGS = 2.5
"""One message may be lost before the meter is called silent."""
LONGEST_S = 30.0
"""No meter that is read for the load on breakers sends less often than every twelve seconds (a judgement)."""


@dataclass(slots=True)
class Patience:
    """Times are on the monotonic clock [s].

    Attributes:
        least_s: never call it silent sooner than this [s].
        first_s: how long to wait for the first message [s].
        since_s: when waiting began, or the last message came.

    """

    least_s: float
    first_s: float
    since_s: float
    _heard: bool = False
    _spacings: deque[float] = field(default_factory=lambda: deque(maxlen=5))

    def heard(self, now_s: float) -> None:
        """Note a message."""
        if self._heard:
            self._spacings.append(now_s - self.since_s)
        self._heard, self.since_s = True, now_s

    def restart(self, now_s: float) -> None:
        """Begin to wait anew: the stream was opened, or a silence was told."""
        self.since_s, self._heard = now_s, False

    @property
    def wait_s(self) -> float:
        """How long after the last message the meter is silent [s]."""
        if not self._spacings:
            return max(self.first_s, self.least_s)
        return max(self.least_s, min(_SPACINGS * min(self._spacings), LONGEST_S))

    def over(self, now_s: float) -> bool:
        """Say whether it is silent."""
        return now_s - self.since_s >= self.wait_s
