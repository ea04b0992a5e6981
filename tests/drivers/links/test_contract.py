"""One contract, four links: each against a meter that this project did not write."""

from __future__ import annotations

import subprocess
import sys
from contextlib import ExitStack
from typing import TYPE_CHECKING

import pytest
from pymodbus import FramerType

from drivers.bus.settings import MODBUS_PROTOCOLS, BusSettings
from drivers.errors import LinkDown, Refused, Silent
from drivers.links.opening import open_link
from drivers.maps.model import Table
from tests.support.cable import Cable
from tests.support.far_ends import HOLDING, INPUT, UNIT, bridge, libmodbus_meter, pymodbus_meter, pymodbustcp_meter

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from drivers.links.contract import Link

FRAMERS = {"modbus-rtu": FramerType.RTU, "modbus-ascii": FramerType.ASCII}


def settings_for(protocol: str, directory: Path, stack: ExitStack) -> BusSettings:
    """Set up the far end of ``protocol`` and give the settings to reach it."""
    if protocol == "modbus-tcp":
        port = stack.enter_context(pymodbustcp_meter())
        return BusSettings("b", protocol, host="127.0.0.1", tcp_port=port, timeout_s=0.5)
    cable = stack.enter_context(Cable(directory))
    if protocol == "modbus-rtu-over-tcp":
        stack.enter_context(libmodbus_meter(cable.far))
        port = stack.enter_context(bridge(cable.near))
        return BusSettings("b", protocol, host="127.0.0.1", tcp_port=port, timeout_s=0.5)
    stack.enter_context(pymodbus_meter(cable.far, FRAMERS[protocol]))
    parity, data_bits = ("E", 7) if protocol == "modbus-ascii" else ("N", 8)
    return BusSettings(
        "b", protocol, port=str(cable.near), baud=115200, parity=parity, data_bits=data_bits, timeout_s=0.5
    )


@pytest.fixture(params=MODBUS_PROTOCOLS)
def link(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Link]:
    """Give each link in turn, open."""
    with ExitStack() as stack:
        opened = open_link(settings_for(request.param, tmp_path, stack))
        stack.callback(opened.close)
        yield opened


def test_blocks_of_every_length_come_whole_from_both_tables(link: Link) -> None:
    """1 to 125 registers, holding and input, each with the number it must have."""
    for count in (1, 2, 3, 7, 60, 124, 125):
        for address in (0, 5, 75):
            assert link.read(UNIT, Table.HOLDING, address, count) == tuple(HOLDING[address : address + count])
            assert link.read(UNIT, Table.INPUT, address, count) == tuple(INPUT[address : address + count])


def test_a_refusal_carries_its_code_and_the_next_read_is_right(link: Link) -> None:
    """Registers that are not there are refused with exception 02."""
    with pytest.raises(Refused) as refused:
        link.read(UNIT, Table.HOLDING, 9_000, 2)
    assert refused.value.code == 2
    assert link.read(UNIT, Table.HOLDING, 3, 2) == (1003, 1004)


@pytest.mark.parametrize(("address", "count"), [(0, 0), (0, 126), (65_535, 2), (-1, 1)])
def test_what_no_frame_can_ask_is_a_mistake_of_the_caller(link: Link, address: int, count: int) -> None:
    """No such request goes on the wire."""
    with pytest.raises(ValueError, match="registers"):
        link.read(UNIT, Table.INPUT, address, count)


def test_a_quiet_line_has_nothing_pending_and_nothing_to_drain(link: Link) -> None:
    """Before and after a read."""
    assert link.pending() == 0
    link.read(UNIT, Table.INPUT, 0, 10)
    assert link.pending() == 0
    assert link.drain(0.01) == 0


def test_close_twice_then_reopen(link: Link) -> None:
    """A closed link is down, closing it again is no fault, reopened it reads."""
    link.close()
    link.close()
    for use in (lambda: link.read(UNIT, Table.INPUT, 0, 1), link.pending, lambda: link.drain(0.01)):
        with pytest.raises(LinkDown):
            use()
    link.reopen()
    assert link.read(UNIT, Table.INPUT, 4, 1) == (2004,)
    link.reopen()
    assert link.read(UNIT, Table.HOLDING, 4, 1) == (1004,)


def test_a_unit_that_is_not_there_is_silent_or_refused(link: Link) -> None:
    """The meter of libmodbus keeps quiet, pymodbus refuses for others, pyModbusTCP answers for every unit."""
    try:
        link.read(9, Table.INPUT, 0, 2)
    except (Silent, Refused):
        link.drain(0.02)
    assert link.read(UNIT, Table.INPUT, 6, 2) == (2006, 2007)


@pytest.mark.parametrize(("protocol", "unwanted"), [("modbus-rtu", "pymodbus"), ("modbus-tcp", "minimalmodbus")])
def test_a_bus_loads_only_the_library_it_speaks_through(protocol: str, unwanted: str) -> None:
    """Opening a serial port loads no pymodbus, a TCP connection no minimalmodbus."""
    program = (
        "import sys\n"
        "from drivers.bus.settings import BusSettings\n"
        "from drivers.bus.worker import BusWorker\n"
        "from drivers.errors import PortProblem\n"
        "from drivers.links.opening import open_link\n"
        "try:\n"
        f"    open_link(BusSettings('b', '{protocol}', port='/no/port', host='127.0.0.1', tcp_port=1))\n"
        "except PortProblem:\n"
        f"    sys.exit('{unwanted}' in sys.modules)\n"
        "sys.exit(2)\n"
    )
    assert subprocess.run([sys.executable, "-c", program], check=False).returncode == 0
