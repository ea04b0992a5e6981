"""The words that conditions, rules, the life cycle, the log and the screens share."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from collections.abc import Mapping

    from drivers.reading import Quality, Values
    from monitor.show.model import Point


class Priority(StrEnum):
    """How soon somebody must act; the words of the screen's weights."""

    URGENT = "urgent"
    HIGH = "high"
    LOW = "low"


@dataclass(frozen=True, slots=True)
class PointNow:
    """What is known of one point at one moment.

    Attributes:
        values: live values; None while nothing live is known (a gap is never a zero).
        quality: of the last reading, good or not; None before the first.
        detail: why the last reading was not good.
        age_s: since the last reading with values [s]; None where there was none.
        fresh: whether a reading came since the moment before this one.
        earlier: (time [ms, the log's clock], values) of usable readings since the moment before this one that a newer
            one followed, oldest first.

    """

    values: Values | None = None
    quality: Quality | None = None
    detail: str = ""
    age_s: float | None = None
    fresh: bool = False
    earlier: tuple[tuple[int, Values], ...] = ()


@dataclass(frozen=True, slots=True)
class Now:
    """One whole second of the log's time, with everything known by then.

    Moments come in rising order, one for each whole second in which the logger ran; after a time in which it did not
    run, or a jump of the clock, ``resumed`` is True: nothing is known of the time between.

    Attributes:
        time_ms: the log's clock [ms since 1970 UTC]; a whole second.
        points: every point that a meter of the show measures.
        resumed: this moment does not follow the one before by one second.
        not_kept: readings that could not be written to the log so far.
        log_problem: why the log can't be written now, or empty.
        clock_step_s: the wall clock was moved by this much since the moment before [s], 0 where it was not.

    """

    time_ms: int
    points: Mapping[Point, PointNow] = field(default_factory=lambda: MappingProxyType({}))
    resumed: bool = False
    not_kept: int = 0
    log_problem: str = ""
    clock_step_s: float = 0.0


class Teller(Protocol):
    """Who makes the observations of one rule at one place."""

    def rest(self, low: float, high: float) -> None:
        """From now on, tell a value from ``low`` to ``high`` (in the rule's unit) as calm: nobody waits for it."""

    def speak(self) -> None:
        """From now on, tell every value."""


@dataclass(frozen=True, slots=True)
class Observation:
    """What one rule sees at one place at one moment. Every place of every rule is observed at every moment.

    Attributes:
        code: the rule.
        where: a point, circuit, feeder, meter (``bus:unit``), ``source`` or ``log``.
        value: in the rule's unit; None is unknown: it neither raises nor clears. A rule about a state gives 1 or 0.
        limit: what ``value`` is held against, in the rule's unit.
        seen: one plain sentence with value and limit; empty while nothing is to be said.
        parents: (code, where) of other observations that would explain this one: while one of those is in alarm, this
            one is folded under it and raises no alarm of its own.
        calm: the value is clear of the limit and not told, since nobody waits for it (see ``Teller.rest``).
        teller: who made it, or None.

    """

    code: str
    where: str
    value: float | None
    limit: float
    seen: str = ""
    parents: tuple[tuple[str, str], ...] = ()
    calm: bool = False
    teller: Teller | None = field(default=None, compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Alarm:
    """One alarm as it stands now.

    Attributes:
        code: the rule.
        where: the place.
        priority: how soon somebody must act.
        state: a word of ``monitor.alarms.lifecycle``.
        since_ms: when its condition was first seen in this round [ms, the log's clock].
        changed_ms: when ``state`` last changed [ms].
        seen: what is (or was last) seen.
        value: what was seen last, in the rule's unit, or None.
        limit: the limit.
        folded: sentences of what it explains, newest state only.
        who: who acknowledged or shelved it, or empty.
        why: the reason given, or empty.
        until_ms: shelved until [ms], or None.
        seen_ms: when ``seen`` was seen [ms]: its figures are of then; None where all that is known is that it was seen
            before ``changed_ms``.

    """

    code: str
    where: str
    priority: Priority
    state: str
    since_ms: int
    changed_ms: int
    seen: str
    value: float | None
    limit: float
    folded: tuple[str, ...] = ()
    who: str = ""
    why: str = ""
    until_ms: int | None = None
    seen_ms: int | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class AlarmChange:
    """One change of state, for the log: the alarm as it stands after it.

    Attributes:
        time_ms: the log's clock [ms].
        alarm: after the change.
        before: the state before.

    """

    time_ms: int
    alarm: Alarm
    before: str
