"""What a change of an alarm is called."""

from __future__ import annotations

from itertools import product

import pytest

from monitor.alarms.lifecycle import TABLE, State
from monitor.alarms.model import Alarm, AlarmChange, Priority
from monitor.alarms.saying import became


def change(before: str, state: str, who: str = "") -> AlarmChange:
    """Give a change of one alarm."""
    alarm = Alarm("above-rating", "A3", Priority.HIGH, state, 0, 0, "", None, 20.0, who=who)
    return AlarmChange(0, alarm, before)


@pytest.mark.parametrize(
    ("before", "state", "who", "said"),
    [
        ("normal", "unacknowledged", "", "raised"),
        ("unacknowledged", "acknowledged", "Ada", "acknowledged"),
        ("acknowledged", "normal", "", "returned"),
        ("unacknowledged", "returned-unacknowledged", "", "returned, not acknowledged"),
        ("returned-unacknowledged", "normal", "Ada", "acknowledged, after it had returned"),
        ("returned-unacknowledged", "normal", "", "let go"),
        ("latched-acknowledged", "normal", "Ada", "reset"),
        ("unacknowledged", "unacknowledged", "", "explains more"),
        ("normal", "some-newer-state", "", "some-newer-state"),
    ],
)
def test_in_words(before: str, state: str, who: str, said: str) -> None:
    """Every change reads as what happened, not as two states."""
    assert became(change(before, state, who)) == said


def test_no_change_of_the_table_is_told_by_a_states_bare_name() -> None:
    """Each pair of states that the table leads through has words of its own."""
    pairs = {(a, b) for a, b in product(State, State) if a is not b and b in TABLE[a].values()}
    names = {str(state) for state in State} - {"acknowledged", "shelved"}
    assert not {became(change(a, b)) for a, b in pairs} & names
