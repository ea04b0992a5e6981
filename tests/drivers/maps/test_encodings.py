"""Registers to numbers and back, held against ``struct``'s own two byte orders and against written-out bytes."""

from __future__ import annotations

import math
import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.maps.encodings import ENCODINGS, WORD_ORDERS, WORDS, decode, encode, number, pattern, to_registers

LETTERS = {"u16": "H", "i16": "h", "u32": "I", "i32": "i", "u64": "Q", "i64": "q", "float32": "f", "float64": "d"}
BITS = {"u16": 16, "i16": 16, "u32": 32, "i32": 32, "u64": 64, "i64": 64}


@st.composite
def numbers(draw: st.DrawFn) -> tuple[str, float]:
    """Draw an encoding and a number that it holds exactly."""
    encoding = draw(st.sampled_from(ENCODINGS))
    if encoding.startswith("float"):
        return encoding, draw(st.floats(width=32 if encoding == "float32" else 64, allow_nan=False))
    bits = BITS[encoding]
    low, high = (0, 2**bits - 1) if encoding.startswith("u") else (-(2 ** (bits - 1)), 2 ** (bits - 1) - 1)
    return encoding, draw(st.integers(low, high))


def on_the_wire(encoding: str, order: str, value: float) -> bytes:
    """Write the bytes of a number in travelling order, from ``struct``'s big-endian and little-endian forms."""
    data = struct.pack((">" if order in ("ABCD", "BADC") else "<") + LETTERS[encoding], value)
    if order in ("BADC", "CDAB"):
        data = b"".join(data[i + 1 : i + 2] + data[i : i + 1] for i in range(0, len(data), 2))
    return data


@given(numbers(), st.sampled_from(WORD_ORDERS))
def test_what_is_encoded_decodes_to_itself(drawn: tuple[str, float], order: str) -> None:
    """Every number an encoding holds survives the way there and back, in type and value."""
    encoding, value = drawn
    found = decode(encode(value, encoding, order), encoding, order)
    assert found == value
    assert type(found) is type(value)


@given(numbers(), st.sampled_from(WORD_ORDERS))
def test_registers_carry_the_bytes_that_struct_gives(drawn: tuple[str, float], order: str) -> None:
    """Registers sent high byte first, as Modbus does, are the bytes ``struct`` makes."""
    encoding, value = drawn
    found = encode(value, encoding, order)
    assert len(found) == WORDS[encoding]
    assert struct.pack(f">{len(found)}H", *found) == on_the_wire(encoding, order, value)


@given(st.sampled_from(ENCODINGS), st.sampled_from(WORD_ORDERS), st.binary(min_size=8, max_size=8))
def test_any_registers_decode_as_struct_reads_them(encoding: str, order: str, data: bytes) -> None:
    """Any bit pattern, NaN among them, reads as ``struct`` reads it, and its bits go back to the same registers."""
    data = data[: struct.calcsize(LETTERS[encoding])]
    registers = struct.unpack(f">{len(data) // 2}H", data)
    if order in ("BADC", "CDAB"):
        data = b"".join(data[i + 1 : i + 2] + data[i : i + 1] for i in range(0, len(data), 2))
    (expected,) = struct.unpack((">" if order in ("ABCD", "BADC") else "<") + LETTERS[encoding], data)
    found = decode(registers, encoding, order)
    assert found == expected or (math.isnan(found) and math.isnan(expected))
    assert to_registers(pattern(registers, order), encoding, order) == registers


@pytest.mark.parametrize(
    ("order", "one", "two", "four"),
    [
        ("ABCD", (0x0A0B,), (0x0A0B, 0x0C0D), (0x0A0B, 0x0C0D, 0x0E0F, 0x1011)),
        ("CDAB", (0x0A0B,), (0x0C0D, 0x0A0B), (0x1011, 0x0E0F, 0x0C0D, 0x0A0B)),
        ("BADC", (0x0B0A,), (0x0B0A, 0x0D0C), (0x0B0A, 0x0D0C, 0x0F0E, 0x1110)),
        ("DCBA", (0x0B0A,), (0x0D0C, 0x0B0A), (0x1110, 0x0F0E, 0x0D0C, 0x0B0A)),
    ],
)
def test_orders_written_out(order: str, one: tuple[int, ...], two: tuple[int, ...], four: tuple[int, ...]) -> None:
    """Each order, written out by hand for one, two and four registers."""
    assert pattern(one, order) == 0x0A0B
    assert pattern(two, order) == 0x0A0B0C0D
    assert pattern(four, order) == 0x0A0B0C0D0E0F1011


@pytest.mark.parametrize(
    ("bits", "encoding", "expected"),
    [  # IEEE 754 bit patterns and two's complement, from memory
        (0x42F00000, "float32", 120.0),
        (0x3F800000, "float32", 1.0),
        (0xC2280000, "float32", -42.0),
        (0x7F800000, "float32", math.inf),
        (0x3FF0000000000000, "float64", 1.0),
        (0x400921FB54442D18, "float64", math.pi),
        (0x8000, "i16", -32768),
        (0xFFFE, "i16", -2),
        (0xFFFF, "u16", 65535),
        (0xFFFFFFFF, "i32", -1),
        (0x8000000000000000, "i64", -(2**63)),
        (0xFFFFFFFFFFFFFFFF, "u64", 2**64 - 1),
    ],
)
def test_known_bit_patterns(bits: int, encoding: str, expected: float) -> None:
    """Patterns that a reader can check by hand."""
    assert number(bits, encoding) == expected


@pytest.mark.parametrize(
    ("encoding", "value"),
    [
        ("u16", -1),
        ("u16", 65536),
        ("i16", 32768),
        ("i16", -32769),
        ("u32", 2**32),
        ("i32", -(2**31) - 1),
        ("u64", 2**64),
        ("i64", 2**63),
        ("u16", 1.5),
        ("float32", 1e39),
    ],
)
def test_what_does_not_fit_is_refused(encoding: str, value: float) -> None:
    """A number that the encoding can't hold is refused, never wrapped or clipped."""
    with pytest.raises(ValueError, match="does not fit"):
        encode(value, encoding)
