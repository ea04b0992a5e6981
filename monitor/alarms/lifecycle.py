"""The life of an alarm: one total table, state by event.

Theory of operation. An alarm has two things to say: does its condition hold now, and has a person seen it? The four
answers are the states normal, unacknowledged, acknowledged and returned-unacknowledged of ISA-18.2 / IEC 62682. Two
more serve the rules that latch: once raised, such an alarm stands until a person resets it, whatever the readings do.
The last one, shelved, is a person's "not now": with a name, a reason and an end.

Events come from two sides. The readings give ``raised`` (after the on-delay) and, after the off-delay, one of three
ways to clear, as the rule has it: ``cleared``, ``cleared-latched`` for rules that latch, ``let-go`` for a note that
passes by itself; the judge also lets go of an alarm when it folds it under its cause. People give ``acknowledged``,
``reset``, ``shelved``; a shelf's end, by the clock or by a person, is ``shelf-ended-active`` where the condition holds
at that moment and ``shelf-ended`` where it doesn't. ``retired`` is for what a changed show file no longer watches.

What the table makes sure of:

- Acknowledging never clears: no ``acknowledged`` leads from a state with the condition holding to one without.
- A latched alarm goes by acknowledgement and then reset, in this order, and only after its condition has gone.
- A shelved alarm remembers nothing but its shelf. What was latched can't be shelved: it would come back unlatched.
- Every pair of state and event has an answer; where nothing happens, the table says so with the same state.

Nothing about states is decided anywhere else.
"""

from __future__ import annotations

from collections import defaultdict
from enum import StrEnum
from types import MappingProxyType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping


class State(StrEnum):
    """Where an alarm is in its life."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED = "returned-unacknowledged"
    LATCHED = "latched-unacknowledged"
    LATCHED_ACKNOWLEDGED = "latched-acknowledged"
    SHELVED = "shelved"


class Event(StrEnum):
    """What happens to an alarm."""

    RAISED = "raised"
    CLEARED = "cleared"
    CLEARED_LATCHED = "cleared-latched"
    LET_GO = "let-go"
    ACKNOWLEDGED = "acknowledged"
    RESET = "reset"
    SHELVED = "shelved"
    SHELF_ENDED = "shelf-ended"
    SHELF_ENDED_ACTIVE = "shelf-ended-active"
    RETIRED = "retired"


ACTIVE = frozenset({State.UNACKNOWLEDGED, State.ACKNOWLEDGED})  # its condition holds
# Somebody must act on these: the condition holds, or it held and the rule wants it looked at.
WRONG = ACTIVE | {State.LATCHED, State.LATCHED_ACKNOWLEDGED}
ASKING = frozenset({State.UNACKNOWLEDGED, State.RETURNED, State.LATCHED})  # nobody has seen it yet
NAMED = frozenset({State.ACKNOWLEDGED, State.LATCHED_ACKNOWLEDGED, State.SHELVED})  # somebody's name stands on it

_N, _U, _A, _R, _L, _LA, _S = State
_COLUMNS = tuple(State)
# fmt: off
_ROWS: Mapping[Event, tuple[State, ...]] = {
    # from:                    normal, unack., acked, returned, latched, latched acked, shelved
    Event.RAISED:             (_U,     _U,     _A,    _U,       _U,      _U,            _S),
    Event.CLEARED:            (_N,     _R,     _N,    _R,       _L,      _LA,           _S),
    Event.CLEARED_LATCHED:    (_N,     _L,     _LA,   _R,       _L,      _LA,           _S),
    Event.LET_GO:             (_N,     _N,     _N,    _N,       _L,      _LA,           _S),
    Event.ACKNOWLEDGED:       (_N,     _A,     _A,    _N,       _LA,     _LA,           _S),
    Event.RESET:              (_N,     _U,     _A,    _R,       _L,      _N,            _S),
    Event.SHELVED:            (_S,     _S,     _S,    _S,       _L,      _LA,           _S),
    Event.SHELF_ENDED:        (_N,     _U,     _A,    _R,       _L,      _LA,           _N),
    Event.SHELF_ENDED_ACTIVE: (_N,     _U,     _A,    _R,       _L,      _LA,           _U),
    Event.RETIRED:            (_N,     _N,     _N,    _N,       _N,      _N,            _N),
}
# fmt: on
TABLE: Mapping[State, Mapping[Event, State]] = MappingProxyType(
    {
        state: MappingProxyType({event: row[column] for event, row in _ROWS.items()})
        for column, state in enumerate(_COLUMNS)
    }
)


def after(state: State, event: Event) -> State:
    """Give the state after ``event``."""
    return TABLE[state][event]


def diagram() -> str:
    """Draw the table for DEVELOPERS.md, as a Mermaid state diagram; pairs in which nothing happens are left out."""
    arrows: defaultdict[tuple[State, State], list[Event]] = defaultdict(list)
    for state, row in TABLE.items():
        for event, then in row.items():
            if then is not state:
                arrows[state, then].append(event)
    lines = ["stateDiagram-v2", "    [*] --> normal"]
    lines += [f'    state "{state}" as {_word(state)}' for state in State if _word(state) != state]
    lines += [f"    {_word(a)} --> {_word(b)}: {', '.join(events)}" for (a, b), events in arrows.items()]
    return "\n".join(("```mermaid", *lines, "```"))


def _word(state: State) -> str:
    """Give the state's name as Mermaid takes it: without hyphens."""
    return state.replace("-", "_")
