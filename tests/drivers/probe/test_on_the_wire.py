"""Looking for meters and into their registers, with other projects' servers at the far end."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from pymodbus import FramerType

from drivers.bus.settings import BusSettings
from drivers.errors import Silent
from drivers.links.opening import open_link
from drivers.maps.model import Table
from drivers.probe.registers import read_range
from drivers.probe.scan import line_settings, scan
from tests.support.cable import Cable
from tests.support.far_ends import HOLDING, INPUT, UNIT, libmodbus_meter, pymodbus_meter, pymodbustcp_meter
from tests.support.responder import Responder, answer
from tests.support.wire import Framing

if TYPE_CHECKING:
    from pathlib import Path


def test_a_scan_finds_the_meter_and_nobody_else(tmp_path: Path) -> None:
    """One of four units answers; each question is counted; the next line setting is not tried."""
    asked: list[int] = []
    with Cable(tmp_path) as cable, libmodbus_meter(cable.far):
        bus = BusSettings("b", "modbus-rtu", port=str(cable.near), timeout_s=0.2)
        found = list(scan(line_settings(bus, (115200, 9600), ("N",)), range(1, 5), lambda: asked.append(1)))
    assert [(a.unit, a.settings.baud, a.tables, a.whole) for a in found] == [
        (UNIT, 115200, (Table.HOLDING, Table.INPUT), True)
    ]
    assert len(asked) == 4


@pytest.mark.parametrize(("protocol", "framing"), [("modbus-tcp", Framing.TCP), ("modbus-rtu-over-tcp", Framing.RTU)])
def test_a_gateway_that_keeps_still_for_most_units(protocol: str, framing: Framing) -> None:
    """Many silent units in a row, which a link takes for a lost connection, do not end the scan before the meter."""
    with Responder(framing=framing) as far:
        far.script = lambda asked: answer(asked) if asked.unit == 7 else []
        bus = BusSettings("b", protocol, host="127.0.0.1", tcp_port=far.tcp_port, timeout_s=0.05)
        found = [one.unit for one in scan((bus,), range(1, 10), lambda: None)]
    assert found == [7]


def test_registers_end_where_the_meters_table_ends(tmp_path: Path) -> None:
    """A range that reaches over the end of the table gives what there is, to the last register."""
    with Cable(tmp_path) as cable, pymodbus_meter(cable.far, FramerType.RTU):
        link = open_link(BusSettings("b", "modbus-rtu", port=str(cable.near), baud=115200, timeout_s=0.3))
        settled: list[int] = []
        found = read_range(link, UNIT, Table.HOLDING, 150, 260, settled.append)
        link.close()
    assert found == {address: HOLDING[address] for address in range(150, 200)}
    assert sum(settled) == 111


def test_both_tables_over_the_network() -> None:
    """TCP reads the same way."""
    with pymodbustcp_meter() as port:
        link = open_link(BusSettings("b", "modbus-tcp", host="127.0.0.1", tcp_port=port))
        found = read_range(link, UNIT, Table.INPUT, 0, 9)
        link.close()
    assert found == dict(enumerate(INPUT[:10]))


def test_a_meter_that_is_not_there_is_told(tmp_path: Path) -> None:
    """Nobody answers: no empty table is made of that."""
    with Cable(tmp_path) as cable:
        link = open_link(BusSettings("b", "modbus-rtu", port=str(cable.near), baud=115200, timeout_s=0.05))
        with pytest.raises(Silent):
            read_range(link, 9, Table.HOLDING, 0, 3)
        link.close()
