"""One alarm from moment to moment: its state, its delays, and what it tells."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from monitor.alarms.lifecycle import ACTIVE, NAMED, Event, State, after
from monitor.alarms.model import Alarm
from monitor.alarms.timing import Clock, Look

if TYPE_CHECKING:
    from monitor.alarms.model import Observation
    from monitor.alarms.rules import Rule
    from monitor.alarms.timing import Timing

Key = tuple[str, str]  # code, where

WAIT_MS = 3_000
FOLD_BACK_MS = 10_000


@dataclass(slots=True)
class Track:
    """One alarm.

    A condition that is explained by another alarm, its cause, is not raised: its on-delay doesn't run. Meters are read
    one after another, so what follows from a cause may be seen before it. Therefore a condition waits up to ``WAIT_MS``
    beyond its on-delay for a cause whose own on-delay runs; and where it was raised all the same, the cause still
    takes it in if it was first seen no longer than ``FOLD_BACK_MS`` before the cause. A worse alarm of the same thing
    at the same place takes it in whenever that comes. What latches is never taken in.

    Attributes:
        rule: what it is about.
        where: the place.
        timing: of the rule at the place.
        clock: its delays.
        state: of its life.
        active: the condition holds: it was raised and has not cleared. Known behind a shelf too.
        active_since_ms: since when it was seen, while ``active`` [ms].
        explains: newest sentence of each alarm it has explained in this round.
        since_ms: as in ``Alarm``; so are all that follow.

    """

    rule: Rule
    where: str
    timing: Timing
    clock: Clock = field(default_factory=Clock)
    state: State = State.NORMAL
    active: bool = False
    active_since_ms: int = 0
    explains: dict[Key, str] = field(default_factory=dict)
    since_ms: int = 0
    changed_ms: int = 0
    seen: str = ""
    value: float | None = None
    limit: float = 0.0
    folded: tuple[str, ...] = ()
    who: str = ""
    why: str = ""
    until_ms: int | None = None
    seen_ms: int | None = None

    @classmethod
    def of(cls, alarm: Alarm, rule: Rule, timing: Timing) -> Track:
        """Go on from an alarm as it stood."""
        state = State(alarm.state)
        return cls(
            rule=rule,
            where=alarm.where,
            timing=timing,
            state=state,
            active=state in ACTIVE,
            active_since_ms=alarm.since_ms,
            since_ms=alarm.since_ms,
            changed_ms=alarm.changed_ms,
            seen=alarm.seen,
            value=alarm.value,
            limit=alarm.limit,
            folded=alarm.folded,
            who=alarm.who,
            why=alarm.why,
            until_ms=alarm.until_ms,
            seen_ms=alarm.seen_ms,
        )

    @property
    def idle(self) -> bool:
        """Whether there is nothing to remember of it."""
        return self.state is State.NORMAL and not self.active and self.clock.beyond_since_ms is None

    def alarm(self) -> Alarm:
        """Give the alarm as it stands."""
        return Alarm(
            code=self.rule.code,
            where=self.where,
            priority=self.rule.priority,
            state=self.state.value,
            since_ms=self.since_ms,
            changed_ms=self.changed_ms,
            seen=self.seen,
            value=self.value,
            limit=self.limit,
            folded=self.folded,
            who=self.who,
            why=self.why,
            until_ms=self.until_ms,
            seen_ms=self.seen_ms,
        )

    def pause(self) -> None:
        """Pass over a time of which nothing is known: only what the alarm itself tells is kept."""
        self.clock.start_anew()
        self.explains = {}
        self.active = self.state in ACTIVE

    def note(self, seen: Observation, time_ms: int) -> None:
        """Keep what is seen at a moment [ms], where something is."""
        self.limit = seen.limit
        if self.timing.look(seen) is not Look.UNKNOWN:
            self.value = seen.value
        if seen.seen:
            self.seen, self.seen_ms = seen.seen, time_ms

    def step(self, look: Look, time_ms: int, cause: Track | None, *, wait: bool) -> Event | None:
        """Take one moment.

        Args:
            look: what is seen.
            time_ms: of the moment [ms].
            cause: the alarm that explains this one now.
            wait: whether a cause may be about to be raised.

        Returns:
            What it gives for the life cycle.

        """
        if cause is not None and self._folds_under(cause):
            self.active = False
            self.clock.start_anew()
            return Event.LET_GO
        if self.active:
            return self._gone(look, time_ms)
        if cause is not None:
            self.clock.start_anew()
            return None
        return self._come(look, time_ms, wait=wait)

    def _come(self, look: Look, time_ms: int, *, wait: bool) -> Event | None:
        held = self.clock.on(look, time_ms)
        if held is None or held < self.timing.on_ms + (WAIT_MS if wait else 0):
            return None
        self.active, self.active_since_ms = True, time_ms - held
        self.clock.start_anew()
        return Event.RAISED

    def _gone(self, look: Look, time_ms: int) -> Event | None:
        clear = self.clock.off(look, time_ms)
        if clear is None or clear < self.timing.off_ms:
            return None
        self.active = False
        self.clock.start_anew()
        return self.rule.clears.event

    def _folds_under(self, cause: Track) -> bool:
        if self.rule.latched or self.state is State.NORMAL:
            return False
        if self.worse(cause):
            return self.active
        return self.since_ms >= cause.active_since_ms - FOLD_BACK_MS

    def worse(self, cause: Track) -> bool:
        """Say whether ``cause`` is a worse alarm of the same thing at the same place."""
        return cause.where == self.where and cause.rule.code in self.rule.under

    def shelf_end(self) -> Event:
        """Give what the end of its shelf is for the life cycle."""
        return Event.SHELF_ENDED_ACTIVE if self.active else Event.SHELF_ENDED

    def apply(
        self, event: Event, time_ms: int, who: str = "", why: str = "", until_ms: int | None = None
    ) -> State | None:
        """Change the state; give the one before, None where nothing changes."""
        before, self.state = self.state, after(self.state, event)
        if self.state is before:
            return None
        self.changed_ms, self.until_ms = time_ms, until_ms
        if self.state is State.UNACKNOWLEDGED:
            self.since_ms, self.folded = self.active_since_ms, ()
            self.explains = {}
        if who or self.state not in NAMED:
            self.who, self.why = who, why
        return before
