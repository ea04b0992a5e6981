"""What each alarm needs of a person, by its state: the groups of the list, and why a key can't help now."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from monitor.alarms.lifecycle import NAMED, State
from monitor.alarms.rules import rules

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from monitor.engine.requests import Kind
    from monitor.engine.snapshot import AlarmView, Snapshot

Key = tuple[str, str]  # code and place: what tells an alarm from all others

LATCHED = frozenset({State.LATCHED, State.LATCHED_ACKNOWLEDGED})
GROUPS: tuple[tuple[str, frozenset[State]], ...] = (
    ("Not acknowledged", frozenset({State.UNACKNOWLEDGED})),
    ("Acknowledged, still there", frozenset({State.ACKNOWLEDGED})),
    ("Latched until somebody resets it", LATCHED),
    ("Returned, not acknowledged", frozenset({State.RETURNED})),
    ("Shelved", frozenset({State.SHELVED})),
)
_ON_SHELF = "It is on the shelf; V takes it off."
_OFF_SHELF = "It is not on the shelf."
_SEEN = "{who} has acknowledged it already."
_NO_SHELF = "This alarm latches and can't be shelved: acknowledge it."
_NO_RESET = "Only an alarm that latches is reset."
_TOO_EARLY = "What it saw still holds: it is reset once that has gone and somebody has acknowledged it."
_WHY_NOT: Mapping[str, Mapping[str, str]] = MappingProxyType(
    {
        "acknowledge": {
            State.ACKNOWLEDGED: _SEEN,
            State.LATCHED_ACKNOWLEDGED: _SEEN,
            State.SHELVED: _ON_SHELF,
        },
        "shelve": {State.SHELVED: _ON_SHELF},
        "unshelve": {state: _OFF_SHELF for state in State if state is not State.SHELVED},
        "reset": {
            State.UNACKNOWLEDGED: _TOO_EARLY,
            State.ACKNOWLEDGED: _TOO_EARLY,
            State.LATCHED: "Acknowledge it first, then reset it.",
            State.RETURNED: "Acknowledging it is enough.",
            State.SHELVED: _ON_SHELF,
        },
    }
)


def key_of(alarm: AlarmView) -> Key:
    """Give what tells an alarm from all others."""
    return alarm.code, alarm.where


def asks(alarm: AlarmView) -> bool:
    """Say whether nobody has acknowledged or shelved it; a state of a newer log that is not known here asks too."""
    return alarm.state not in NAMED


def group_of(alarm: AlarmView) -> str:
    """Give the title of its group."""
    return next((title for title, states in GROUPS if alarm.state in states), GROUPS[0][0])


def listing(snapshot: Snapshot) -> tuple[AlarmView | str, ...]:
    """Give the lines of the list: each group's title, then its alarms in the Snapshot's order."""
    return tuple(_lines(snapshot))


def in_order(snapshot: Snapshot) -> tuple[AlarmView, ...]:
    """Give the alarms in the order of the list."""
    return tuple(line for line in _lines(snapshot) if not isinstance(line, str))


def find(snapshot: Snapshot, key: Key | None) -> AlarmView | None:
    """Give the alarm of that code and place, or None where it is not there any more."""
    return next((alarm for alarm in snapshot.alarms if key_of(alarm) == key), None)


def aside(snapshot: Snapshot) -> tuple[tuple[int, str], ...]:
    """Count what is not among the things wrong now, by what it is: (how many, ``returned``)."""
    wrong = {key_of(alarm) for alarm in snapshot.wrong}
    rest = [alarm.state for alarm in snapshot.alarms if key_of(alarm) not in wrong]
    kinds = (("latched", LATCHED), ("returned", {State.RETURNED}), ("shelved", {State.SHELVED}))
    counted = ((sum(state in states for state in rest), word) for word, states in kinds)
    return tuple((count, word) for count, word in counted if count)


def why_not(kind: Kind, alarm: AlarmView) -> str:
    """Say why this can't be asked of an alarm in its state; empty where it can. The logger has the last word."""
    if kind == "shelve" and _latches(alarm):
        return _NO_SHELF
    if kind == "reset" and not _latches(alarm):
        return _NO_RESET
    return _WHY_NOT.get(kind, {}).get(alarm.state, "").format(who=alarm.who or "Somebody")


def _latches(alarm: AlarmView) -> bool:
    rule = rules().get(alarm.code)
    return alarm.state in LATCHED or (rule is not None and rule.latched)


def _lines(snapshot: Snapshot) -> Iterator[AlarmView | str]:
    for title, _ in GROUPS:
        alarms = [alarm for alarm in snapshot.alarms if group_of(alarm) == title]
        if alarms:
            yield f"{title}: {len(alarms)}"
            yield from alarms
