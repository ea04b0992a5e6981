"""Whose turn it is on a bus. Pure: every time is an argument, in seconds on the monotonic clock.

A meter that answers is due every interval; where the line can't keep up, the one that has waited longest comes
first. A meter that does not answer is asked after 1, 2, 3.5, 3.5 ... seconds, and however many such meters there
are, they get no more of the bus than the others need left: after one of them has taken its time, the others
have the bus for as long.

A line that can't keep up serves *urgent* meters out of turn, each up to ``URGENT_TIMES`` an interval, but after each
such poll the others have the line for as long: nobody waits more than twice as long for an urgent one's sake.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

FIRST_BACKOFF_S = 1.0
LONGEST_BACKOFF_S = 3.5
"""With the time of two polls on top a meter that is back is read within 5 s."""
URGENT_TIMES = 4
"""Polls of an urgent meter within one interval, at most (a judgement)."""


@dataclass(slots=True)
class _Turn:
    due_s: float
    begun_s: float = float("-inf")
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
    _others_until_s: float = field(init=False)
    _jumped: int | None = None  # the meter whose poll is under way out of turn

    def __post_init__(self) -> None:
        """Make everyone due at the start."""
        self.begin(self.start_s)

    def begin(self, now_s: float) -> None:
        """Make everyone due now, at the start and when the port has come back."""
        self._turns = {unit: _Turn(now_s) for unit in self.units}
        self._retry_after_s = self._others_until_s = now_s

    def next(self, now_s: float, urgent: Collection[int] = ()) -> tuple[int, float]:
        """Give whose turn is next and how long to wait for it [s] (0: it is due now)."""
        unit = min(self._turns, key=lambda one: self._from(self._turns[one]))
        wait_s = self._from(self._turns[unit]) - now_s
        if urgent and wait_s < 0 and unit not in urgent and now_s >= self._others_until_s:
            unit = self._out_of_turn(unit, now_s, urgent)
        return unit, max(0.0, wait_s)

    def _out_of_turn(self, unit: int, now_s: float, urgent: Collection[int]) -> int:
        """Give the urgent meter that was asked longest ago, if that is long enough, else the one whose turn it is."""
        answering = [one for one in urgent if one in self._turns and not self._turns[one].missed]
        if not answering:
            return unit
        first = min(answering, key=lambda one: self._turns[one].begun_s)
        if now_s - self._turns[first].begun_s < self.interval_s / URGENT_TIMES:
            return unit
        self._jumped = first
        return first

    def done(self, unit: int, begun_s: float, now_s: float, *, answered: bool) -> None:
        """Note a poll of ``unit`` that began at ``begun_s`` and ended at ``now_s``."""
        turn = self._turns[unit]
        if unit == self._jumped:
            self._others_until_s = now_s + (now_s - begun_s)
        self._jumped = None
        turn.begun_s = begun_s
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
