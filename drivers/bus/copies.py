"""Whether a frame may be a second copy of the one before it. Pure.

Some gateways and radios send a reply twice. Where the next question to that meter asks for as many registers and
its own reply is lost, the copy passes for the answer: one frame for each request, and all of the right form. Only
what is in it tells, for a copy is the same to the last bit.

So a reply that repeats the frame before it is not believed until the meter has answered something else in between
(a *parting*). A meter answers in the order in which it was asked, and a copy keeps its place behind its first, so
after a parting no copy can follow. Where a meter's numbers stand still, the parting is asked beforehand if the frame
before answered another block, or the line is wary: something came lately that nobody asked for. On any other line a
block whose repeat was found true once is believed until it moves, and is then read again after a parting: a copy
could only hold its moving back by one reading, and a parting each time would cost a third of the line's time
(measured).

All refusals are alike. In a row of them each but the first may be a copy, and the reply that it stands for still
under way; so may it be where a steady block is refused. A parting comes before the next question which that reply
would fit.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from drivers.maps.model import Table

if TYPE_CHECKING:
    from drivers.maps.model import Block

    Registers = tuple[int, ...]
    Form = tuple[Table, int]


def _place(block: Block) -> int:
    """Give where a block begins, in a form that costs little to look up."""
    return block.address if block.table is Table.INPUT else ~block.address


def _form(block: Block) -> Form:
    """Give what a reply's form tells of its question."""
    return block.table, block.count


@dataclass(slots=True)
class Copies:
    """What the last frame of one meter was, and what could be mistaken for it.

    Attributes:
        refused: the last frame was a refusal.

    """

    refused: bool = False
    _block: Block | None = None
    _registers: Registers | None = None
    _steady: set[int] = field(default_factory=set)  # places of blocks whose last reply repeated the one before
    _under_way: set[Form] = field(default_factory=set)  # of the replies that repeated refusals may stand for

    def replied(self, block: Block, registers: Registers) -> None:
        """Note a reply to ``block``."""
        self.refused, self._block, self._registers = False, block, registers
        self._under_way.clear()

    def refusal(self, block: Block) -> None:
        """Note a refusal of ``block``."""
        if self.refused or _place(block) in self._steady:
            self._under_way.add(_form(block))
            self._steady.discard(_place(block))
        self.refused, self._block, self._registers = True, None, None

    def before(self, block: Block) -> Registers | None:
        """Give the registers of the last frame where it has the form of a reply to ``block``."""
        return self._registers if self._like(block) else None

    def must_part(self, block: Block, *, wary: bool) -> bool:
        """Say whether something else must be asked before ``block``."""
        if _form(block) in self._under_way:
            return True
        return self._like(block) and _place(block) in self._steady and (wary or block != self._block)

    def _like(self, block: Block) -> bool:
        return self._block is not None and _form(self._block) == _form(block)

    def doubtful(self, block: Block, before: Registers | None, registers: Registers) -> bool:
        """Say whether a reply to ``block`` must be read again after a parting.

        It repeats the frame ``before`` for the first time, or moves after it repeated.
        """
        return before is not None and (_place(block) in self._steady) != (registers == before)

    def believed(self, block: Block, before: Registers | None, registers: Registers) -> None:
        """Note what was believed in the end: whether it repeats the frame ``before``."""
        if registers == before:
            self._steady.add(_place(block))
        else:
            self._steady.discard(_place(block))
