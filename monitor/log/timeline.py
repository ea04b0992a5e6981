"""The log's clock: wall time that never goes back.

A small computer without a battery clock starts in 1970 or at its last shutdown and gets its time late; people and
network time move clocks both ways. A log whose times run backwards can't be sorted, averaged or believed, so:

- The log's time goes on with the monotonic clock and follows the wall clock smoothly while the two differ by at
  most ``STEP_MS``: it runs up to ``SLEW`` faster or slower, never backwards.
- The wall clock steps forward: the log's time jumps after it. The jump is told.
- The wall clock steps back: the log's time goes on as if nothing had been, ahead of the wall clock by the step,
  and keeps that lead. The step is told.
- A later step forward uses up the lead first.
- After a restart the log's time goes on after the last time in the log, however the wall clock stands.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from drivers.clock import Instant

STEP_MS = 1_000.0  # a difference above this is a step, below it drift [ms]
SLEW = 0.05  # fastest correction of drift: 50 ms a second


@dataclass(frozen=True, slots=True)
class ClockStep:
    """The wall clock was moved.

    Attributes:
        seconds: how far, against the monotonic clock: positive forward, negative back [s].
        ahead_s: how far the log's time is ahead of the wall clock from now on [s]; 0 where it follows it.

    """

    seconds: float
    ahead_s: float

    def __str__(self) -> str:
        """Give one plain sentence."""
        way = "forward" if self.seconds > 0 else "back"
        said = f"the computer's clock was set {way} by {abs(self.seconds):.1f} s"
        return f"{said}; times in this log are {self.ahead_s:.1f} s ahead of it" if self.ahead_s else said


class Timeline:
    """Turns instants into the log's time.

    Args:
        last_ms: the last time in the log [ms since 1970 UTC], None for a new log.

    """

    def __init__(self, last_ms: int | None = None) -> None:
        self.last_ms = last_ms
        """The last time given, or that of the log; None for a new log."""
        self._log_ms = 0.0  # the log's time at ``_mono_s``
        self._mono_s: float | None = None
        self._lead_ms = 0.0  # how far the log's time stays ahead of the wall clock
        self.offset_ms = 0
        """The log's time less the wall clock, at the last stamp [ms]."""

    def stamp(self, instant: Instant) -> tuple[int, ClockStep | None]:
        """Give the log's time at ``instant`` [ms since 1970 UTC], and the step of the wall clock that it showed.

        Every time given is later than the one before. Stamp instants in the order of their monotonic clock; one
        that is older than another stamped before gets a time just after it.
        """
        step = None
        if self._mono_s is None:
            step = self._start(instant)
        elif instant.mono_s > self._mono_s:
            step = self._go_on(instant, (instant.mono_s - self._mono_s) * 1000.0)
        time_ms = round(self._log_ms)
        if self.last_ms is not None:
            time_ms = max(time_ms, self.last_ms + 1)
        self.last_ms = time_ms
        return time_ms, step

    def _start(self, instant: Instant) -> ClockStep | None:
        """Set the first time: the wall clock, or just after the end of the log where the clock stands before it."""
        self._mono_s = instant.mono_s
        self._log_ms = float(instant.wall_ms)
        behind_ms = 0.0 if self.last_ms is None else self.last_ms + 1.0 - instant.wall_ms
        if behind_ms <= 0.0:
            return None
        self._log_ms += behind_ms
        self.offset_ms = round(behind_ms)
        return self._lead(-behind_ms, behind_ms) if behind_ms > STEP_MS else None

    def _go_on(self, instant: Instant, passed_ms: float) -> ClockStep | None:
        """Move on by ``passed_ms`` of the monotonic clock and look where the wall clock stands."""
        self._mono_s = instant.mono_s
        self._log_ms += passed_ms
        drift_ms = instant.wall_ms + self._lead_ms - self._log_ms
        step = None
        if abs(drift_ms) > STEP_MS:
            self._log_ms = max(self._log_ms, float(instant.wall_ms))
            step = self._lead(drift_ms, self._log_ms - instant.wall_ms)
        else:
            most_ms = SLEW * passed_ms
            self._log_ms += min(max(drift_ms, -most_ms), most_ms)
        self.offset_ms = round(self._log_ms) - instant.wall_ms
        return step

    def _lead(self, moved_ms: float, lead_ms: float) -> ClockStep:
        """Keep a new lead over the wall clock; one too small to be a step is left to be worked off as drift."""
        self._lead_ms = lead_ms if lead_ms > STEP_MS else 0.0
        return ClockStep(moved_ms / 1000.0, self._lead_ms / 1000.0)
