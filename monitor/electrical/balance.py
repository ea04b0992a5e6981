"""Balance: the fewest moves of circuits to other legs that bring the source's highest leg as low as it can be.

A circuit of one leg may go to the other legs of what feeds it; a two-hot circuit to the other pairs, where what feeds
it has three legs. Everything is added as phasors: a two-hot load on a wye stands 30 degrees before the volts of the one
leg and 30 behind those of the other. The search is exact wherever it can be carried through (``arrange``); beyond that
the answer says that it is not, and how low no arrangement could come.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import combinations
from typing import TYPE_CHECKING

from monitor.electrical.arrange import SAME, Task, TooManyError, as_found, lowest_possible, search
from monitor.electrical.descend import best_of_few, descend
from monitor.electrical.legs import on_legs
from monitor.electrical.loads import leg_current
from monitor.show.model import SOURCE_ID

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from monitor.electrical.arrange import Found, Vector
    from monitor.show.model import Circuit, Show

NEAR = 0.05  # [A]; where not all can be searched, this near the lowest possible will do: what is printed shows no less
_FEWER = (1, 2)  # moves
_MARGINS = (2.0, 0.5, 0.0)  # [A]; from so far above the goal a way of a few moves is looked for
FEW = 3  # moves; of each half of up to 96 circuits on three legs the sums of so many are within STATES


@dataclass(frozen=True, slots=True)
class Move:
    """One circuit to another leg, or a two-hot one to another pair of legs.

    Attributes:
        circuit: its id.
        from_leg: where it is: ``L1``, or of a two-hot circuit ``L1-L2``, in the order of the source's legs.
        to_leg: where it goes, likewise.

    """

    circuit: str
    from_leg: str
    to_leg: str


@dataclass(frozen=True, slots=True)
class Fewer:
    """What fewer moves would do.

    Attributes:
        moves: one or two, in the file's order.
        highest_amps: the highest leg after them, the lowest that so many moves can reach [A].

    """

    moves: tuple[Move, ...]
    highest_amps: float


@dataclass(frozen=True, slots=True)
class Balance:
    """The fewest moves to the lowest highest leg.

    Attributes:
        moves: in the file's order; empty where no move lowers the highest leg.
        before: amps of each source leg [A].
        after: the same after the moves [A].
        exact: whether no arrangement has a lower highest leg, and none as low has fewer moves. If not, there were too
            many to search: ``after`` is what was found.
        floor_amps: no arrangement can bring the highest leg below this [A]; with ``exact`` what was reached.
        fewer: the best that one move and two moves alone can do, where ``moves`` are more.

    """

    moves: tuple[Move, ...]
    before: Mapping[str, float]
    after: Mapping[str, float]
    exact: bool = True
    floor_amps: float = 0.0
    fewer: tuple[Fewer, ...] = ()


def balance(show: Show, currents: Mapping[str, complex] | None = None) -> Balance:
    """Find the fewest moves that reach the lowest possible highest leg of the source.

    Boxes and feeders on the way are not looked at: check ``moved(show, moves)`` before anyone moves a plug.

    Args:
        show: the circuits with their legs.
        currents: current of each circuit against its own volts [A]; None takes the plan.

    """
    flows = {c.id: leg_current(c, show.source.system) for c in show.circuits} if currents is None else currents
    options = {c.id: positions for c in show.circuits if (positions := _positions(show, c)) and flows.get(c.id)}
    task = _task(show, flows, options)
    own = as_found(task, [0] * len(options))
    found, exact, least = _arranged(task, own)
    before = dict(zip(show.source.legs, map(abs, task.legs(own.chosen)), strict=True))
    if found.highest >= own.highest - SAME:
        return Balance((), before, before, exact, own.highest if exact else least)
    after = dict(zip(show.source.legs, map(abs, task.legs(found.chosen)), strict=True))
    tried = (best_of_few(task, few) for few in _FEWER if few < found.moves)
    fewer = tuple(Fewer(_moves(options, few), few.highest) for few in tried if few)
    return Balance(_moves(options, found), before, after, exact, found.highest if exact else least, fewer)


def moved(show: Show, moves: Sequence[Move]) -> Show:
    """Give the show with circuits on their new legs, to be checked like any other."""
    to = {move.circuit: tuple(move.to_leg.split("-")) for move in moves}
    return replace(show, circuits=tuple(replace(c, legs=to.get(c.id, c.legs)) for c in show.circuits))


def _positions(show: Show, circuit: Circuit) -> tuple[tuple[str, ...], ...]:
    """Give the legs that a circuit may have, its own first; nothing where it can't move."""
    parent = circuit.fed_from
    legs = show.source.legs if parent == SOURCE_ID else next(f.legs for f in show.feeders if f.id == parent)
    if not circuit.movable or len(circuit.legs) >= len(legs):
        return ()
    own = tuple(leg for leg in show.source.legs if leg in circuit.legs)
    there = combinations([leg for leg in show.source.legs if leg in legs], len(own))
    return (own, *(other for other in there if other != own))


def _moves(options: Mapping[str, Sequence[Sequence[str]]], found: Found) -> tuple[Move, ...]:
    return tuple(
        Move(name, "-".join(positions[0]), "-".join(positions[at]))
        for (name, positions), at in zip(options.items(), found.chosen, strict=True)
        if at
    )


def _task(show: Show, flows: Mapping[str, complex], options: Mapping[str, Sequence[Sequence[str]]]) -> Task:
    """Put the currents on the legs, each leg's own volts at angle 0, then turned so that all together lies there."""
    stays = [_on(show, c.legs, flows[c.id]) for c in show.circuits if c.id not in options and c.id in flows]
    none: Vector = (0j,) * len(show.source.legs)
    base = tuple(sum(amps, 0j) for amps in zip(none, *stays, strict=True))
    things = tuple(tuple(_on(show, legs, flows[name]) for legs in positions) for name, positions in options.items())
    whole = sum((sum(at, 0j) for at in (base, *(thing[0] for thing in things))), 0j)
    turn = whole.conjugate() / abs(whole) if whole else 1 + 0j
    return Task(_turned(base, turn), tuple(tuple(_turned(at, turn) for at in thing) for thing in things))


def _on(show: Show, legs: Sequence[str], current: complex) -> Vector:
    system = show.source.system
    carried = on_legs(system, legs, current)
    return tuple(carried.get(leg, 0j) / on_legs(system, (leg,), 1 + 0j)[leg] for leg in show.source.legs)


def _turned(at: Vector, turn: complex) -> Vector:
    return tuple(amps * turn for amps in at)


def _arranged(task: Task, own: Found) -> tuple[Found, bool, float]:
    """Give an arrangement, whether it is proven to be the best, and the highest leg that none can come below [A]."""
    least = lowest_possible(task)
    if not task.things or own.highest <= least + SAME:
        return own, True, least
    try:
        few = search(task, least, least, FEW)
        if few and few.moves <= FEW:
            return few, True, least
        return search(task, descend(task, least).highest + SAME, least) or own, True, least
    except TooManyError:
        return _near(task, least + NEAR), False, least


def _near(task: Task, goal: float) -> Found:
    """Give an arrangement at or below ``goal`` with few moves; where none is found, one as near as could be."""
    found = _from(task, as_found(task, [0] * len(task.things)), goal, goal)
    for margin in _MARGINS:
        if found.highest > goal:
            found = descend(task, goal + margin)
            found = _from(task, found, goal, goal if margin else found.highest)
    return _from(task, found, goal, found.highest) if found.highest > goal else found


def _from(task: Task, start: Found, goal: float, below: float) -> Found:
    """Look for a few moves more from an arrangement to one at or below ``below``, down to ``goal``."""
    order = [
        sorted(range(len(at)), key=lambda n, own=own: n != own)  # type: ignore[misc]
        for at, own in zip(task.things, start.chosen, strict=True)
    ]
    there = Task(task.base, tuple(tuple(at[n] for n in way) for at, way in zip(task.things, order, strict=True)))
    try:
        found = search(there, below, goal, FEW)
    except TooManyError:
        return start
    return as_found(task, [way[at] for way, at in zip(order, found.chosen, strict=True)]) if found else start
