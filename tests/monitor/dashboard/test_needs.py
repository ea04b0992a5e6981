"""What each alarm needs of a person, over every state that the life cycle has."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from monitor.alarms.lifecycle import TABLE, Event, State
from monitor.dashboard.needs import GROUPS, LATCHED, aside, asks, group_of, in_order, listing, why_not
from tests.monitor.dashboard import snapshots

if TYPE_CHECKING:
    from monitor.engine.requests import Kind

STANDING = [state for state in State if state is not State.NORMAL]
EVENTS: dict[Kind, Event] = {
    "acknowledge": Event.ACKNOWLEDGED,
    "reset": Event.RESET,
    "shelve": Event.SHELVED,
    "unshelve": Event.SHELF_ENDED,
}


def test_every_state_has_one_group() -> None:
    """No state that an alarm can stand in is without a group, and none is in two."""
    states = [state for _, group in GROUPS for state in group]
    assert sorted(states) == sorted(STANDING)


def test_a_state_that_is_not_known_here_asks_loudest() -> None:
    """A state of a newer log counts as not acknowledged."""
    odd = replace(snapshots.ABOVE, state="something-new")
    assert asks(odd)
    assert group_of(odd) == GROUPS[0][0]


@pytest.mark.parametrize("kind", EVENTS)
@pytest.mark.parametrize("state", STANDING)
@pytest.mark.parametrize("code", ["lost-neutral", "over-plan"])
def test_a_key_is_offered_where_the_life_cycle_answers_it(kind: Kind, state: State, code: str) -> None:
    """Offered is what moves the state in the life cycle's table; only what latches is reset, and is never shelved."""
    alarm = replace(snapshots.ABOVE, code=code, state=state, who="Ilse")
    moves = TABLE[state][EVENTS[kind]] is not state
    latching = code == "lost-neutral" or state in LATCHED
    expected = moves and not (kind == "shelve" and latching) and not (kind == "reset" and not latching)
    assert (not why_not(kind, alarm)) == expected


def test_who_acknowledged_is_named() -> None:
    """A second acknowledgement is answered with the first one's name."""
    assert why_not("acknowledge", snapshots.NOTED) == "Noor has acknowledged it already."


def test_the_list_groups_and_counts() -> None:
    """Groups come in the order of what is most pressing, each with its count, empty ones not at all."""
    titles = [line for line in listing(snapshots.alarmed()) if isinstance(line, str)]
    assert titles == [
        "Not acknowledged: 3",
        "Acknowledged, still there: 1",
        "Latched until somebody resets it: 1",
        "Returned, not acknowledged: 1",
        "Shelved: 1",
    ]
    assert len(in_order(snapshots.alarmed())) == len(snapshots.alarmed().alarms)


def test_aside_counts_what_is_not_wrong_now() -> None:
    """What stands among the things wrong now is not counted again."""
    shown = snapshots.alarmed()
    assert aside(shown) == ((1, "returned"), (1, "shelved"))
    assert aside(replace(shown, wrong=())) == ((1, "latched"), (1, "returned"), (1, "shelved"))
