"""Which reads fetch a whole register map.

On a serial line one read costs about 20 characters (request, silences, head and check of the reply) and two
more a register, so reads are few first and short second. A late reply on a serial line carries no address and
is told from the awaited one by its length alone, so of two plans as good, the one is taken where fewer
neighbouring reads have the same length.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from drivers.maps.encodings import WORDS
from drivers.maps.model import Block, Table

if TYPE_CHECKING:
    from collections.abc import Sequence

    from drivers.maps.model import MeterMap, Value

READ_LIMIT = 125
"""Most registers in one read (Modbus application protocol, functions 3 and 4: 0x7D)."""

ADDRESSES = 0x1_0000
"""Registers of one Modbus table: its addresses have 16 bits."""


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """Neighbouring registers that must come in one read: from ``start`` up to, not including, ``stop``."""

    start: int
    stop: int

    def within(self, block: Block) -> bool:
        """Say whether ``block``, which must be of the right table, reads all of it."""
        return block.address <= self.start and self.stop <= block.address + block.count


@dataclass(frozen=True, slots=True)
class _Plan:
    """One way to read the spans from some place on: its first block's length, where it ends, and the rest."""

    reads: int
    same_length: int  # neighbouring blocks of the same length
    registers: int
    length: int
    after: int  # index of the first span behind the first block
    rest: _Plan | None

    @property
    def cost(self) -> tuple[int, int, int]:
        return self.reads, self.same_length, self.registers


_NOTHING_LEFT = _Plan(0, 0, 0, 0, 0, None)


def spans(value: Value) -> tuple[Span, ...]:
    """Give the registers of ``value``: its own, then the one that holds its power of ten, if any."""
    own = Span(value.address, value.address + WORDS[value.encoding])
    return (own,) if value.scale_from is None else (own, Span(value.scale_from, value.scale_from + 1))


def plan_blocks(meter_map: MeterMap) -> tuple[Block, ...]:
    """Plan the reads of one poll, by table and address.

    No block is longer than the map's ``max_block`` (or 125), none reads over more than ``max_gap`` unused
    registers in a row, and the registers of one value lie in one block (its power of ten may lie in another).

    Raises:
        ValueError: a value is longer than the longest block allowed.

    """
    longest = min(meter_map.max_block, READ_LIMIT)
    blocks: list[Block] = []
    for table in Table:
        values = [value for value in meter_map.values if value.table is table]
        wanted = sorted({span for value in values for span in spans(value)})
        for start, count in _cut(wanted, longest, meter_map.max_gap):
            block = Block(table, start, count)
            inside = tuple(value for value in values if any(span.within(block) for span in spans(value)))
            blocks.append(Block(table, start, count, inside))
    return tuple(blocks)


def _cut(wanted: Sequence[Span], longest: int, max_gap: int) -> list[tuple[int, int]]:
    """Cut sorted spans into blocks of (address, count), from the last span backwards.

    Two plans are kept for each place, the best and the next, so that the block before can choose the one
    whose length differs from its own.
    """
    plans: list[list[_Plan]] = [[] for _ in wanted] + [[_NOTHING_LEFT]]
    for first in reversed(range(len(wanted))):
        options = [_prepend(length, after, plans[after]) for length, after in _ends(wanted, first, longest, max_gap)]
        plans[first] = sorted(options, key=lambda plan: plan.cost)[:2]
    cuts: list[tuple[int, int]] = []
    first, plan = 0, plans[0][0]
    while plan.rest is not None:
        cuts.append((wanted[first].start, plan.length))
        first, plan = plan.after, plan.rest
    return cuts


def _ends(wanted: Sequence[Span], first: int, longest: int, max_gap: int) -> list[tuple[int, int]]:
    """Give every (length, index after it) that a block starting at ``wanted[first]`` may have."""
    start, reach = wanted[first].start, wanted[first].stop
    if reach - start > longest:
        raise ValueError(f"{reach - start} registers from {start} belong together; a block holds {longest}")
    ends: list[tuple[int, int]] = []
    for after in range(first + 1, len(wanted) + 1):
        ends.append((reach - start, after))
        if after == len(wanted) or wanted[after].start - reach > max_gap:
            break
        reach = max(reach, wanted[after].stop)
        if reach - start > longest:
            break
    return ends


def _prepend(length: int, after: int, rests: Sequence[_Plan]) -> _Plan:
    plans = [
        _Plan(rest.reads + 1, rest.same_length + (rest.length == length), rest.registers + length, length, after, rest)
        for rest in rests
    ]
    return min(plans, key=lambda plan: plan.cost)
