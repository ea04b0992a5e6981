"""A register map as frozen data."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum


class Table(StrEnum):
    """Which Modbus table a value lives in; ``INPUT`` is read by function 4, ``HOLDING`` by function 3."""

    INPUT = "input"
    HOLDING = "holding"

    __hash__ = str.__hash__  # Enum's own is Python code, and every register of every poll is found by it


@dataclass(frozen=True, slots=True)
class Value:
    """One quantity of one channel in the registers.

    Attributes:
        channel: the channel's name.
        quantity: a name of ``drivers.quantities.QUANTITIES``.
        table: where it lives.
        address: first register, counted from 0 (the map's ``address_base`` is already taken off).
        encoding: ``u16 i16 u32 i32 u64 i64 float32 float64``.
        word_order: ``ABCD CDAB BADC DCBA``.
        scale: factor from the raw number to the SI unit.
        scale_from: register (from 0, i16) that holds a power of ten to apply as well, or None.
        missing: raw bit patterns, in ABCD order, that mean "no value".
        scale_missing: what the register ``scale_from`` holds where nothing is to be shifted, or None.

    """

    channel: str
    quantity: str
    table: Table
    address: int
    encoding: str
    word_order: str = "ABCD"
    scale: float = 1.0
    scale_from: int | None = None
    missing: tuple[int, ...] = ()
    scale_missing: int | None = None


@dataclass(frozen=True, slots=True)
class MeterMap:
    """A whole register map.

    Attributes:
        name: for people.
        source: which document the map was made from; never empty.
        values: every value, in the file's order.
        max_block: most registers in one read (1 to 125).
        max_gap: unused registers that may be read over to keep one block.

    """

    name: str
    source: str
    values: tuple[Value, ...]
    max_block: int = 60
    max_gap: int = 8

    @property
    def channels(self) -> tuple[str, ...]:
        """Names of the channels, in the file's order."""
        return tuple(dict.fromkeys(v.channel for v in self.values))


@dataclass(frozen=True, slots=True)
class Block:
    """One read of neighbouring registers.

    Attributes:
        table: input or holding.
        address: first register, from 0.
        count: registers (1 to 125).
        values: the values whose registers (and scale registers) lie in this block.

    """

    table: Table
    address: int
    count: int
    values: tuple[Value, ...] = field(default=())
