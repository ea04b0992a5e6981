"""Outside check: the same registers read by two Modbus libraries that this project did not write.

pymodbus 3.16.1 knows two word orders (``convert_from_registers``), minimalmodbus 2.1.1 four (the functions
behind its ``read_long`` and ``read_float``). minimalmodbus's documentation gives its orders the same letters.
"""

from __future__ import annotations

import math
import struct
from typing import Literal

import minimalmodbus
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pymodbus.client.mixin import ModbusClientMixin

from drivers.maps.encodings import WORDS, decode

TYPES = ModbusClientMixin.DATATYPE
PYMODBUS = {
    "u16": TYPES.UINT16,
    "i16": TYPES.INT16,
    "u32": TYPES.UINT32,
    "i32": TYPES.INT32,
    "u64": TYPES.UINT64,
    "i64": TYPES.INT64,
    "float32": TYPES.FLOAT32,
    "float64": TYPES.FLOAT64,
}
MINIMALMODBUS = {
    "ABCD": minimalmodbus.BYTEORDER_BIG,
    "CDAB": minimalmodbus.BYTEORDER_LITTLE_SWAP,
    "BADC": minimalmodbus.BYTEORDER_BIG_SWAP,
    "DCBA": minimalmodbus.BYTEORDER_LITTLE,
}
FOUR_REGISTERS = st.lists(st.integers(0, 0xFFFF), min_size=4, max_size=4)


def same(one: float, other: object) -> bool:
    """Compare two numbers, where NaN equals NaN."""
    return one == other or (isinstance(other, float) and math.isnan(one) and math.isnan(other))


@pytest.mark.parametrize("encoding", PYMODBUS)
@given(registers=FOUR_REGISTERS)
def test_pymodbus_reads_the_same_number(encoding: str, registers: list[int]) -> None:
    """Both of pymodbus's word orders agree, for every encoding and any registers."""
    taken = registers[: WORDS[encoding]]
    orders: tuple[tuple[str, Literal["big", "little"]], ...] = (("ABCD", "big"), ("CDAB", "little"))
    for ours, theirs in orders:
        expected = ModbusClientMixin.convert_from_registers(taken, PYMODBUS[encoding], theirs)
        assert same(decode(taken, encoding, ours), expected)


@pytest.mark.parametrize("order", MINIMALMODBUS)
@given(registers=FOUR_REGISTERS, signed=st.booleans(), count=st.sampled_from([2, 4]))
def test_minimalmodbus_reads_the_same_number(order: str, registers: list[int], signed: bool, count: int) -> None:  # noqa: FBT001 - drawn
    """All of minimalmodbus's byte orders agree, for its long integers and floats and any registers."""
    taken = registers[:count]
    data = struct.pack(f">{count}H", *taken)
    whole = minimalmodbus._bytes_to_long(data, signed, count, MINIMALMODBUS[order])
    assert decode(taken, f"{'i' if signed else 'u'}{16 * count}", order) == whole
    real = minimalmodbus._bytes_to_float(data, count, MINIMALMODBUS[order])
    assert same(decode(taken, f"float{16 * count}", order), real)
