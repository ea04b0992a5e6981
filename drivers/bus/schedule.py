"""Whose turn it is on a bus. Pure: every time is an argument, in seconds on the monotonic clock.

A meter that answers is due every interval; where the line can't keep up, the one that has waited longest comes
first. A meter that does not answer is asked after 1, 2, 4, 4 ... seconds, and however many such meters there
are, they get no more of the bus than the others need left: after one of them has taken its time, the others
have the bus for as long.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

FIRST_BACKOFF_S = 1.0
LONGEST_BACKOFF_S = 4.0
"""With the time of one poll on top a meter that is back is read within 5 s."""


@dataclass(slots=True)
class _Turn:
    due_s: float
    missed: int = 0  # polls without an answer, in a row


@dataclass(slots=True)
class Schedule:
    """The turns of a bus's meters.

    Attributes:
        units: unit numbers.
        interval_s: wanted time from poll to poll [s]; 0 is as fast as the line goes.
        start_s: when the first poll is due [s].

    """

    units: Sequence[int]
    interval_s: float
    start_s: float
    _turns: dict[int, _Turn] = field(init=False)
    _retry_after_s: float = field(init=False)

    def __post_init__(self) -> None:
        """Make everyone due at the start."""
        self.begin(self.start_s)

    def begin(self, now_s: float) -> None:
        """Make everyone due now, at the start and when the port has come back."""
        self._turns = {unit: _Turn(now_s) for unit in self.units}
        self._retry_after_s = now_s

    def next(self, now_s: float) -> tuple[int, float]:
        """Give whose turn is next and how long to wait for it [s] (0: it is due now)."""
        unit = min(self._turns, key=lambda one: self._from(self._turns[one]))
        return unit, max(0.0, self._from(self._turns[unit]) - now_s)

    def done(self, unit: int, begun_s: float, now_s: float, *, answered: bool) -> None:
        """Note a poll of ``unit`` that began at ``begun_s`` and ended at ``now_s``."""
        turn = self._turns[unit]
        if answered:
            turn.missed = 0
            turn.due_s = max(turn.due_s + self.interval_s, now_s)
            return
        backoff_s = min(FIRST_BACKOFF_S * 2**turn.missed, LONGEST_BACKOFF_S)
        turn.missed = min(turn.missed + 1, 8)
        turn.due_s = now_s + max(backoff_s, self.interval_s)
        self._retry_after_s = now_s + (now_s - begun_s)

    def _from(self, turn: _Turn) -> float:
        return max(turn.due_s, self._retry_after_s) if turn.missed else turn.due_s
