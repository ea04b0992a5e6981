"""Whether a meter's next reply can be believed, where replies carry no number.

A reply on a serial line says unit, function and length, never which request it answers. So after a request
without its reply a late one may come at any time, pass for the answer to the next request, and shift every
reading after it by one.

What brings a meter back in step is a *probe*: a read whose length neither a block of its map has nor another
probe that may still be answered. Its reply can't be mistaken for another's. A meter answers in the order in
which it was asked, so once a probe is answered no reply to an earlier request can follow.

There may be no such length (all are used up, or the meter refuses them, as one with a single register may). Then
only time helps: the meter is left alone for ``SETTLE_S``, the next read is thrown away and that cycle is suspect.

A second copy of a reply may also come; see ``copies``. So that no copy of a probe's reply passes for the next
probe's, no probe is sent twice in a row where there is another.

=============  ==============================================  ==================================
standing       means                                           may be asked
=============  ==============================================  ==================================
IN_STEP        every request has had its reply                 its blocks
IN_DOUBT       a reply may be under way                        a probe
=============  ==============================================  ==================================
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

from drivers.maps.blocks import READ_LIMIT
from drivers.maps.encodings import WORDS
from drivers.maps.model import Block

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

SETTLE_S = 15.0
"""A reply later than this is not reckoned with (a judgement; slow gateways give up after one to five seconds)."""
_ENOUGH_SILENT = 2  # probes without a reply
_MOST_PROBES = 8
"""Enough that a silent meter, probed every few seconds, has one left at any time within ``SETTLE_S``."""
_HIGHEST_ADDRESS = 0xFFFF


class Standing(StrEnum):
    """Whether a meter's next reply can be believed."""

    IN_STEP = "in step"
    IN_DOUBT = "in doubt"


class Heard(StrEnum):
    """What came of one request."""

    REPLY = "reply"  # a whole frame that matches the request
    REFUSAL = "refusal"  # a whole exception frame
    NOTHING = "nothing"  # silence, or bytes that are no reply


AFTER_BLOCK = {
    Heard.REPLY: Standing.IN_STEP,
    Heard.REFUSAL: Standing.IN_STEP,
    Heard.NOTHING: Standing.IN_DOUBT,
}
AFTER_PROBE = {
    Heard.REPLY: Standing.IN_STEP,
    Heard.REFUSAL: Standing.IN_DOUBT,  # all exception frames are alike: it may be an earlier request's
    Heard.NOTHING: Standing.IN_DOUBT,
}


@dataclass(slots=True)
class Trust:
    """The standing of one meter. Every time is on the monotonic clock [s].

    Attributes:
        probes: reads that can be told from its blocks, best first.
        block: the first of its blocks, or None. Some meters answer nothing else; so long after a block was asked
            that its reply is not reckoned with any more, this one is as good as a probe.
        standing: see the module.
        asked_s: when it was asked last.

    """

    probes: tuple[Block, ...]
    block: Block | None = None
    standing: Standing = Standing.IN_STEP
    asked_s: float = float("-inf")
    _sent: dict[int, float] = field(default_factory=dict)  # length of a probe without its reply: when it was sent
    _refused: set[int] = field(default_factory=set)
    _answered: int = 0  # length of the probe answered last
    _deaf: bool = False  # to every probe, so that time had to help
    _block_s: float = float("-inf")  # when a block was asked last

    @property
    def in_step(self) -> bool:
        """Whether the blocks may be asked."""
        return self.standing is Standing.IN_STEP

    def probe(self, now_s: float) -> Block | None:
        """Give the probe to send now, or None where only time helps."""
        if self.block and len(self._sent) >= _ENOUGH_SILENT and now_s - self._block_s >= SETTLE_S:
            return self.block
        free = [probe for probe in self.probes if self._is_free(probe.count, now_s)]
        return next((probe for probe in free if probe.count != self._answered), free[0] if free else None)

    def _is_free(self, count: int, now_s: float) -> bool:
        return count not in self._refused and now_s - self._sent.get(count, float("-inf")) >= SETTLE_S

    def parting(self, now_s: float) -> Block | None:
        """Give what to ask a meter in step besides its blocks, or None where it answers nothing else."""
        return None if self._deaf else self.probe(now_s)

    def after_block(self, heard: Heard, now_s: float) -> None:
        """Note what came of a block read by ``now_s``."""
        self.standing = AFTER_BLOCK[heard]
        self.asked_s = self._block_s = now_s

    def after_probe(self, probe: Block, heard: Heard, now_s: float) -> None:
        """Note what came of ``probe``; a refused one is not sent again until the meter is in step."""
        self.standing = AFTER_PROBE[heard]
        self.asked_s = self._sent[probe.count] = now_s
        if probe == self.block:
            self._block_s = now_s
        if heard is Heard.REFUSAL:
            self._refused.add(probe.count)
        elif heard is Heard.REPLY:
            self._answered, self._deaf = probe.count, probe == self.block
            self._come_in_step()

    def after_parting(self, probe: Block, heard: Heard, now_s: float) -> None:
        """Note what came of ``probe``, sent to a meter in step: a refusal is as good an answer as any other."""
        if heard is Heard.NOTHING:
            self.after_probe(probe, heard, now_s)
        else:
            self._answered = probe.count

    def doubt(self, now_s: float) -> None:
        """Note bytes that nobody asked for, or a request whose fate is unknown."""
        self.standing = Standing.IN_DOUBT
        self.asked_s = now_s

    def settled(self, now_s: float) -> bool:
        """Say whether the meter has been left alone so long that nothing can be under way."""
        return now_s - self.asked_s >= SETTLE_S

    def settle(self) -> None:
        """Note that nothing is under way any more, for so much time has gone."""
        self._deaf = bool(self._sent) and not self._refused
        self._come_in_step()

    def _come_in_step(self) -> None:
        self.standing = Standing.IN_STEP
        self._sent.clear()
        self._refused.clear()


def plan_probes(blocks: Sequence[Block]) -> tuple[Block, ...]:
    """Give some probes for a meter, best first, each of its own length.

    First come reads of whole values inside a block, shortest first; then of any registers inside a block (some
    meters refuse half a value); last, reads that reach past a block's end.
    """
    taken = {block.count for block in blocks}
    found: dict[int, Block] = {}
    for probe in (*_whole_values(blocks), *_parts(blocks), *_past_the_end(blocks)):
        if probe.count not in taken:
            found.setdefault(probe.count, probe)
        if len(found) == _MOST_PROBES:
            break
    return tuple(found.values())


def _whole_values(blocks: Sequence[Block]) -> Iterator[Block]:
    values = [
        Block(block.table, value.address, WORDS[value.encoding])
        for block in blocks
        for value in block.values
        if value.table is block.table and _inside(block, value.address, WORDS[value.encoding])
    ]
    runs = [
        Block(value.table, block.address, value.address + value.count - block.address)
        for block in blocks
        for value in values
        if value.table is block.table and _inside(block, value.address, value.count)
    ]
    yield from sorted((*values, *runs), key=lambda probe: probe.count)


def _inside(block: Block, address: int, count: int) -> bool:
    return block.address <= address and address + count <= block.address + block.count


def _parts(blocks: Sequence[Block]) -> Iterator[Block]:
    for block in blocks:
        for count in range(1, block.count):
            yield Block(block.table, block.address, count)


def _past_the_end(blocks: Sequence[Block]) -> Iterator[Block]:
    for block in blocks:
        for count in range(block.count + 1, min(READ_LIMIT, _HIGHEST_ADDRESS + 1 - block.address) + 1):
            yield Block(block.table, block.address, count)
