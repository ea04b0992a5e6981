"""What a stretch of bytes that came unasked looks like: text lines, telegrams, somebody's Modbus, or noise. Pure."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from drivers.errors import Corrupt
from drivers.iec62056.telegram import end_of_unasked, identification, unasked
from drivers.textlines.fields import fields_of
from drivers.textlines.lines import Lines

if TYPE_CHECKING:
    from collections.abc import Iterator

    from drivers.fields.model import Fields

_LONGEST_FRAME, _SHORTEST_FRAME = 256, 5
_POLYNOMIAL = 0xA001
_GOOD_FUNCTIONS = (1, 2, 3, 4, 5, 6, 15, 16)
_EIGHTH = 0x80
_FRAMES_NEEDED = 2
"""So many whole frames are no accident: the check of one fits noise once in 65536."""


@dataclass(frozen=True, slots=True)
class Guess:
    """What came, as far as it can be told.

    Attributes:
        protocol: ``text``, ``iec62056-21`` or ``modbus-rtu`` as a show file names it; empty where it is none of them.
        messages: whole messages among it.
        fields: of the newest message, for text and telegrams.
        lines: the newest lines or units, to show.
        damaged: messages that were not whole.
        data_bits: 7 where the eighth bit is a parity bit, else 8.
        parity: ``E`` or ``O`` where the eighth bit shows it, else ``N``.

    """

    protocol: str
    messages: int
    fields: Fields
    lines: tuple[str, ...]
    damaged: int = 0
    data_bits: int = 8
    parity: str = "N"


def recognise(data: bytes, shown: int = 6) -> Guess:
    """Say what ``data`` looks like, received with eight data bits and no parity bit.

    Seven data bits with a parity bit look like eight: then every byte has an even (or every byte an odd) number of
    ones, and some have the eighth bit set.

    Args:
        data: what came, in order; it may begin and end within a message.
        shown: how many lines to keep.

    """
    plain = _recognised(data, shown)
    if plain.protocol or not any(byte & _EIGHTH for byte in data):
        return plain
    ones = {byte.bit_count() % 2 for byte in data}
    if len(ones) != 1:
        return plain
    parity = "O" if ones.pop() else "E"
    seven = _recognised(bytes(byte & ~_EIGHTH for byte in data), shown)
    if not seven.protocol:
        return plain
    return Guess(seven.protocol, seven.messages, seven.fields, seven.lines, seven.damaged, 7, parity)


def _recognised(data: bytes, shown: int) -> Guess:
    found = _telegrams(data, shown)
    if found is not None:
        return found
    units = tuple(_frames(data))
    if len(units) >= _FRAMES_NEEDED:
        counts = Counter(units)
        lines = tuple(f"unit {unit}: {number} frames" for unit, number in sorted(counts.items()))
        return Guess("modbus-rtu", len(units), {}, lines[:shown])
    return _text(data, shown)


def _telegrams(data: bytes, shown: int) -> Guess | None:
    fields: Fields = {}
    whole = damaged = 0
    first, rest = b"", data
    while rest:
        try:
            telegram = unasked(rest, check_needed=False)
        except Corrupt:
            damaged += 1
            rest = rest[end_of_unasked(rest) :]
            continue
        if telegram is None:
            break
        fields, _, end = telegram
        first = first or rest[:end]
        whole, rest = whole + 1, rest[end:]
    if not whole and (not damaged or identification(data) is None):
        return None
    return Guess("iec62056-21", whole, fields, _shown((first or data).splitlines())[:shown], damaged)


def _text(data: bytes, shown: int) -> Guess:
    cut = Lines()
    lines = cut.feed(b"\n" + data)
    fields: Fields = {}
    whole = damaged = 0
    for line in lines[1:] if len(lines) > 1 else lines:  # the first may be the end of one
        try:
            found = fields_of(line.decode("utf-8"))
        except (Corrupt, UnicodeDecodeError):
            damaged += 1
            continue
        if found:
            whole, fields = whole + 1, found
    readable = whole > damaged
    return Guess("text" if readable else "", whole, fields if readable else {}, _shown(lines)[-shown:], damaged)


def _frames(data: bytes) -> Iterator[int]:
    """Give the unit of every whole Modbus RTU frame, wherever it begins."""
    at = 0
    while at + _SHORTEST_FRAME <= len(data):
        end = _frame_end(data, at)
        if end:
            yield data[at]
        at = end or at + 1


def _frame_end(data: bytes, at: int) -> int:
    """Give where the frame that begins at ``at`` ends, or 0 where none does (its CRC over itself leaves 0)."""
    if data[at + 1] & ~_EIGHTH not in _GOOD_FUNCTIONS:
        return 0
    crc = 0xFFFF
    for index in range(at, min(len(data), at + _LONGEST_FRAME)):
        crc ^= data[index]
        for _ in range(8):
            crc = crc >> 1 ^ _POLYNOMIAL if crc & 1 else crc >> 1
        if crc == 0 and index - at + 1 >= _SHORTEST_FRAME:
            return index + 1
    return 0


def _shown(lines: list[bytes]) -> tuple[str, ...]:
    texts = (line.decode("utf-8", "replace") for line in lines if line)
    return tuple("".join(c if c.isprintable() else "?" for c in text)[:76] for text in texts)
