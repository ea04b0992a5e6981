"""Moments and observations for tests of the judge, without any meter."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING

from monitor.alarms.judge import Judge
from monitor.alarms.model import Now, Observation
from monitor.show.settings import with_defaults
from tests.support.shows import circuit, show

if TYPE_CHECKING:
    from collections.abc import Sequence

    from monitor.alarms.model import Alarm, AlarmChange
    from monitor.show.model import Show

LIMIT = 100.0


def alarm_show(**settings: float) -> Show:
    """Give a small show with every setting, some of them changed."""
    given = show(circuit("A1"), circuit("A2", ("L2",)))
    return replace(given, settings=MappingProxyType({**with_defaults("north-america", {}), **settings}))


def obs(code: str, value: float | None, where: str = "A1", parents: tuple[tuple[str, str], ...] = ()) -> Observation:
    """Give an observation against ``LIMIT`` (a state's value is 1 or 0)."""
    shown = "nothing" if value is None else f"{value:g}"
    return Observation(code, where, value, LIMIT, f"{where} shows {shown} for {code}", parents)


class Run:
    """A judge that is shown moment after moment.

    Attributes:
        judge: the judge.
        changes: all that changed so far.

    """

    def __init__(self, **settings: float) -> None:
        self.show = alarm_show(**settings)
        self.judge = Judge(self.show)
        self.changes: list[AlarmChange] = []
        self.second = -1

    def moment(self, *observations: Observation, resumed: bool = False) -> tuple[AlarmChange, ...]:
        """Show the next second."""
        self.second += 1
        changes = self.judge.judge(observations, Now(self.second * 1000, resumed=resumed or self.second == 0))
        self.changes += changes
        return changes

    def values(self, code: str, values: Sequence[float | None], where: str = "A1") -> None:
        """Show one value a second of one rule at one place."""
        for value in values:
            self.moment(obs(code, value, where))

    def state(self, code: str, where: str = "A1") -> str:
        """Give the state of an alarm now."""
        alarm = self.alarm(code, where)
        return "normal" if alarm is None else alarm.state

    def alarm(self, code: str, where: str = "A1") -> Alarm | None:
        """Give an alarm as it stands, None where it is normal."""
        return next((a for a in self.judge.alarms() if (a.code, a.where) == (code, where)), None)

    def acknowledge(self, code: str, where: str = "A1") -> None:
        """Acknowledge at the present second."""
        self.changes += self.judge.acknowledge(code, where, "Mara", self.second * 1000)

    def told(self) -> list[tuple[int, str, str, str, str]]:
        """Give every change as (second, code, where, before, after)."""
        return [(c.time_ms // 1000, c.alarm.code, c.alarm.where, c.before, c.alarm.state) for c in self.changes]
