"""The life cycle's table: total, and what must never happen in it."""

from __future__ import annotations

from itertools import product

import pytest

from monitor.alarms.lifecycle import ACTIVE, ASKING, NAMED, TABLE, Event, State, after, diagram
from monitor.places import data

PAIRS = pytest.mark.parametrize(("state", "event"), list(product(State, Event)))


@PAIRS
def test_every_pair_has_an_answer(state: State, event: Event) -> None:
    """Whatever happens in whatever state, the table says what follows."""
    assert after(state, event) in State


@PAIRS
def test_doing_it_twice_is_doing_it_once(state: State, event: Event) -> None:
    """No event leads further when it comes twice: two screens may ask for the same."""
    once = after(state, event)
    assert after(once, event) is once


@pytest.mark.parametrize("state", list(State))
def test_acknowledging_never_ends_what_holds_or_latches(state: State) -> None:
    """What holds still holds after it; what is latched stays latched."""
    then = after(state, Event.ACKNOWLEDGED)
    assert (then in ACTIVE) == (state in ACTIVE)
    if state in (State.LATCHED, State.LATCHED_ACKNOWLEDGED):
        assert then is State.LATCHED_ACKNOWLEDGED
    assert then not in ASKING


@pytest.mark.parametrize("state", list(State))
def test_only_a_reset_ends_a_latched_alarm(state: State) -> None:
    """The only ways out of the latched states are a recurrence, an acknowledged reset, and a changed show file."""
    ways = {(event, then) for event, then in TABLE[State.LATCHED].items() if then is not State.LATCHED}
    assert ways == {
        (Event.RAISED, State.UNACKNOWLEDGED),
        (Event.ACKNOWLEDGED, State.LATCHED_ACKNOWLEDGED),
        (Event.RETIRED, State.NORMAL),
    }
    if state is not State.LATCHED_ACKNOWLEDGED:
        assert after(state, Event.RESET) is (State.NORMAL if state is State.NORMAL else state)


def test_a_shelf_hears_nothing_but_its_end() -> None:
    """No reading and no acknowledgement moves a shelved alarm; both kinds of end take it off."""
    ends = {event for event, then in TABLE[State.SHELVED].items() if then is not State.SHELVED}
    assert ends == {Event.SHELF_ENDED, Event.SHELF_ENDED_ACTIVE, Event.RETIRED}


def test_every_state_can_be_reached_and_left() -> None:
    """From normal every state can be reached, and from every state normal."""
    for begin in State:
        reached = {begin}
        while more := {then for state in reached for then in TABLE[state].values()} - reached:
            reached |= more
        assert reached == set(State)


def test_names_stand_where_people_put_them() -> None:
    """The states that carry a person's name are those that a person's act leads to."""
    acts = (Event.ACKNOWLEDGED, Event.SHELVED)
    led_to = {TABLE[state][event] for state in State for event in acts if TABLE[state][event] is not state}
    assert led_to - {State.NORMAL} == NAMED


def test_the_document_shows_the_table() -> None:
    """DEVELOPERS.md holds exactly the diagram that the table gives."""
    text = data("DEVELOPERS.md").read_text(encoding="utf-8")
    drawn = text.split("<!-- alarm life cycle -->\n")[1].split("\n<!-- end -->")[0]
    assert drawn == diagram()


def test_the_diagram_draws_every_change() -> None:
    """Each event that changes a state stands on an arrow of the diagram."""
    arrows = diagram().splitlines()
    for state, event in product(State, Event):
        then = after(state, event)
        if then is not state:
            head = f"    {state.replace('-', '_')} --> {then.replace('-', '_')}: "
            labels = [line.removeprefix(head).split(", ") for line in arrows if line.startswith(head)]
            assert len(labels) == 1
            assert event in labels[0]
