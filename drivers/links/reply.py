"""The one place that decides whether a reply answers the question: unit, function, count and types."""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import TYPE_CHECKING

from drivers.errors import Corrupt
from drivers.maps.model import Table

if TYPE_CHECKING:
    from collections.abc import Sequence

FUNCTIONS = {Table.HOLDING: 3, Table.INPUT: 4}
"""Function codes of the MODBUS Application Protocol V1.1b3, 6.3 and 6.4."""

MOST_REGISTERS = 125
_HIGHEST_ADDRESS = 0xFFFF
_HIGHEST_REGISTER = 0xFFFF
_HIGHEST_UNIT = 255


def frame_silence_s(baud: int) -> float:
    """Give the silence between two RTU frames [s]: 3.5 characters of 11 bits, 1.75 ms at least.

    Source: MODBUS over Serial Line V1.02, 2.5.1.1.
    """
    return max(3.5 * 11 / baud, 0.00175)


def registers_in(payload: bytes, sender: int) -> tuple[int, ...]:
    """Take the registers out of a reply's byte count and data.

    Raises:
        Corrupt: the byte count does not agree with the data.

    """
    if not payload or payload[0] != len(payload) - 1 or payload[0] % 2:
        raise Corrupt(f"unit {sender}: the reply's byte count does not agree with its length", sender)
    return struct.unpack(f">{payload[0] // 2}H", payload[1:])


@dataclass(frozen=True, slots=True)
class Question:
    """One block read.

    Attributes:
        unit: unit number.
        table: input or holding.
        address: first register, from 0.
        count: registers.

    """

    unit: int
    table: Table
    address: int
    count: int

    def __post_init__(self) -> None:
        """Refuse what no frame can ask.

        Raises:
            ValueError: unit, address or count out of range.

        """
        if not 0 <= self.unit <= _HIGHEST_UNIT:
            raise ValueError(f"unit {self.unit} is not from 0 to {_HIGHEST_UNIT}")
        if not 1 <= self.count <= MOST_REGISTERS:
            raise ValueError(f"{self.count} registers in one read; from 1 to {MOST_REGISTERS} can be asked")
        if not 0 <= self.address <= _HIGHEST_ADDRESS + 1 - self.count:
            raise ValueError(f"{self.count} registers from {self.address} reach outside 0 to {_HIGHEST_ADDRESS}")

    @property
    def function(self) -> int:
        """The Modbus function code."""
        return FUNCTIONS[self.table]

    def answered_by(self, unit: int, function: int, registers: Sequence[object]) -> tuple[int, ...]:
        """Give the registers of a whole reply that answers this question.

        Args:
            unit: unit number of the reply.
            function: function code of the reply.
            registers: what it carries.

        Raises:
            Corrupt: it answers another question.

        """
        if unit != self.unit:
            raise Corrupt(f"unit {self.unit} was asked, unit {unit} answered", unit)
        if function != self.function:
            raise Corrupt(f"unit {unit}: function {self.function} was asked, {function} answered", unit)
        if len(registers) != self.count:
            raise Corrupt(f"unit {unit}: {self.count} registers were asked, {len(registers)} came", unit)
        whole = tuple(r for r in registers if isinstance(r, int) and 0 <= r <= _HIGHEST_REGISTER)
        if len(whole) != self.count:
            raise Corrupt(f"unit {unit}: the reply holds what is no register", unit)
        return whole
