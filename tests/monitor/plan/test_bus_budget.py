"""A bus's time against sums done by hand, from the frame lengths of MODBUS over Serial Line V1.02 (from memory)."""

from __future__ import annotations

import pytest

from drivers.bus.settings import BusSettings
from drivers.maps.model import MeterMap, Table, Value
from monitor.plan.bus_budget import TURNAROUND_S, budget, line_seconds
from monitor.show.model import Meter

MAP = MeterMap(
    "invented", "this test", tuple(Value(f"ch{n}", "volts", Table.INPUT, 2 * n, "float32") for n in range(12))
)


def meters(count: int) -> list[Meter]:
    """Give meters that are each read with 24 registers in one block."""
    return [Meter("b", unit, "invented", MAP, "source", ()) for unit in range(1, count + 1)]


@pytest.mark.parametrize(
    ("bus", "seconds"),
    [
        # 8 out, 5 + 48 back, and twice 3.5 characters of silence: 68 characters of 10 bits at 9600
        (BusSettings("b", "modbus-rtu", port="/p", baud=9600), 68 * 10 / 9600),
        # the same with a parity bit: 11 bits; above 19200 baud the silences are 1.75 ms
        (BusSettings("b", "modbus-rtu", port="/p", baud=38400, parity="E"), 61 * 11 / 38400 + 0.0035),
        # 17 out, 11 + 96 back, 10 bits with 7 data bits and parity
        (
            BusSettings("b", "modbus-ascii", port="/p", baud=9600, parity="E", data_bits=7),
            131 * 10 / 9600,
        ),
    ],
)
def test_the_line_time_of_one_read(bus: BusSettings, seconds: float) -> None:
    """Characters times bits over baud."""
    assert line_seconds(bus, meters(1)[0]) == pytest.approx(seconds)


def test_24_meters_at_9600_baud_cannot_be_read_every_second() -> None:
    """24 times 71 ms and the meters' own time: each every 2.2 s, and said not to keep up."""
    spent = budget(BusSettings("b", "modbus-rtu", port="/p", baud=9600), meters(24), {})
    assert spent is not None
    assert spent.each_s == pytest.approx(24 * (68 * 10 / 9600 + TURNAROUND_S))
    assert not spent.keeps_up
    assert spent.urgent_s < spent.each_s
    assert not spent.measured


def test_measured_times_count_and_a_short_round_keeps_the_interval() -> None:
    """Three meters measured at 100 ms each: a round of 0.3 s, read every second as asked."""
    spent = budget(BusSettings("b", "modbus-rtu", port="/p"), meters(3), dict.fromkeys((1, 2, 3), 0.1))
    assert spent is not None
    assert spent.round_s == pytest.approx(0.3)
    assert spent.each_s == 1.0
    assert spent.keeps_up
    assert spent.measured


def test_meters_that_send_by_themselves_have_no_round() -> None:
    """Nobody asks them, so nothing is worked out."""
    assert budget(BusSettings("b", "text", port="/p"), meters(1), {}) is None
