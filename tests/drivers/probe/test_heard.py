"""What unasked bytes are taken for."""

from __future__ import annotations

import pytest

from drivers.probe.heard import recognise
from tests.support.wire import crc16

FRAMES = b"".join(body + crc16(body) for body in (b"\x03\x04\x00\x00\x00\x02", b"\x03\x04\x04\x42\xf1\x00\x00") * 2)
# A data readout of the form that IEC 62056-21 describes for mode D, invented figures.
TELEGRAM = b"/EXA3EXAMPLE\r\n\r\n1-0:32.7.0(229.8*V)\r\n1-0:31.7.0(4.2*A)\r\n!\r\n"


def with_parity(data: bytes, odd: int) -> bytes:
    """Give what eight data bits receive of seven with a parity bit."""
    return bytes(byte | (0x80 if byte.bit_count() % 2 != odd else 0) for byte in data)


@pytest.mark.parametrize(
    ("data", "protocol", "messages"),
    [
        (b'.2}\n{"v": 119.8, "a": 3.1}\n{"v": 119.9, "a": 3.2}\n', "text", 2),
        (b"volts=120.1,amps=2\r\nvolts=120.2,amps=2\r\n", "text", 1),
        (b"(7*A)\r\n!\r\n" + TELEGRAM * 2, "iec62056-21", 2),
        (b"\x00\xff" + FRAMES, "modbus-rtu", 4),
        (b"hello\r\nboot ok\r\n", "", 0),
        (bytes(range(128, 256)), "", 0),
        (b"", "", 0),
    ],
)
def test_each_kind(data: bytes, protocol: str, messages: int) -> None:
    """Text, telegrams and somebody's Modbus are recognised from the middle of a stream; noise and words are none."""
    guess = recognise(data)
    assert (guess.protocol, guess.messages) == (protocol, messages)


@pytest.mark.parametrize(("odd", "parity"), [(0, "E"), (1, "O")])
def test_seven_bits_with_parity_are_seen(odd: int, parity: str) -> None:
    """Seven data bits and a parity bit, received as eight: the setting is told, and the fields are read."""
    guess = recognise(with_parity(TELEGRAM, odd))
    assert (guess.protocol, guess.data_bits, guess.parity) == ("iec62056-21", 7, parity)
    assert guess.fields["31.7.0"][0].text == "4.2"


def test_plain_text_is_not_taken_for_seven_bits() -> None:
    """Eight data bits without parity stay what they are."""
    assert recognise(TELEGRAM).data_bits == 8
