"""The answering side of Modbus, by hand and pure: frames in, frames out, no input or output here.

Kept apart from every Modbus library on purpose: a virtual meter made with the library that reads it would share
its mistakes. Sources: MODBUS Application Protocol V1.1b3 (functions 3 and 4, exceptions 01 to 04), MODBUS over
Serial Line V1.02 (RTU frame, CRC-16), MODBUS Messaging on TCP/IP V1.0b (MBAP header); from memory, checked in the
tests against published frames.
"""

from __future__ import annotations

import struct
from typing import TYPE_CHECKING

from drivers.maps.model import Table

if TYPE_CHECKING:
    from collections.abc import Callable

    Image = Callable[[int, Table, int, int], list[int] | None]
    """``(unit, table, address, count)`` to raw registers; None is silence.

    ``LookupError`` is answered as exception 02 (no such register), ``ValueError`` as 04 (a value the meter can't show).
    """

BROADCAST = 0
READ_REQUEST_BYTES = 8  # of an RTU request of functions 1 to 6: unit, function, two words, CRC
MAX_RTU_BYTES = 256
MBAP_BYTES = 7
MAX_REGISTERS = 125

_TABLES = {3: Table.HOLDING, 4: Table.INPUT}
_ILLEGAL_FUNCTION, _ILLEGAL_ADDRESS, _ILLEGAL_VALUE, _FAILURE = 1, 2, 3, 4
_ADDRESS_SPACE = 0x10000
_SHORTEST_RTU = 4
_MOST_PDU_BYTES = 253


def crc16(data: bytes) -> bytes:
    """Give the CRC of an RTU frame as it goes over the wire, low byte first (start FFFF, polynomial A001)."""
    crc = 0xFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ 0xA001 if crc & 1 else crc >> 1
    return crc.to_bytes(2, "little")


def rtu_whole(frame: bytes) -> bool:
    """Say whether ``frame`` is a whole RTU frame with a right CRC."""
    return len(frame) >= _SHORTEST_RTU and crc16(frame[:-2]) == frame[-2:]


def rtu_reply(frame: bytes, image: Image) -> bytes | None:
    """Answer a whole RTU request; None is silence (the image's own, or a broadcast)."""
    unit, pdu = frame[0], frame[1:-2]
    reply = None if unit == BROADCAST else answer(unit, pdu, image)
    if reply is None:
        return None
    body = bytes([unit]) + reply
    return body + crc16(body)


def mbap_length(header: bytes) -> int:
    """Give how many bytes follow a 7-byte MBAP header.

    Raises:
        ValueError: it is no Modbus header; the connection is lost, since frames can't be told apart any more.

    """
    _, protocol, length = struct.unpack(">HHH", header[:6])
    if protocol != 0 or not 1 < length <= _MOST_PDU_BYTES + 1:
        raise ValueError(f"no Modbus header: protocol {protocol}, length {length}")
    return int(length) - 1  # the unit number is counted by the length and stands in the header


def tcp_reply(header: bytes, pdu: bytes, image: Image) -> bytes | None:
    """Answer a TCP request; None is silence."""
    unit = header[6]
    reply = answer(unit, pdu, image)
    if reply is None:
        return None
    return header[:4] + struct.pack(">HB", len(reply) + 1, unit) + reply


def answer(unit: int, pdu: bytes, image: Image) -> bytes | None:
    """Answer one request PDU with a reply PDU: registers, an exception, or None for silence."""
    function = pdu[0]
    wrong = _complaint(pdu)
    if wrong:
        return bytes([function | 0x80, wrong])
    address, count = struct.unpack(">HH", pdu[1:])
    try:
        words = image(unit, _TABLES[function], address, count)
    except LookupError:
        return bytes([function | 0x80, _ILLEGAL_ADDRESS])
    except ValueError:
        return bytes([function | 0x80, _FAILURE])
    return None if words is None else struct.pack(f">BB{len(words)}H", function, 2 * len(words), *words)


def _complaint(pdu: bytes) -> int:
    """Give the exception code that a request deserves whatever the registers are, or 0."""
    if pdu[0] not in _TABLES:
        return _ILLEGAL_FUNCTION
    if len(pdu) != 5:  # noqa: PLR2004 - function, address, count
        return _ILLEGAL_VALUE
    address, count = struct.unpack(">HH", pdu[1:])
    if not 1 <= count <= MAX_REGISTERS:
        return _ILLEGAL_VALUE
    return _ILLEGAL_ADDRESS if address + count > _ADDRESS_SPACE else 0
