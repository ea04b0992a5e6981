"""Modbus frames by hand, for far ends that break the rules.

Sources: MODBUS over Serial Line V1.02 (RTU frame and CRC, ASCII frame and LRC), MODBUS Messaging on TCP/IP
V1.0b (MBAP header); from memory, and checked against two libraries by every test that reads a legal frame.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from enum import Enum


class Framing(Enum):
    """How a frame is put on the wire."""

    RTU = "rtu"
    ASCII = "ascii"
    TCP = "tcp"


def crc16(data: bytes) -> bytes:
    """Give the CRC of an RTU frame, low byte first."""
    crc = 0xFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ 0xA001 if crc & 1 else crc >> 1
    return struct.pack("<H", crc)


@dataclass(frozen=True)
class Asked:
    """One request that arrived.

    Attributes:
        framing: how it came.
        unit: unit number.
        function: function code.
        address: first register, from 0.
        count: registers.
        transaction: its number on TCP, else 0.
        number: which request of all this is, from 0.
        at_s: when it came, on the monotonic clock [s].
        raw: its bytes.

    """

    framing: Framing
    unit: int
    function: int
    address: int
    count: int
    transaction: int
    number: int
    at_s: float
    raw: bytes

    def frame(self, pdu: bytes, *, unit: int | None = None, transaction: int | None = None) -> bytes:
        """Put a reply's function code and data on the wire."""
        sender = bytes([self.unit if unit is None else unit])
        if self.framing is Framing.RTU:
            return sender + pdu + crc16(sender + pdu)
        if self.framing is Framing.ASCII:
            lrc = bytes([-sum(sender + pdu) & 0xFF])
            return b":" + (sender + pdu + lrc).hex().upper().encode() + b"\r\n"
        number = self.transaction if transaction is None else transaction
        return struct.pack(">HHH", number, 0, len(pdu) + 1) + sender + pdu

    def registers(self, words: list[int], *, function: int | None = None) -> bytes:
        """Give the function code and data of a reply that carries ``words``."""
        code = self.function if function is None else function
        return struct.pack(f">BB{len(words)}H", code, 2 * len(words), *words)

    def refusal(self, code: int) -> bytes:
        """Give an exception reply."""
        return self.frame(bytes([self.function | 0x80, code]))


def take_request(framing: Framing, buffer: bytes, number: int, at_s: float) -> tuple[Asked | None, bytes]:
    """Take one request off the front of ``buffer``; give it, if whole, and the rest."""
    if framing is Framing.ASCII:
        line, end, rest = buffer.partition(b"\r\n")
        if not end:
            return None, buffer
        raw, body, transaction = line + end, bytes.fromhex(line[1:].decode()), 0
    elif framing is Framing.RTU:
        if len(buffer) < 8:
            return None, buffer
        raw, body, rest, transaction = buffer[:8], buffer[:6], buffer[8:], 0
    else:
        if len(buffer) < 12:
            return None, buffer
        raw, body, rest = buffer[:12], buffer[6:12], buffer[12:]
        transaction = int.from_bytes(buffer[:2], "big")
    unit, function, address, count = struct.unpack(">BBHH", body[:6])
    return Asked(framing, unit, function, address, count, transaction, number, at_s, raw), rest
