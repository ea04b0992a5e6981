"""Every way in which one reply can be wrong, as a script for the responder."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tests.support.responder import right, words
from tests.support.wire import Framing

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from tests.support.wire import Asked

    Wrong = Callable[[Asked], Sequence[bytes | float]]

NOISE = bytes((7 * n * n + 13 * n + 91) % 256 for n in range(40))


def _registers(asked: Asked, count: int) -> list[int]:
    return words(asked.number, asked.address, count)


def _flipped(frame: bytes, at: int, mask: int = 0x01) -> bytes:
    return frame[:at] + bytes([frame[at] ^ mask]) + frame[at + 1 :]


def _bad_check(asked: Asked) -> bytes:
    at = -3 if asked.framing is Framing.ASCII else -1
    frame = right(asked)
    return _flipped(frame, len(frame) + at)


def _look_alike(asked: Asked) -> bytes:
    """Bytes that begin like the wanted reply and do not go on like it, then the reply."""
    return right(asked)[:3] + right(asked)


ON_ANY_WIRE: Mapping[str, Wrong] = {
    "silence": lambda _: [],
    "truncated": lambda a: [right(a)[:-4]],
    "wrong unit": lambda a: [a.frame(a.registers(_registers(a, a.count)), unit=a.unit + 1)],
    "wrong function": lambda a: [a.frame(a.registers(_registers(a, a.count), function=7 - a.function))],
    "fewer registers": lambda a: [a.frame(a.registers(_registers(a, a.count - 1)))],
    "more registers": lambda a: [a.frame(a.registers(_registers(a, a.count + 1)))],
    "exception of another function": lambda a: [a.frame(bytes([(7 - a.function) | 0x80, 2]))],
    "noise only": lambda _: [NOISE],
    "request echo": lambda a: [a.raw],
    "late": lambda a: [0.15, right(a)],
    "byte count of another length": lambda a: [
        a.frame(a.registers(_registers(a, a.count))[:1] + b"\x02" + a.registers(_registers(a, a.count))[2:])
    ],
}
ON_A_SERIAL_WIRE: Mapping[str, Wrong] = {
    "bad check": lambda a: [_bad_check(a)],
    "flipped bit": lambda a: [_flipped(right(a), 5)],
    "garbage before": lambda a: [NOISE[:3], right(a)],
    "garbage before, apart": lambda a: [NOISE[:3], 0.01, right(a)],
    "look-alike header": lambda a: [_look_alike(a)],
    "request echo, then the reply": lambda a: [a.raw, 0.005, right(a)],
}
ON_TCP: Mapping[str, Wrong] = {
    "wrong transaction": lambda a: [
        a.frame(a.registers(_registers(a, a.count)), transaction=(a.transaction + 1) % 0x10000)
    ],
    "transaction 0": lambda a: [a.frame(a.registers(_registers(a, a.count)), transaction=0)],
    "length too large": lambda a: [right(a)[:5] + bytes([right(a)[5] + 4]) + right(a)[6:]],
    "length too large, and filled": lambda a: [right(a)[:5] + bytes([right(a)[5] + 4]) + right(a)[6:] + b"\1\2\3\4"],
    "length too small": lambda a: [right(a)[:5] + bytes([right(a)[5] - 2]) + right(a)[6:]],
    "no Modbus header": lambda a: [right(a)[:2] + b"\x12\x34" + right(a)[4:]],
}


def wrongs(protocol: str) -> Mapping[str, Wrong]:
    """Give every wrong reply that can be made on ``protocol``."""
    return {**ON_ANY_WIRE, **(ON_TCP if protocol == "modbus-tcp" else ON_A_SERIAL_WIRE)}
