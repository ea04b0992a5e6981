"""Every way to read registers as numbers, and which of them give a value that somebody measured. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING

from drivers.maps.encodings import ENCODINGS, WORD_ORDERS, WORDS, decode, is_float

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

INTEGER_SCALES = (1.0, 0.1, 0.01, 0.001, 0.0001, 10.0, 100.0, 1000.0)
FLOAT_SCALES = (1.0, 1000.0, 0.001)  # kilo and milli; both lists are common practice, no source


@dataclass(frozen=True, slots=True, order=True)
class Way:
    """One way to read a value.

    Attributes:
        address: first register, from 0.
        encoding: as in a register map.
        word_order: as in a register map.
        scale: factor from the number to the unit.

    """

    address: int
    encoding: str
    word_order: str
    scale: float = 1.0

    @property
    def words(self) -> int:
        """How many registers it takes."""
        return WORDS[self.encoding]

    def value(self, registers: Mapping[int, int]) -> float | None:
        """Read the value; None where a register is missing or it is no finite number."""
        words = [registers.get(self.address + i) for i in range(self.words)]
        known = [word for word in words if word is not None]
        if len(known) < len(words):
            return None
        value = decode(known, self.encoding, self.word_order)
        return value * self.scale if isfinite(value) else None


def orders_of(encoding: str) -> tuple[str, ...]:
    """Give the word orders that differ for an encoding: a single register has two, the bytes as they are or swapped."""
    return ("ABCD", "BADC") if WORDS[encoding] == 1 else WORD_ORDERS


def ways_at(address: int) -> Iterator[Way]:
    """Give every way to read what begins at a register, unscaled."""
    for encoding in ENCODINGS:
        for order in orders_of(encoding):
            yield Way(address, encoding, order)


def find(registers: Mapping[int, int], value: float, tolerance: float) -> tuple[Way, ...]:
    """Give every way that reads ``value`` within ``tolerance`` (a part of it), the plainest first.

    Args:
        registers: register 0 to 65535 by address.
        value: measured by hand, in the unit; not 0.
        tolerance: for example 0.01 for 1 %.

    """
    found: list[Way] = []
    for address in registers:
        for plain in ways_at(address):
            read = plain.value(registers)
            if not read:
                continue
            found += [
                Way(plain.address, plain.encoding, plain.word_order, scale)
                for scale in (FLOAT_SCALES if is_float(plain.encoding) else INTEGER_SCALES)
                if abs(read * scale - value) <= tolerance * abs(value)
            ]
    return tuple(sorted(found, key=_plainness))


def narrow(ways: Iterable[Way], registers: Mapping[int, int], value: float, tolerance: float) -> tuple[Way, ...]:
    """Give those of ``ways`` that also read another value, of a later moment."""
    kept = []
    for way in ways:
        read = way.value(registers)
        if read is not None and abs(read - value) <= tolerance * abs(value):
            kept.append(way)
    return tuple(kept)


def alike(ways: Iterable[Way]) -> tuple[tuple[Way, ...], ...]:
    """Put ways together that differ only for numbers larger than one register holds, each group's plainest first.

    A small whole number reads the same as ``u16`` and as the low end of ``u32``; no value measured by hand tells
    which it is, only the meter's document does.
    """
    groups: dict[tuple[object, ...], list[Way]] = {}
    for way in sorted(ways, key=_plainness):
        low_first = way.word_order in ("CDAB", "DCBA")
        low = way.address if low_first else way.address + way.words - 1
        swapped = way.word_order in ("BADC", "DCBA")
        key = (way,) if is_float(way.encoding) else (low, swapped, way.scale)
        groups.setdefault(key, []).append(way)
    return tuple(tuple(group) for group in groups.values())


def _plainness(way: Way) -> tuple[bool, int, int, int, int]:
    """Order by how common it is: two-register floats and short integers, plain byte order, no scale."""
    likely = ("float32", "u16", "i16", "u32", "i32", "float64", "u64", "i64")
    return (
        way.word_order[0] == "B" or way.word_order == "DCBA",
        likely.index(way.encoding),
        WORD_ORDERS.index(way.word_order),
        INTEGER_SCALES.index(way.scale),
        way.address,
    )
