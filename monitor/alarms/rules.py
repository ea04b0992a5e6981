"""The alarm rules, as data: what each is called, how soon it needs somebody, what it may mean and what to do.

They stand in ``config/standards/alarms.toml``. What is observed for each is code, in ``monitor.alarms.conditions``.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING

from monitor.alarms.lifecycle import Event
from monitor.alarms.model import Priority
from monitor.electrical.tables import table

if TYPE_CHECKING:
    from collections.abc import Mapping


class Side(StrEnum):
    """On which side of its limit a condition lies."""

    ABOVE = "above"
    BELOW = "below"
    STATE = "state"  # it holds or it doesn't: 1 or 0


class Clears(StrEnum):
    """What becomes of an alarm when its condition has gone."""

    RETURNS = "returns"  # stands until somebody has acknowledged it
    LATCHES = "latches"  # stands until somebody has acknowledged and reset it
    PASSES = "passes"  # goes by itself

    @property
    def event(self) -> Event:
        """The event of the life cycle that it gives."""
        return _CLEARING[self]


_CLEARING = {Clears.RETURNS: Event.CLEARED, Clears.LATCHES: Event.CLEARED_LATCHED, Clears.PASSES: Event.LET_GO}


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule.

    Attributes:
        code: lower case with hyphens.
        priority: how soon somebody must act.
        side: of the limit.
        unit: of the value and the limit; empty for a state.
        clears: what becomes of it when its condition has gone.
        means: what it may mean; always more than one thing.
        do: what to do now.
        unknown: what it can't know.
        under: worse rules of the same thing: while one of them is in alarm at the same place, this one keeps quiet.
        settings: the settings that give its limit.

    """

    code: str
    priority: Priority
    side: Side
    unit: str
    clears: Clears
    means: tuple[str, ...]
    do: str
    unknown: str
    under: tuple[str, ...] = ()
    settings: tuple[str, ...] = ()

    @property
    def latched(self) -> bool:
        """Whether it stands until somebody resets it."""
        return self.clears is Clears.LATCHES

    def setting(self, what: str) -> str:
        """Give the name of one of its own settings: ``on_seconds``, ``off_seconds`` or ``deadband``."""
        return f"{self.code.replace('-', '_')}_{what}"


@cache
def rules() -> Mapping[str, Rule]:
    """Give every rule, by code."""
    return MappingProxyType(
        {
            code: Rule(
                code=code,
                priority=Priority(entry["priority"]),
                side=Side(entry["side"]),
                unit=entry.get("unit", ""),
                clears=Clears(entry.get("clears", Clears.RETURNS)),
                means=tuple(entry["means"]),
                do=entry["do"],
                unknown=entry["unknown"],
                under=tuple(entry.get("under", ())),
                settings=tuple(entry.get("settings", ())),
            )
            for code, entry in table("alarms")["rule"].items()
        }
    )
