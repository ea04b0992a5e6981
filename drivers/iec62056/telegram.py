"""One telegram, cut out of the bytes and checked. Pure.

Two forms (source: notes on IEC 62056-21 and the P1 companion standard, see the tests):

- answered: ``STX data ! CR LF ETX BCC`` behind the identification line; older meters leave STX and BCC out;
- sent unasked (mode D, P1): ``/identification CR LF data ! [CRC] CR LF``; the CRC came with version 4 of P1.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from drivers.errors import Corrupt
from drivers.iec62056.checks import bcc, crc16
from drivers.iec62056.obis import fields_of

if TYPE_CHECKING:
    from drivers.fields.model import Fields

STX, ETX = b"\x02", b"\x03"
LONGEST = 65_536
"""Bytes of one telegram; more is none (a judgement: load profiles make the longest)."""
_UNASKED = re.compile(rb"^/[^\r\n]*\r?\n.*?(?<=\n)!(?P<crc>[^\r\n]*)\r?\n", re.DOTALL | re.MULTILINE)
_CRC = re.compile(rb"[0-9A-Fa-f]{4}")
_END = re.compile(rb"\r?\n!(?P<crc>[^\r\n]*)\r?\n")
_IDENTIFICATION = re.compile(rb"/(?P<maker>[A-Za-z]{3})(?P<speed>[^\r\n])(?P<rest>[^\r\n]{0,64})\r?\n")


@dataclass(frozen=True, slots=True)
class Identification:
    """What a meter answers to the sign-on.

    Attributes:
        speed: the character that names its speed.
        quick: it reacts within 20 ms, else 200 ms (the third letter is a small one).
        end: index behind its line.

    """

    speed: str
    quick: bool
    end: int


def identification(data: bytes) -> Identification | None:
    """Find the identification line in ``data``; what stands before it (an echo, noise) is passed over."""
    found = _IDENTIFICATION.search(data)
    if found is None:
        return None
    return Identification(chr(found["speed"][0]), chr(found["maker"][2]).islower(), found.end())


def answered(data: bytes) -> tuple[Fields, bool] | None:
    """Read the telegram in ``data``, which begins behind the identification line; None while it is not complete.

    Returns:
        Its fields, and whether it had a check.

    Raises:
        Corrupt: it is complete, and damaged.

    """
    begin = data.find(STX)
    if begin >= 0:
        end = data.find(ETX, begin)
        if end < 0 or len(data) < end + 2:
            return None
        block = data[begin + 1 : end + 1]
        if bcc(block) != data[end + 1]:
            raise Corrupt(f"the block check is {data[end + 1]:02X}, the data make {bcc(block):02X}")
        return _fields(block[:-1]), True
    found = _END.search(data)
    return (_fields(data[: found.start()]), False) if found is not None else None


def unasked(data: bytes, *, check_needed: bool) -> tuple[Fields, bool, int] | None:
    """Read the first telegram in ``data``; None while there is no complete one.

    Args:
        data: what came.
        check_needed: this meter sent checks before, so one without is damaged.

    Returns:
        Its fields, whether it had a check, and the index behind it.

    Raises:
        Corrupt: it is complete, and damaged; ``end_of_unasked`` tells where it ends.

    """
    found = _UNASKED.search(data)
    if found is None:
        return None
    if b"/" in (inside := data[found.start() + 1 : found.start("crc")]) and re.search(rb"[\r\n]/", inside):
        raise Corrupt("a telegram began before the last one had ended")
    if found["crc"]:
        made = crc16(data[found.start() : found.start("crc")])
        if _CRC.fullmatch(found["crc"]) is None or int(found["crc"], 16) != made:
            shown = found["crc"][:8].decode("ascii", "replace")
            raise Corrupt(f"the telegram's check is {shown}, its data make {made:04X}")
    elif check_needed:
        raise Corrupt("the telegram came without the check that this meter sends")
    begin = data.index(b"\n", found.start()) + 1
    return _fields(data[begin : found.start("crc") - 1]), bool(found["crc"]), found.end()


def end_of_unasked(data: bytes) -> int:
    """Give the index behind the first complete telegram, damaged or not."""
    found = _UNASKED.search(data)
    return found.end() if found is not None else len(data)


def _fields(block: bytes) -> Fields:
    try:
        text = block.decode("ascii")
    except UnicodeDecodeError:
        raise Corrupt("the telegram holds what is no text; check baud rate and parity") from None
    lines = text.replace("\r\n", "\n").split("\n!", 1)[0]
    return fields_of(lines.removesuffix("!"))
