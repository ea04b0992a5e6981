"""A day as the alarms see it."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from monitor.alarms.conditions import Conditions
from monitor.alarms.judge import Judge

if TYPE_CHECKING:
    from tests.support.days.day import Day


class Raised(NamedTuple):
    """One alarm that was raised: when [s], what, where, and what was seen."""

    second: int
    code: str
    where: str
    seen: str


def raised(day: Day, seconds: int) -> list[Raised]:
    """Play a day up to a second; give every alarm that was raised, each time it was."""
    conditions, judge = Conditions(day.show), Judge(day.show)
    found = []
    for now in day.moments(seconds):
        for change in judge.judge(conditions.observe(now), now):
            alarm = change.alarm
            if alarm.state == "unacknowledged" and change.before != alarm.state:
                found.append(Raised(day.second, alarm.code, alarm.where, alarm.seen))
    return found
