"""What brings a meter back in step, against a wire that delays whatever it likes."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field

from hypothesis import given
from hypothesis import strategies as st

from drivers.bus.resync import AFTER_BLOCK, AFTER_PROBE, SETTLE_S, Heard, Standing, Trust, plan_probes
from drivers.maps.blocks import READ_LIMIT, plan_blocks
from drivers.maps.model import Block, MeterMap, Table, Value
from tests.drivers.maps.strategies import meter_maps
from tests.support.responder import meter_map


def test_every_case_is_in_the_tables() -> None:
    """Total: each outcome of each kind of request has its standing."""
    assert set(AFTER_BLOCK) == set(AFTER_PROBE) == set(Heard)


def test_only_a_probes_own_reply_ends_the_doubt() -> None:
    """A refusal does not: every refusal looks the same, so it may be an earlier request's."""
    assert {heard for heard, standing in AFTER_PROBE.items() if standing is Standing.IN_STEP} == {Heard.REPLY}


@given(meter_maps())
def test_a_probe_can_be_told_from_every_block(used: MeterMap) -> None:
    """No probe has a block's length; each can be asked; a whole value comes first where one will do."""
    blocks = plan_blocks(used)
    probes = plan_probes(blocks)
    lengths = {block.count for block in blocks}
    assert len({probe.count for probe in probes}) == len(probes)
    for probe in probes:
        assert probe.count not in lengths
        assert 1 <= probe.count <= READ_LIMIT
        assert probe.address + probe.count <= 0x10000
    assert probes, "a length is left for every map that leaves the address space room"


def test_the_best_probe_reads_whole_values_inside_a_block() -> None:
    """Six registers of three float32: two registers, the first value."""
    assert plan_probes(plan_blocks(meter_map((10, 6))))[0] == Block(Table.INPUT, 10, 2)


def test_a_map_of_one_register_can_only_probe_past_its_end() -> None:
    """Two registers from the same place."""
    blocks = plan_blocks(MeterMap("one", "invented", (Value("a", "volts", Table.HOLDING, 7, "u16"),)))
    assert plan_probes(blocks)[0] == Block(Table.HOLDING, 7, 2)


def test_refused_probes_are_not_repeated_until_the_meter_is_in_step() -> None:
    """One after the other, then none, then time alone; afterwards from the start."""
    trust = Trust(plan_probes(plan_blocks(meter_map((0, 6)))))
    trust.after_block(Heard.NOTHING, 1.0)
    seen = []
    while (probe := trust.probe(2.0)) is not None:
        seen.append(probe)
        trust.after_probe(probe, Heard.REFUSAL, 2.0)
    assert seen == list(trust.probes)
    assert not trust.in_step
    assert trust.probe(1e6) is None
    assert not trust.settled(2.0 + SETTLE_S - 0.001)
    assert trust.settled(2.0 + SETTLE_S)
    trust.settle()
    assert trust.in_step
    assert trust.probe(2.0 + SETTLE_S) == seen[0]


@given(st.floats(0.0, 1.0))
def test_a_silent_meter_always_has_a_probe_left(poll_s: float) -> None:
    """Asked again after 1, 2, 4, 4 ... seconds for minutes: each time with a length that nothing else under way has."""
    blocks = plan_blocks(meter_map((0, 2)))
    trust = Trust(plan_probes(blocks), blocks[0])
    trust.after_block(Heard.NOTHING, 0.0)
    now_s, sent = 0.0, [(0.0, 2)]
    for wait_s in [0.0, 1.0, 2.0] + [4.0] * 40:
        now_s += wait_s + poll_s
        probe = trust.probe(now_s)
        assert probe is not None
        assert probe.count not in {count for sent_s, count in sent if now_s - sent_s < SETTLE_S}
        sent.append((now_s, probe.count))
        trust.after_probe(probe, Heard.NOTHING, now_s)


def test_a_meter_that_answers_its_block_alone_comes_back() -> None:
    """Silent to every probe: so long after the block was asked that its reply can't come, the block is the probe."""
    blocks = plan_blocks(meter_map((0, 6)))
    trust = Trust(plan_probes(blocks), blocks[0])
    trust.after_block(Heard.NOTHING, 0.0)
    now_s = 0.0
    while (probe := trust.probe(now_s)) != blocks[0]:
        assert probe is not None
        assert now_s < SETTLE_S + 4.0
        trust.after_probe(probe, Heard.NOTHING, now_s)
        now_s += 4.0
    assert now_s >= SETTLE_S
    trust.after_probe(blocks[0], Heard.REPLY, now_s)
    assert trust.in_step
    assert trust.parting(now_s) is None, "it would not answer that either"


def test_no_probe_is_sent_twice_in_a_row() -> None:
    """A second copy of a probe's reply is then told from the next probe's."""
    trust = Trust(plan_probes(plan_blocks(meter_map((0, 6)))))
    seen = []
    for now_s in range(4):
        trust.after_block(Heard.NOTHING, now_s)
        probe = trust.probe(now_s)
        assert probe is not None
        trust.after_probe(probe, Heard.REPLY, now_s)
        seen.append(probe.count)
    assert all(one != other for one, other in itertools.pairwise(seen))


@dataclass
class Wire:
    """A meter behind a wire that may hold replies back, in order, for as long as it likes.

    A reply is (its question's number, its length); a question waits for one reply or for none.
    """

    asked: int = 0
    held: list[tuple[int, int]] = field(default_factory=list)

    def ask(self, count: int, *, let_through: int) -> tuple[int, int] | None:
        """Ask; ``let_through`` held replies come before the wait is over, the first is taken for the answer."""
        self.asked += 1
        self.held.append((self.asked, count))
        came, self.held = self.held[:let_through], self.held[let_through:]
        return came[0] if came else None


@given(st.lists(st.integers(0, 3), min_size=1, max_size=80), st.sampled_from([(6,), (6, 6), (6, 4), (8, 6, 4)]))
def test_no_block_is_ever_answered_by_an_earlier_reply(delays: list[int], lengths: tuple[int, ...]) -> None:
    """However the wire delays: a reply of the right length to a block is this very question's.

    What came beside the first reply is thrown away. Where no probe is left, time settles the wire.
    """
    blocks = tuple(Block(Table.INPUT, 20 * place, count) for place, count in enumerate(lengths))
    trust, wire = Trust(plan_probes(blocks)), Wire()
    for turn, let_through in enumerate(delays):
        now_s = turn / 1000
        if not trust.in_step and trust.probe(now_s) is None:
            wire.held.clear()
            trust.settle()
        probe = None if trust.in_step else trust.probe(now_s)
        wanted = probe or blocks[turn % len(blocks)]
        answer = wire.ask(wanted.count, let_through=let_through)
        matches = answer is not None and answer[1] == wanted.count
        heard = Heard.REPLY if matches else Heard.NOTHING
        if probe is not None:
            trust.after_probe(probe, heard, now_s)
            continue
        trust.after_block(heard, now_s)
        if matches and answer is not None:
            assert answer[0] == wire.asked
