"""What a change of an alarm is, in words for people: the same on screens, in lists and in reports."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from monitor.alarms.lifecycle import State

if TYPE_CHECKING:
    from collections.abc import Mapping

    from monitor.alarms.model import AlarmChange

_THEN: Mapping[str, str] = MappingProxyType(
    {
        State.NORMAL: "returned",
        State.UNACKNOWLEDGED: "raised",
        State.ACKNOWLEDGED: "acknowledged",
        State.RETURNED: "returned, not acknowledged",
        State.LATCHED: "what it saw has gone; latched, not acknowledged",
        State.LATCHED_ACKNOWLEDGED: "acknowledged, latched",
        State.SHELVED: "shelved",
    }
)
_FROM: Mapping[tuple[str, str], str] = MappingProxyType(
    {
        (State.RETURNED, State.UNACKNOWLEDGED): "raised again",
        (State.LATCHED, State.UNACKNOWLEDGED): "raised again",
        (State.LATCHED_ACKNOWLEDGED, State.UNACKNOWLEDGED): "raised again",
        (State.SHELVED, State.UNACKNOWLEDGED): "off the shelf, still there",
        (State.SHELVED, State.NORMAL): "off the shelf",
        (State.UNACKNOWLEDGED, State.NORMAL): "let go",
        (State.RETURNED, State.NORMAL): "acknowledged, after it had returned",
        (State.LATCHED_ACKNOWLEDGED, State.NORMAL): "reset",
        (State.ACKNOWLEDGED, State.LATCHED_ACKNOWLEDGED): "what it saw has gone; latched",
    }
)


def became(change: AlarmChange) -> str:
    """Say what became of an alarm; a state of a newer log that is not known here is given as it is written."""
    before, state = change.before, change.alarm.state
    if before == state:
        return "explains more"
    if (before, state) == (State.RETURNED, State.NORMAL) and not change.alarm.who:
        return "let go"
    return _FROM.get((before, state)) or _THEN.get(state, state)
