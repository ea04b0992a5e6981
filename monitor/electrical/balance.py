"""Balance: the fewest moves of circuits to other legs that bring the source's highest leg as low as it can be.

Only circuits of one leg that may move are moved, and only to legs that their feeder has. Up to ``WAYS`` ways (20
circuits on two legs, 13 on three) all are searched, with phasors, exactly. Beyond that a table of reachable sums is
filled: what moves counts by its part in phase with all that moves (exact where that has one power factor), in steps
that are exact where its currents share a common measure, and else as fine as ``STEPS`` on the highest leg.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import fmod, inf, prod
from typing import TYPE_CHECKING

from monitor.electrical.legs import on_legs, total
from monitor.electrical.loads import leg_current
from monitor.electrical.sums import fewest_moves
from monitor.show.model import SOURCE_ID

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from monitor.show.model import Circuit, Show

WAYS = 1_600_000
STEPS = {2: 20_000, 3: 1_200}  # by the number of legs
_SAME = 1e-6  # [A]; highest legs that differ by less are one


@dataclass(frozen=True, slots=True)
class Move:
    """One circuit to another leg.

    Attributes:
        circuit: its id.
        from_leg: where it is.
        to_leg: where it goes.

    """

    circuit: str
    from_leg: str
    to_leg: str


@dataclass(frozen=True, slots=True)
class Balance:
    """The fewest moves to the lowest highest leg.

    Attributes:
        moves: in the file's order; empty where no move lowers the highest leg.
        before: amps of each source leg [A].
        after: the same after the moves [A].

    """

    moves: tuple[Move, ...]
    before: Mapping[str, float]
    after: Mapping[str, float]


def balance(show: Show, currents: Mapping[str, complex] | None = None) -> Balance:
    """Find the fewest moves that reach the lowest possible highest leg of the source.

    Boxes and feeders on the way are not looked at: check ``moved(show, moves)`` before anyone moves a plug.

    Args:
        show: the circuits with their legs.
        currents: current of each circuit against its own volts [A]; None takes the plan.

    """
    flows = {c.id: leg_current(c, show.source.system) for c in show.circuits} if currents is None else currents
    items = [item for circuit in show.circuits if (item := _item(show, circuit, flows.get(circuit.id, 0j)))]
    moving = {item.circuit for item in items}
    fixed = _in_own_frame(show, {c.id: flows.get(c.id, 0j) for c in show.circuits if c.id not in moving})
    few = prod(len(item.choices) for item in items) <= WAYS
    chosen = _search(fixed, items) if few else _by_sums(fixed, items)
    before, after = _sums(fixed, items, [item.leg for item in items]), _sums(fixed, items, chosen)
    if max(after.values()) >= max(before.values()) - _SAME:
        return Balance((), before, before)
    moves = (Move(i.circuit, i.leg, leg) for i, leg in zip(items, chosen, strict=True) if leg != i.leg)
    return Balance(tuple(moves), before, after)


def moved(show: Show, moves: Sequence[Move]) -> Show:
    """Give the show with circuits on their new legs, to be checked like any other."""
    to = {move.circuit: (move.to_leg,) for move in moves}
    return replace(show, circuits=tuple(replace(c, legs=to.get(c.id, c.legs)) for c in show.circuits))


@dataclass(frozen=True, slots=True)
class _Item:
    circuit: str
    leg: str
    choices: tuple[str, ...]  # its own leg first
    current: complex  # against its own volts [A]


def _item(show: Show, circuit: Circuit, current: complex) -> _Item | None:
    if not circuit.movable or len(circuit.legs) != 1 or current == 0:
        return None
    parent = circuit.fed_from
    legs = show.source.legs if parent == SOURCE_ID else next(f.legs for f in show.feeders if f.id == parent)
    own = circuit.legs[0]
    choices = (own, *(leg for leg in legs if leg != own))
    return _Item(circuit.id, own, choices, current) if len(choices) > 1 else None


def _in_own_frame(show: Show, flows: Mapping[str, complex]) -> dict[str, complex]:
    """Sum currents on each source leg, each leg's own volts at angle 0, so that legs can be compared."""
    system, legs = show.source.system, show.source.legs
    parts = (on_legs(system, c.legs, flows[c.id]) for c in show.circuits if c.id in flows)
    turned = {leg: on_legs(system, (leg,), 1 + 0j)[leg] for leg in legs}
    return {leg: current / turned[leg] for leg, current in total(legs, parts).items()}


def _sums(fixed: Mapping[str, complex], items: Sequence[_Item], chosen: Sequence[str]) -> dict[str, float]:
    sums = dict(fixed)
    for item, leg in zip(items, chosen, strict=True):
        sums[leg] += item.current
    return {leg: abs(current) for leg, current in sums.items()}


def _search(fixed: Mapping[str, complex], items: Sequence[_Item]) -> list[str]:
    """Try every way, largest first; a way ends where a leg's part in phase with its volts is above the best."""
    order = sorted(range(len(items)), key=lambda index: -abs(items[index].current))
    best: tuple[float, int, list[str]] = (inf, 0, [])
    chosen = [item.leg for item in items]
    sums = dict(fixed)

    def place(depth: int, moves: int) -> None:
        nonlocal best
        if depth == len(order):
            highest = max(map(abs, sums.values()))
            if highest < best[0] - _SAME or (highest <= best[0] + _SAME and moves < best[1]):
                best = (min(highest, best[0]), moves, chosen.copy())
            return
        item = items[order[depth]]
        for leg in item.choices:
            kept = sums[leg]
            sums[leg] = kept + item.current
            if sums[leg].real <= best[0] + _SAME:
                chosen[order[depth]] = leg
                place(depth + 1, moves + (leg != item.leg))
            sums[leg] = kept

    place(0, 0)
    return best[2]


def _by_sums(fixed: Mapping[str, complex], items: Sequence[_Item]) -> list[str]:
    whole = sum((item.current for item in items), 0j)
    along = whole.conjugate() / abs(whole)
    amps = [max(0.0, (item.current * along).real) for item in items]
    base = {leg: current * along for leg, current in fixed.items()}
    highest = _greedy(base, items, amps)
    step = max(_common_measure(amps), highest / STEPS[len(base)])
    return fewest_moves(
        {leg: value / step for leg, value in base.items()},
        [(item.choices, round(value / step)) for item, value in zip(items, amps, strict=True)],
        highest / step,
    )


def _greedy(base: Mapping[str, complex], items: Sequence[_Item], amps: Sequence[float]) -> float:
    """Give a highest leg that can be reached: the largest first, each to the lowest leg it may have."""
    sums = dict(base)
    for item, value in sorted(zip(items, amps, strict=True), key=lambda pair: -pair[1]):
        sums[min(item.choices, key=lambda leg: abs(sums[leg]))] += value
    return max(map(abs, sums.values()))


def _common_measure(values: Sequence[float]) -> float:
    """Give the largest number of which all values are whole multiples, within rounding; tiny where there is none."""
    measure = 0.0
    for value in values:
        larger, smaller = max(measure, value), min(measure, value)
        while smaller > _SAME:
            rest = fmod(larger, smaller)
            larger, smaller = smaller, 0.0 if smaller - rest < _SAME else rest
        measure = larger
    return measure
