"""Registers to numbers and back: eight encodings in four word orders, nothing else.

A register is a whole number from 0 to 65535. The letters of a word order name the bytes of a two-register
number, most significant first, in the order in which they travel; for one and four registers the same rule
is carried on: ``ABCD`` as is, ``CDAB`` registers reversed, ``BADC`` the two bytes of each register swapped,
``DCBA`` both. Integers are two's complement; floats are IEEE 754 binary32 and binary64.
"""

from __future__ import annotations

import struct
from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

_FORMATS: Mapping[str, str] = MappingProxyType(
    {
        "u16": ">H",
        "i16": ">h",
        "u32": ">I",
        "i32": ">i",
        "u64": ">Q",
        "i64": ">q",
        "float32": ">f",
        "float64": ">d",
    }
)


class _Swap(NamedTuple):
    registers: bool
    bytes: bool


_ORDERS: Mapping[str, _Swap] = MappingProxyType(
    {
        "ABCD": _Swap(registers=False, bytes=False),
        "CDAB": _Swap(registers=True, bytes=False),
        "BADC": _Swap(registers=False, bytes=True),
        "DCBA": _Swap(registers=True, bytes=True),
    }
)

ENCODINGS: tuple[str, ...] = tuple(_FORMATS)
WORD_ORDERS: tuple[str, ...] = tuple(_ORDERS)
WORDS: Mapping[str, int] = MappingProxyType({name: struct.calcsize(form) // 2 for name, form in _FORMATS.items()})
"""Registers that one number of each encoding takes."""


def is_float(encoding: str) -> bool:
    """Say whether ``encoding`` is one of the two floats."""
    return encoding.startswith("float")


def pattern(registers: Sequence[int], order: str) -> int:
    """Put ``registers`` (any number of them) into ABCD order and give their bits as one whole number."""
    bits = 0
    for register in _reorder(registers, order):
        bits = bits << 16 | register
    return bits


def number(bits: int, encoding: str) -> float:
    """Read ``bits`` (ABCD order, as many as the encoding has) as a number; NaN and infinities come out as such."""
    unpacked: tuple[float] = struct.unpack(_FORMATS[encoding], bits.to_bytes(2 * WORDS[encoding], "big"))
    return unpacked[0]


def decode(registers: Sequence[int], encoding: str, order: str = "ABCD") -> float:
    """Read ``WORDS[encoding]`` registers as a number (an ``int`` where the encoding is one)."""
    return number(pattern(registers, order), encoding)


def to_registers(bits: int, encoding: str, order: str = "ABCD") -> tuple[int, ...]:
    """Write ``bits`` (ABCD order) as registers; the inverse of ``pattern``."""
    count = WORDS[encoding]
    return tuple(_reorder([bits >> 16 * place & 0xFFFF for place in reversed(range(count))], order))


def encode(value: float, encoding: str, order: str = "ABCD") -> tuple[int, ...]:
    """Write a number as registers; the inverse of ``decode``.

    Raises:
        ValueError: it does not fit the encoding, or is no whole number where one is needed.

    """
    try:
        packed = struct.pack(_FORMATS[encoding], value)
    except (struct.error, OverflowError) as error:
        raise ValueError(f"{value!r} does not fit {encoding}") from error
    return to_registers(int.from_bytes(packed, "big"), encoding, order)


def _reorder(registers: Sequence[int], order: str) -> Sequence[int]:
    """Go from ``order`` to ABCD or back (each order is its own inverse)."""
    swap = _ORDERS[order]
    if swap.registers:
        registers = registers[::-1]
    if swap.bytes:
        registers = [(register & 0xFF) << 8 | register >> 8 for register in registers]
    return registers
