"""Values to registers: what a virtual meter shows is what its map says."""

from __future__ import annotations

import math
import struct

import pytest

from drivers.maps.model import MeterMap, Table, Value
from drivers.reading import Values
from drivers.virtual.frames import answer
from drivers.virtual.image import one_meter, several_meters

MAP = MeterMap(
    "two values",
    "invented for this test",
    (
        Value("ch1", "volts", Table.INPUT, 2, "float32"),
        Value("ch1", "amps", Table.INPUT, 6, "u16", scale=0.01),
    ),
)


def test_registers_hold_the_values() -> None:
    """120.0 V is 42F0 0000 (IEEE 754, worked by Python's struct), 15.83 A is 1583; the gap reads as 0."""
    image = one_meter(MAP, lambda: {"ch1": Values(volts=120.0, amps=15.83)})
    assert image(1, Table.INPUT, 2, 5) == [0x42F0, 0x0000, 0, 0, 1583]
    assert struct.unpack(">f", bytes.fromhex("42F00000"))[0] == 120.0


@pytest.mark.parametrize(("table", "address", "count"), [("input", 1, 2), ("input", 6, 2), ("holding", 2, 1)])
def test_outside_the_map_there_is_nothing(table: str, address: int, count: int) -> None:
    """Before, after and in the other table there are no registers."""
    image = one_meter(MAP, lambda: {"ch1": Values(volts=120.0, amps=1.0)})
    with pytest.raises(LookupError):
        image(1, Table(table), address, count)


def test_no_value_is_not_zero() -> None:
    """Volts that are not measured go out as NaN."""
    words = one_meter(MAP, lambda: {"ch1": Values(amps=1.0)})(1, Table.INPUT, 2, 2)
    assert words is not None
    assert math.isnan(struct.unpack(">f", struct.pack(">HH", *words))[0])


def test_a_value_the_meter_cannot_show_is_a_failure() -> None:
    """700 A does not fit a u16 in hundredths: the meter answers with exception 04, and never with a wrong number."""
    image = one_meter(MAP, lambda: {"ch1": Values(volts=120.0, amps=700.0)})
    assert answer(1, bytes.fromhex("04 0006 0001"), image) == bytes.fromhex("84 04")


def test_a_bus_of_meters() -> None:
    """Each unit shows its own values, a silent meter nothing, an unknown unit nothing."""
    bus = several_meters(
        {
            1: one_meter(MAP, lambda: {"ch1": Values(volts=1.0, amps=1.0)}),
            2: one_meter(MAP, lambda: {"ch1": Values(volts=1.0, amps=2.0)}),
            3: one_meter(MAP, lambda: None),
        }
    )
    assert [bus(unit, Table.INPUT, 6, 1) for unit in (1, 2, 3, 4)] == [[100], [200], None, None]
