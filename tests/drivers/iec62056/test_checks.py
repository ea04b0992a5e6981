"""Block check and CRC against published values."""

from __future__ import annotations

import pytest

from drivers.iec62056.checks import bcc, crc16


@pytest.mark.parametrize(
    ("frame", "check"),
    [
        (b"\x01P0\x02(00000000)\x03", 0x60),
        (b"\x01P1\x02()\x03", 0x61),
        (b"\x01R1\x0200000034()\x03", 0x64),
        (b"\x01R1\x0200000000()\x03", 0x63),
        (b"\x01B0\x03", 0x71),
        (b"\x0200000034(001511420144)\x03", 0x06),
    ],
)
def test_block_checks_of_published_frames(frame: bytes, check: int) -> None:
    """Six frames of https://gist.github.com/4231981."""
    assert bcc(frame[1:]) == check


@pytest.mark.parametrize(
    ("frame", "check"),
    [
        (b"\x01P0\x02(1234567)\x03", b"P"),
        (b"\x023:171.0(0)\x03", b"\x12"),
        (b"\x023:14(314*kWh)4:15(415*kWh)\r\n!\r\n\x03", b'"'),
        (b"\x01R1\x021.8.0(1)\x03", b"k"),
    ],
)
def test_block_checks_of_a_library(frame: bytes, check: bytes) -> None:
    """Frames from the tests of the public repository pwitab/iec62056-21 (tests/test_bcc.py, tests/test_data.py)."""
    assert bytes([bcc(frame[1:])]) == check


def test_the_crc_has_its_published_check_value() -> None:
    """CRC-16/ARC of the text 123456789 is BB3D: catalogue of parametrised CRC algorithms."""
    assert crc16(b"123456789") == 0xBB3D
