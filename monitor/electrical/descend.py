"""Going down: from where things stand, the move or the two moves that lower the highest leg most, again and again.

Not exact: for sets too large to search whole, and to give the exact search a start.
"""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

from monitor.electrical.arrange import SAME, Found, as_found

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from monitor.electrical.arrange import Task, Vector

_Change = tuple[int, int, "Vector"]  # thing, its new position, what that adds to each leg


def descend(task: Task, goal: float) -> Found:
    """Give an arrangement that no further move and no further two moves lower, or one at or below ``goal`` [A]."""
    chosen = [0] * len(task.things)
    legs = task.legs(chosen)
    while max(map(abs, legs)) > goal:
        changes = list(_changes(task, chosen))
        step = _best(legs, ((change,) for change in changes))
        if step is None:
            step = _best(legs, (two for two in combinations(changes, 2) if two[0][0] != two[1][0]))
        if step is None:
            break
        for thing, at, _ in step:
            chosen[thing] = at
        legs = task.legs(chosen)
    return as_found(task, chosen)


def best_of_few(task: Task, moves: int) -> Found | None:
    """Give the arrangement with the lowest highest leg of those with so many moves; None where none lowers it."""
    chosen = [0] * len(task.things)
    ways = combinations(_changes(task, chosen), moves)
    step = _best(task.legs(chosen), (way for way in ways if len({thing for thing, _, _ in way}) == moves))
    for thing, at, _ in step or ():
        chosen[thing] = at
    return as_found(task, chosen) if step else None


def _changes(task: Task, chosen: Sequence[int]) -> Iterator[_Change]:
    for index, positions in enumerate(task.things):
        own = positions[chosen[index]]
        for at, there in enumerate(positions):
            if at != chosen[index]:
                yield index, at, tuple(b - a for a, b in zip(own, there, strict=True))


def _best(legs: Vector, steps: Iterator[tuple[_Change, ...]]) -> tuple[_Change, ...] | None:
    """Give the step to the lowest highest leg; None where no step lowers it."""
    best, lowest = None, max(map(abs, legs)) - SAME
    for step in steps:
        deltas = [change[2] for change in step]
        highest = max(abs(sum(parts, 0j)) for parts in zip(legs, *deltas, strict=True))
        if highest < lowest:
            best, lowest = step, highest
    return best
