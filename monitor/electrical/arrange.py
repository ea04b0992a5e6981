"""Arrangements: which of its positions each thing takes, so that the highest leg is lowest and few things move.

Exact, by meeting in the middle. The things are dealt into two halves; every sum that a half can put on the legs is kept
once, with the fewest moves to it; then sums of both halves are joined. What all legs carry together is the same in
every arrangement. So while no leg may pass U, none may stay under that total less U on each other leg either, and only
pairs within that window are looked at. Loads of a common measure reach few different sums, so that large sets of them
are searched whole; sets of any other loads are, up to about 20 things on three legs.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from itertools import combinations
from math import floor, inf
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

SAME = 1e-6  # [A]; highest legs that differ by less are one
STATES = 150_000  # sums kept of a half
PAIRS = 4_000_000  # pairs of sums looked at
_DIGITS = 8  # sums alike to so many decimals are one
_BUCKETS = 512

Vector = tuple[complex, ...]  # by leg [A]


@dataclass(frozen=True, slots=True)
class Task:
    """What is to be arranged.

    Attributes:
        base: what each leg carries anyway, turned so that everything together lies at angle 0 [A].
        things: of each the positions it may take, its own first, as what they put on each leg, turned likewise [A].

    """

    base: Vector
    things: tuple[tuple[Vector, ...], ...]

    def legs(self, chosen: Sequence[int]) -> Vector:
        """Give what each leg carries with things in positions [A]."""
        parts = [self.base, *(thing[at] for thing, at in zip(self.things, chosen, strict=True))]
        return tuple(sum(amps, 0j) for amps in zip(*parts, strict=True))


@dataclass(frozen=True, slots=True)
class Found:
    """An arrangement.

    Attributes:
        chosen: position of each thing, 0 its own.
        highest: amps of the highest leg [A].

    """

    chosen: tuple[int, ...]
    highest: float

    @property
    def moves(self) -> int:
        """How many things leave their own position."""
        return sum(at > 0 for at in self.chosen)


class TooManyError(Exception):
    """There are too many sums to look at."""


def as_found(task: Task, chosen: Sequence[int]) -> Found:
    """Give positions with what they come to."""
    return Found(tuple(chosen), max(map(abs, task.legs(chosen))))


def lowest_possible(task: Task) -> float:
    """Give a highest leg that no arrangement can come below [A]; an arrangement that reaches it need not exist.

    Legs share at best evenly what must be on them, whatever the rest does, by its part in phase with everything.
    """
    legs = range(len(task.base))
    shared = (
        sum(_least(task, some)) / count for count in range(1, len(task.base) + 1) for some in combinations(legs, count)
    )
    below = sum(min(0.0, *(amps.real for at in thing for amps in at)) for thing in task.things)
    alone = (
        min(max((b + a).real for b, a in zip(task.base, at, strict=True)) for at in thing) + below
        for thing in task.things
    )
    return max(0.0, *shared, *alone)


def search(task: Task, below: float, target: float, each_half: int | None = None) -> Found | None:
    """Give the arrangement with the lowest highest leg, of those the one with the fewest moves.

    Args:
        task: what is to be arranged, on two or three legs.
        below: only highest legs of so much or less are looked for [A].
        target: highest legs below this count as this [A].
        each_half: only so many moves in each half are looked at, so that all arrangements with so many moves are, and
            some with up to twice as many; None: all.

    Returns:
        None where there is no such arrangement.

    Raises:
        TooManyError: there are too many sums to look at.

    """
    (left, left_states), (right, right_states) = _halves(task, below, each_half)
    total = sum(task.legs([0] * len(task.things)), 0j)
    codes = _Join(total, len(task.base), below, target).best(left_states, right_states)
    if codes is None:
        return None
    chosen = [0] * len(task.things)
    for order, code in zip((left, right), codes, strict=True):
        rest = code
        for index in order:
            rest, chosen[index] = divmod(rest, 3)
    return as_found(task, chosen)


_State = tuple[int, int, complex, complex]  # moves, positions as digits, amps of the first and the second leg
_States = dict[tuple[float, ...], _State]


def _least(task: Task, some: tuple[int, ...]) -> Iterator[float]:
    """Give the least that some legs carry together, in phase: of the base and of each thing."""
    for positions in ((task.base,), *task.things):
        yield min(sum(at[leg].real for leg in some) for at in positions)


def _halves(task: Task, highest: float, limit: int | None) -> list[tuple[list[int], _States]]:
    """Deal the things, largest first, each into the half with fewer sums."""
    below = -sum(min(0.0, *(amps.real for amps in at)) for thing in (*task.things, (task.base,)) for at in thing)
    size = [max(max(map(abs, at)) for at in thing) for thing in task.things]
    top = highest + SAME + below
    if limit is not None:
        task, top = _as_changes(task), inf
    halves: list[tuple[list[int], _States]] = [([], {(): (0, 0, *_two(task.base))}), ([], {(): (0, 0, 0j, 0j)})]
    for index in sorted(range(len(size)), key=lambda i: -size[i]):
        side = 0 if len(halves[0][1]) <= len(halves[1][1]) else 1
        order, states = halves[side]
        positions = [_two(at) for at in task.things[index]]
        grown = (
            _grow(states, positions, 3 ** len(order), top)
            if limit is None
            else _moved(states, positions, 3 ** len(order), limit)
        )
        if len(grown) > STATES:
            raise TooManyError
        halves[side] = ([*order, index], grown)
    return halves


def _as_changes(task: Task) -> Task:
    """Put everything in its own position into the base; what is left of a position is what moving there changes."""
    things = tuple(
        tuple(tuple(there - own for there, own in zip(at, thing[0], strict=True)) for at in thing)
        for thing in task.things
    )
    return Task(task.legs([0] * len(task.things)), things)


def _two(at: Vector) -> tuple[complex, complex]:
    """Give what the first and the second of three legs carry; of two legs only the first need be known."""
    return (at[0], at[1]) if len(at) > 2 else (at[0], 0j)  # noqa: PLR2004 - three legs


def _grow(states: _States, positions: Sequence[tuple[complex, complex]], digit: int, top: float) -> _States:
    """Add a thing, in every position; a leg above ``top`` can't come down again."""
    more: _States = {}
    for moves, code, first, second in states.values():
        for at, (on_first, on_second) in enumerate(positions):
            a, b = first + on_first, second + on_second
            if a.real <= top and b.real <= top:
                _keep(more, (moves + (at > 0), code + at * digit, a, b))
        if len(more) > STATES:
            raise TooManyError
    return more


def _moved(states: _States, positions: Sequence[tuple[complex, complex]], digit: int, limit: int) -> _States:
    """Add a thing, given as changes, where there is a move left for it."""
    more = dict(states)
    for moves, code, first, second in states.values():
        if moves < limit:
            for at, (on_first, on_second) in enumerate(positions[1:], 1):
                _keep(more, (moves + 1, code + at * digit, first + on_first, second + on_second))
    return more


def _keep(states: _States, state: _State) -> None:
    moves, _, a, b = state
    key = (round(a.real, _DIGITS), round(a.imag, _DIGITS), round(b.real, _DIGITS), round(b.imag, _DIGITS))
    old = states.get(key)
    if old is None or moves < old[0]:
        states[key] = state


class _Join:
    """The search for the best pair of a sum of the one half and a sum of the other."""

    def __init__(self, total: complex, legs: int, below: float, target: float) -> None:
        self._total, self._others, self._target = total, legs - 1, target
        self._best = (max(below, target), inf, inf)  # highest leg, moves, highest leg without regard to the target

    def best(self, left: _States, right: _States) -> tuple[int, int] | None:
        """Give the positions of both halves, as digits; None where no pair will do."""
        low, high = self._window()
        ends = [state[2].real for state in right.values()] or [0.0]
        cell = max(high - low, (max(ends) - min(ends)) / _BUCKETS, SAME)
        buckets = _bucketed(right, cell)
        codes, looked = None, 0
        for moves, code, first, second in left.values():
            low, high = self._window()
            for at in range(floor((low - first.real) / cell), floor((high - first.real) / cell) + 1):
                keys, states = buckets.get(at, _NOTHING)
                begin = bisect_left(keys, (low if self._others > 1 else -high) - second.real)
                end = bisect_right(keys, high - second.real)
                looked += end - begin
                for more, digits, a, b in states[begin:end]:
                    if self._better(first + a, second + b, moves + more):
                        codes = (code, digits)
            if looked > PAIRS:
                raise TooManyError
        return codes

    def _window(self) -> tuple[float, float]:
        """Give what a leg must carry, in phase, at least and at most [A]."""
        high = self._best[0] + SAME
        return self._total.real - self._others * high, high

    def _better(self, first: complex, second: complex, moves: int) -> bool:
        highest = max(abs(first), abs(second), abs(self._total - first - second))
        level = max(highest, self._target)
        best, fewest, lowest = self._best
        if level > best + SAME or (level >= best - SAME and (moves, highest) >= (fewest, lowest)):
            return False
        self._best = (min(level, best), moves, highest)
        return True


_NOTHING: tuple[list[float], list[_State]] = ([], [])


def _bucketed(states: _States, cell: float) -> dict[int, tuple[list[float], list[_State]]]:
    """Put sums into cells by what the first leg has of them, each cell in order of what the second has."""
    cells: dict[int, list[_State]] = {}
    for state in states.values():
        cells.setdefault(floor(state[2].real / cell), []).append(state)
    for inside in cells.values():
        inside.sort(key=lambda state: state[3].real)
    return {at: ([state[3].real for state in inside], inside) for at, inside in cells.items()}
