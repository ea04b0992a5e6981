"""Which replies may be copies of the one before, against a wire that sends twice and loses what it likes."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field

from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.bus.copies import Copies
from drivers.maps.model import Block, Table

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


@settings(max_examples=1000)
@given(
    st.lists(st.sampled_from([1, 1, 2, None]), min_size=3, max_size=30),
    st.lists(st.sampled_from([1, 1, 1, 0, 2]), max_size=90),
    st.sampled_from([(6,), (6, 6), (6, 6, 6), (6, 4)]),
)
def test_no_reply_is_believed_that_answers_an_earlier_question(
    values: list[int | None], numbers: list[int], lengths: tuple[int, ...]
) -> None:
    """Whatever is lost or sent twice, numbers that stand still or not: a reply believed is this question's.

    A frame of another length, or none, ends the trial: from there ``resync`` takes over.
    """
    wire, copies, left = Wire(), Copies(), iter(numbers)
    blocks = [Block(Table.INPUT, 20 * place, count) for place, count in enumerate(lengths)]

    def part() -> bool:
        frame = wire.ask(PARTING.count, wire.asked, next(left, 1))
        if frame is None or (frame[2] is not None and frame[1] != PARTING.count):
            return False
        if frame[2] is None:  # a refused copy: the poller waits for what is under way, and finds it
            return False
        copies.replied(PARTING, (frame[2],))
        return True

    def ask(block: Block, value: int | None) -> Frame | None:
        frame = wire.ask(block.count, value, next(left, 1))
        if frame is None or (frame[2] is not None and frame[1] != block.count):
            return None
        if frame[2] is None:
            copies.refusal(block)
        else:
            copies.replied(block, (frame[2],))
        return frame

    for turn, value in enumerate(values):
        block = blocks[turn % len(blocks)]
        before = copies.before(block)
        if copies.must_part(block) and not part():
            return
        frame = ask(block, value)
        if frame is None:
            return
        if frame[2] is not None and copies.repeats(block, before, (frame[2],)):
            if not part():
                return
            frame = ask(block, value)
            if frame is None:
                return
        if frame[2] is not None:
            assert frame[0] == wire.asked
