"""Which replies may be copies of the one before, against a wire that sends twice and loses what it likes."""

from __future__ import annotations

import contextlib
from collections import deque
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from hypothesis import example, given, settings
from hypothesis import strategies as st

from drivers.bus.copies import Copies
from drivers.maps.model import Block, Table

if TYPE_CHECKING:
    from collections.abc import Iterator

PARTING = Block(Table.INPUT, 0, 2)
Frame = tuple[int, int, int | None]
"""Which request it answers, its length, and what it carries; None for a refusal."""


@dataclass
class Wire:
    """A meter that answers in order; every reply may be lost, be sent twice, and each copy may come late."""

    asked: int = 0
    under_way: deque[Frame] = field(default_factory=deque)

    def ask(self, count: int, value: int | None, copies: int) -> Frame | None:
        """Ask; what was under way comes first and is taken for the answer."""
        self.asked += 1
        self.under_way.extend([(self.asked, count, value)] * copies)
        return self.under_way.popleft() if self.under_way else None


class Ended(Exception):
    """The meter is in doubt: from there ``resync`` takes over."""


@dataclass
class Poll:
    """Asks as the bus's poller does, until no frame comes or one of another form."""

    numbers: Iterator[int]
    wire: Wire = field(default_factory=Wire)
    copies: Copies = field(default_factory=Copies)
    wary: bool = True

    def part(self) -> None:
        """Ask something else; a refusal can only be the copy of one, for this meter refuses no parting."""
        frame = self.wire.ask(PARTING.count, self.wire.asked, next(self.numbers, 1))
        if frame is None or frame[2] is None or frame[1] != PARTING.count:
            raise Ended
        self.copies.replied(PARTING, (frame[2],))

    def ask(self, block: Block, value: int | None) -> Frame:
        """Ask for a block."""
        frame = self.wire.ask(block.count, value, next(self.numbers, 1))
        if frame is None or (frame[2] is not None and frame[1] != block.count):
            raise Ended
        if frame[2] is None:
            self.copies.refusal(block)
        else:
            self.copies.replied(block, (frame[2],))
        return frame

    def read(self, block: Block, value: int | None) -> Frame:
        """Read a block, twice where it must be."""
        before = self.copies.before(block)
        parted = self.copies.must_part(block, wary=self.wary)
        if parted:
            self.part()
        frame = self.ask(block, value)
        if frame[2] is not None and self.copies.doubtful(block, before, (frame[2],)) and not parted:
            self.part()
            frame = self.ask(block, value)
        if frame[2] is not None:
            self.copies.believed(block, before, (frame[2],))
        return frame


@settings(max_examples=1000)
@given(
    st.lists(st.sampled_from([1, 1, 2, None]), min_size=3, max_size=30),
    st.lists(st.sampled_from([1, 1, 1, 0, 2]), max_size=90),
    st.sampled_from([(6,), (6, 6), (6, 6, 6), (6, 4)]),
)
@example([1, None, None, 1, 1, 1], [1, 2, 2], (6, 4))
def test_no_reply_is_believed_that_answers_an_earlier_question(
    values: list[int | None], numbers: list[int], lengths: tuple[int, ...]
) -> None:
    """Whatever is lost or sent twice, numbers that stand still or not: a reply believed is this question's."""
    poll = Poll(iter(numbers))
    blocks = [Block(Table.INPUT, 20 * place, count) for place, count in enumerate(lengths)]
    with contextlib.suppress(Ended):
        for turn, value in enumerate(values):
            frame = poll.read(blocks[turn % len(blocks)], value)
            assert frame[2] is None or frame[0] == poll.wire.asked


@settings(max_examples=1000)
@given(
    st.lists(st.sampled_from([1, 1, 2, 3, None]), min_size=3, max_size=30),
    st.lists(st.sampled_from([1, 1, 1, 0, 2]), max_size=90),
    st.sampled_from([(6,), (6, 6), (6, 6, 6), (6, 4)]),
)
def test_on_a_quiet_line_only_a_steady_blocks_last_number_may_stand_once_more(
    values: list[int | None], numbers: list[int], lengths: tuple[int, ...]
) -> None:
    """Nothing was ever heard unasked: what is believed is right, or the number that this block gave twice before."""
    poll = Poll(iter(numbers), wary=False)
    blocks = [Block(Table.INPUT, 20 * place, count) for place, count in enumerate(lengths)]
    given: dict[Block, list[int | None]] = {block: [] for block in blocks}
    with contextlib.suppress(Ended):
        for turn, value in enumerate(values):
            block = blocks[turn % len(blocks)]
            frame = poll.read(block, value)
            if frame[2] is not None:
                late = frame[0] != poll.wire.asked
                assert not late or given[block][-2:] == [frame[2], frame[2]]
                given[block].append(frame[2])


def test_a_steady_block_is_parted_beforehand_on_a_wary_line_only() -> None:
    """The first repeat is read again; then it is believed, on a wary line after a parting; its moving is doubted."""
    copies, block = Copies(), Block(Table.INPUT, 0, 6)
    copies.replied(block, (7,))
    assert not copies.must_part(block, wary=True)
    assert copies.doubtful(block, copies.before(block), (7,))
    copies.believed(block, (7,), (7,))
    assert copies.must_part(block, wary=True)
    assert not copies.must_part(block, wary=False)
    assert not copies.doubtful(block, (7,), (7,))
    assert copies.doubtful(block, (7,), (8,))
    copies.believed(block, (7,), (8,))
    assert not copies.doubtful(block, (8,), (9,))
    assert not copies.must_part(block, wary=True)
