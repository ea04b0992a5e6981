"""Block plans: every register is read, no rule is broken, and no plan has fewer reads."""

from __future__ import annotations

from itertools import pairwise, product
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.maps.blocks import plan_blocks
from drivers.maps.encodings import ENCODINGS, WORDS
from drivers.maps.model import Block, MeterMap, Table, Value
from tests.drivers.maps.strategies import meter_maps

if TYPE_CHECKING:
    from collections.abc import Iterator

Registers = frozenset[int]


def wanted(meter_map: MeterMap, table: Table) -> set[Registers]:
    """Give what must come in one read each: the registers of each value, and each power of ten."""
    values = [value for value in meter_map.values if value.table is table]
    own = {frozenset(range(v.address, v.address + WORDS[v.encoding])) for v in values}
    return own | {frozenset((v.scale_from,)) for v in values if v.scale_from is not None}


def read_by(block: Block) -> Registers:
    """Give the registers of one block."""
    return frozenset(range(block.address, block.address + block.count))


def longest_hole(used: Registers) -> int:
    """Give the length of the longest run of unused registers between used ones."""
    return max((after - before - 1 for before, after in pairwise(sorted(used))), default=0)


def groupings(spans: list[Registers]) -> Iterator[list[Registers]]:
    """Give every way to share out ``spans`` among reads, as the registers wanted of each read."""
    if not spans:
        yield []
        return
    for rest in groupings(spans[1:]):
        yield [spans[0], *rest]
        for place, group in enumerate(rest):
            yield [*rest[:place], group | spans[0], *rest[place + 1 :]]


def fewest_reads(spans: list[Registers], longest: int, max_gap: int) -> int:
    """Try every grouping and give the least number of reads that breaks no rule."""
    return min(
        len(groups)
        for groups in groupings(spans)
        if all(max(g) - min(g) < longest and longest_hole(g) <= max_gap for g in groups)
    )


@given(meter_maps())
def test_every_rule_holds(meter_map: MeterMap) -> None:
    """All registers are covered whole; length and gap limits hold; nothing is read twice or for nothing."""
    blocks = plan_blocks(meter_map)
    assert len(set(blocks)) == len(blocks)
    for table in Table:
        spans = wanted(meter_map, table)
        used = frozenset().union(*spans)
        planned = [read_by(block) for block in blocks if block.table is table]
        assert all(any(span <= registers for registers in planned) for span in spans)
        assert len(planned) <= len(spans)
        for registers in planned:
            assert 1 <= len(registers) <= min(meter_map.max_block, 125)
            assert {min(registers), max(registers)} <= used
            assert longest_hole(registers & used) <= meter_map.max_gap


@given(meter_maps())
def test_blocks_name_the_values_they_read(meter_map: MeterMap) -> None:
    """A block lists a value if it reads the value's registers or its power of ten whole."""
    for block in plan_blocks(meter_map):
        registers = read_by(block)
        expected = [
            value
            for value in meter_map.values
            if value.table is block.table
            and (
                registers.issuperset(range(value.address, value.address + WORDS[value.encoding]))
                or value.scale_from in registers
            )
        ]
        assert list(block.values) == expected


@given(meter_maps(most_values=4, last_address=40))
def test_no_plan_has_fewer_reads(meter_map: MeterMap) -> None:
    """Trying every grouping finds none with fewer reads."""
    blocks = plan_blocks(meter_map)
    for table in Table:
        spans = sorted(wanted(meter_map, table), key=min)
        count = sum(block.table is table for block in blocks)
        assert count == fewest_reads(spans, meter_map.max_block, meter_map.max_gap)


def table_of(*addresses: int, encoding: str = "u16", max_block: int = 60, max_gap: int = 8) -> MeterMap:
    """Make a map with a value at each address."""
    values = tuple(Value(f"ch{a}", "volts", Table.INPUT, a, encoding) for a in addresses)
    return MeterMap("bench", "invented", values, max_block, max_gap)


def cut(meter_map: MeterMap) -> list[tuple[int, int]]:
    """Plan, and give address and count of each block."""
    return [(block.address, block.count) for block in plan_blocks(meter_map)]


def test_a_gap_is_read_over_up_to_max_gap() -> None:
    """Three unused registers are read over at max_gap 3, four are not."""
    assert cut(table_of(0, 4, max_gap=3)) == [(0, 5)]
    assert cut(table_of(0, 5, max_gap=3)) == [(0, 1), (5, 1)]


def test_a_value_is_never_split() -> None:
    """A two-register value that does not fit whole goes into the next block whole."""
    assert cut(table_of(0, 2, 4, encoding="float32", max_block=5)) in ([(0, 4), (4, 2)], [(0, 2), (2, 4)])


def test_the_protocol_limit_holds_over_a_larger_wish() -> None:
    """No block passes 125 registers, whatever the map asks for."""
    assert max(count for _, count in cut(table_of(*range(200), max_block=500))) == 125


def test_the_shorter_of_two_plans_is_taken() -> None:
    """With as many reads either way, the gap is left out rather than read over."""
    assert cut(table_of(0, 1, 9, 10, 11, 12, max_block=11, max_gap=8)) == [(0, 2), (9, 4)]


def test_neighbouring_reads_differ_in_length_where_they_can() -> None:
    """Ten registers in blocks of at most six are never read as five and five."""
    counts = [count for _, count in cut(table_of(*range(10), max_block=6))]
    assert sorted(counts) == [4, 6]


def cost(cuts: list[tuple[int, int]]) -> tuple[int, int, int]:
    """Give what a plan of one table costs: reads, neighbours of one length, registers."""
    counts = [count for _, count in cuts]
    return len(counts), sum(one == other for one, other in pairwise(counts)), sum(counts)


@given(
    st.lists(st.tuples(st.integers(0, 6), st.sampled_from(ENCODINGS)), min_size=1, max_size=8),
    st.integers(4, 14),
    st.integers(0, 6),
)
def test_no_plan_is_cheaper(layout: list[tuple[int, str]], max_block: int, max_gap: int) -> None:
    """Of values side by side, cutting at every possible set of places finds nothing cheaper."""
    values: list[Value] = []
    address = 0
    for gap, encoding in layout:
        values.append(Value(f"ch{address}", "volts", Table.INPUT, address + gap, encoding))
        address += gap + WORDS[encoding]
    meter_map = MeterMap("bench", "invented", tuple(values), max_block, max_gap)
    costs: list[tuple[int, int, int]] = []
    for cuts in product([False, True], repeat=len(values) - 1):
        groups = [[values[0]]]
        for value, begin in zip(values[1:], cuts, strict=True):
            groups.append([value]) if begin else groups[-1].append(value)
        used = [frozenset().union(*(range(v.address, v.address + WORDS[v.encoding]) for v in g)) for g in groups]
        if all(max(u) - min(u) < max_block and longest_hole(u) <= max_gap for u in used):
            costs.append(cost([(min(u), max(u) - min(u) + 1) for u in used]))
    assert cost(cut(meter_map)) == min(costs)


def test_both_tables_are_read_apart() -> None:
    """Equal addresses in the two tables are two reads."""
    values = tuple(
        Value("ch1", quantity, table, 0, "u16") for quantity, table in zip(("volts", "amps"), Table, strict=True)
    )
    blocks = plan_blocks(MeterMap("bench", "invented", values))
    assert [(block.table, block.address, block.count) for block in blocks] == [(t, 0, 1) for t in Table]


def test_a_value_longer_than_a_block_is_refused() -> None:
    """Four registers don't fit a block of three."""
    with pytest.raises(ValueError, match="belong together"):
        plan_blocks(table_of(0, encoding="u64", max_block=3))
