"""Which sums can be reached by putting whole numbers on two or three legs, and with how few moves.

A set of reachable sums is one large integer: bit (first * width + middle) stands for the sum on the first leg and on
the middle one; what the last leg has follows from the total. Two legs are the case without a middle one. Putting a
number on a leg is a shift, joining sets is an "or", so that millions of ways are carried at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import floor, inf
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

_SAME = 1e-6

Item = tuple[tuple[str, ...], int]  # legs it may have, its own first, and its size
Layers = list[int]  # by number of moves


@dataclass(frozen=True, slots=True)
class _Frame:
    """How sums are packed into bits, for two or three legs."""

    legs: tuple[str, ...]
    width: int  # bits a row, whole bytes
    top: int  # largest sum kept on the first and the middle leg
    mask: int

    def shift(self, leg: str, size: int) -> int:
        """Give the shift that puts ``size`` on a leg."""
        if leg == self.legs[0]:
            return size * self.width
        return size if leg in self.legs[1:-1] else 0


def fewest_moves(base: Mapping[str, complex], items: Sequence[Item], bound: float) -> list[str]:
    """Give a leg for every item: the lowest highest leg, and of the ways to it one with the fewest moves.

    Args:
        base: what each leg carries anyway, of two or three legs; in the items' unit, and as a phasor against them.
        items: what is to be placed.
        bound: a highest leg that is known to be reachable up to rounding.

    """
    frame = _frame(base, items, bound)
    stages = list(_stages(frame, items))
    total = sum(size for _, size in items)
    found = [(*_lowest(frame, base, total, bits), moves) for moves, bits in enumerate(stages[-1]) if bits]
    lowest = min(found)[0]
    _, first, middle, moves = min(
        (entry for entry in found if entry[0] <= lowest + _SAME), key=lambda entry: (entry[3], entry[0])
    )
    return _way_back(frame, items, stages, first * frame.width + middle, moves)


def _frame(base: Mapping[str, complex], items: Sequence[Item], bound: float) -> _Frame:
    legs, three = tuple(base), len(base) == 3  # noqa: PLR2004 - three legs
    slack = len(items)  # every size may be half a unit off
    top = max(0, floor(bound - min(value.real for value in base.values()))) + slack
    width = -(-(top + max(size for _, size in items) + 1) // 8) * 8 if three else 8
    row = (1 << (top + 1)) - 1 if three else 1
    mask = int.from_bytes(row.to_bytes(width // 8, "little") * (top + 1), "little")
    return _Frame(legs, width, top, mask)


def _stages(frame: _Frame, items: Sequence[Item]) -> Iterator[Layers]:
    """Give the reachable sets before the first item and after each, by number of moves."""
    layers: Layers = [1]
    yield layers
    for choices, size in items:
        more = [0] * (len(layers) + 1)
        for moves, bits in enumerate(layers):
            for position, leg in enumerate(choices if bits else ()):
                more[moves + (position > 0)] |= (bits << frame.shift(leg, size)) & frame.mask
        layers = more
        yield layers


def _lowest(frame: _Frame, base: Mapping[str, complex], total: int, bits: int) -> tuple[float, int, int]:
    """Give the lowest highest leg in a set, with its sums on the first and the middle leg.

    The middle and the last leg are equally high where |a + m| = |b + rest - m|, which is linear in m; the best m of a
    row is a neighbour of that.
    """
    on_first, on_last = base[frame.legs[0]], base[frame.legs[-1]]
    on_middle = base[frame.legs[1]] if len(frame.legs) > 2 else None  # noqa: PLR2004 - two legs have no middle
    size = frame.width // 8
    packed = bits.to_bytes(size * (frame.top + 1), "little")
    best = (inf, 0, 0)
    for first in range(frame.top + 1):
        row = int.from_bytes(packed[first * size : (first + 1) * size], "little")
        if not row or abs(on_first + first) >= best[0]:
            continue
        whole = on_last + total - first
        level = 0.0 if on_middle is None else _level(on_middle, whole)
        for middle in _nearest(row, floor(min(max(level, 0.0), frame.top))):
            highest = max(abs(on_first + first), 0.0 if on_middle is None else abs(on_middle + middle))
            best = min(best, (max(highest, abs(whole - middle)), first, middle))
    return best


def _level(middle: complex, last: complex) -> float:
    both = middle.real + last.real
    return (abs(last) ** 2 - abs(middle) ** 2) / (2 * both) if both > 0 else 0.0


def _nearest(row: int, at: int) -> Iterator[int]:
    """Give the positions of the nearest set bits at or below ``at``, and above it."""
    below, above = row & ((2 << at) - 1), row >> (at + 1)
    if below:
        yield below.bit_length() - 1
    if above:
        yield at + (above & -above).bit_length()


def _way_back(frame: _Frame, items: Sequence[Item], stages: Sequence[Layers], position: int, moves: int) -> list[str]:
    chosen = []
    for (choices, size), layers in zip(reversed(items), reversed(stages[:-1]), strict=True):
        for place, leg in enumerate(choices):
            before, fewer = position - frame.shift(leg, size), moves - (place > 0)
            if before >= 0 and 0 <= fewer < len(layers) and layers[fewer] >> before & 1:
                chosen.append(leg)
                position, moves = before, fewer
                break
    return chosen[::-1]
