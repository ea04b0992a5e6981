"""The virtual meters on real wires, read by masters that this project did not write."""

from __future__ import annotations

import os
import select
import socket
import threading
from pathlib import Path
from typing import TYPE_CHECKING

import minimalmodbus
import pytest
from pymodbus.client import ModbusSerialClient, ModbusTcpClient
from pyModbusTCP.client import ModbusClient

from drivers.clock import monotonic
from drivers.virtual.frames import crc16
from drivers.virtual.serial_slave import SerialSlave
from drivers.virtual.tcp_slave import TcpSlave

if TYPE_CHECKING:
    from collections.abc import Iterator

    from drivers.maps.model import Table


def image(unit: int, table: Table, address: int, count: int) -> list[int] | None:
    """Give registers that tell unit, table and address apart; unit 9 is silent, nothing stands above 199."""
    if unit == 9:
        return None
    if address + count > 200:
        raise LookupError
    return [unit * 1000 + (500 if table == "input" else 0) + address + i for i in range(count)]


@pytest.fixture
def port(tmp_path: Path) -> Iterator[Path]:
    """A serial slave without pacing, at a known path."""
    slave = SerialSlave(image, tmp_path / "line")
    slave.start()
    yield tmp_path / "line"
    slave.stop()


@pytest.fixture
def tcp() -> Iterator[TcpSlave]:
    """A TCP slave on any port."""
    slave = TcpSlave(image)
    slave.start()
    yield slave
    slave.stop()


def instrument(port: Path, unit: int, baud: int = 19200) -> minimalmodbus.Instrument:
    """Open the port with minimalmodbus."""
    master = minimalmodbus.Instrument(str(port), unit)
    master.serial.baudrate = baud
    master.serial.timeout = 1.0
    master.close_port_after_each_call = True
    return master


def test_minimalmodbus_reads_both_tables(port: Path) -> None:
    """Functions 3 and 4 give the image's registers, the largest block included."""
    master = instrument(port, 1)
    assert master.read_registers(10, 3, functioncode=3) == [1010, 1011, 1012]
    assert master.read_registers(10, 125, functioncode=4) == [1510 + i for i in range(125)]
    assert instrument(port, 2).read_register(0) == 2000


def test_minimalmodbus_meets_exception_and_silence(port: Path) -> None:
    """Outside the image the answer is exception 02; a silent unit answers nothing; the next read is right."""
    with pytest.raises(minimalmodbus.IllegalRequestError):
        instrument(port, 1).read_register(200)
    silent = instrument(port, 9)
    silent.serial.timeout = 0.1
    with pytest.raises(minimalmodbus.NoResponseError):
        silent.read_register(0)
    assert instrument(port, 1).read_register(5) == 1005


def test_pymodbus_reads_the_serial_slave(port: Path) -> None:
    """A second master, pymodbus, reads the same."""
    with ModbusSerialClient(str(port), baudrate=19200, timeout=1) as master:
        assert master.read_holding_registers(4, count=2, device_id=3).registers == [3004, 3005]
        assert master.read_input_registers(4, count=2, device_id=3).registers == [3504, 3505]
        assert master.read_input_registers(199, count=2, device_id=3).exception_code == 2


def test_serial_slave_ignores_a_spoilt_request(port: Path) -> None:
    """A request with a wrong CRC is answered by nothing, and the request after the silence is answered."""
    good = bytes.fromhex("01 03 0000 0001")
    line = os.open(port, os.O_RDWR | os.O_NOCTTY)
    try:
        os.write(line, good + b"\0\0")
        assert not _answered(line, 0.1)
        os.write(line, good + crc16(good))
        assert _answered(line, 2.0)
        assert os.read(line, 64)[:5] == bytes.fromhex("01 03 02 03E8")
    finally:
        os.close(line)


def test_answers_and_stops_though_nobody_reads(tmp_path: Path) -> None:
    """Replies that nobody reads, far more than a terminal holds, don't block the slave: it answers on, and stops."""
    asked = threading.Semaphore(0)

    def counting(unit: int, table: Table, address: int, count: int) -> list[int] | None:
        asked.release()
        return image(unit, table, address, count)

    slave = SerialSlave(counting, tmp_path / "line")
    slave.start()
    body = bytes.fromhex("01 03 0000 007D")
    line = os.open(tmp_path / "line", os.O_RDWR | os.O_NOCTTY)
    try:
        for _ in range(200):  # 50,000 bytes; about 20,000 were seen to block
            os.write(line, body + crc16(body))
            assert asked.acquire(timeout=2)
        slave.stop()
        assert not [t for t in threading.enumerate() if t.name.startswith("serial-slave")]
    finally:
        os.close(line)
        slave.stop()


def _answered(line: int, seconds: float) -> bool:
    return bool(select.select([line], [], [], seconds)[0])


def test_pace_of_the_line(tmp_path: Path) -> None:
    """At 9600 baud a block of 100 registers takes no less than its characters' time on a real line."""
    slave = SerialSlave(image, tmp_path / "line", baud=9600)
    slave.start()
    try:
        master = instrument(tmp_path / "line", 1, 9600)
        begin = monotonic()
        assert len(master.read_registers(0, 100)) == 100
        assert monotonic() - begin >= (8 + 205) * 11 / 9600
    finally:
        slave.stop()


def test_serial_stop_takes_link_and_thread_away(tmp_path: Path) -> None:
    """After stop nothing is left: no link, no thread, no open descriptor; and it starts again."""
    before = _descriptors()
    slave = SerialSlave(image, tmp_path / "line")
    for _ in range(2):
        slave.start()
        assert instrument(tmp_path / "line", 1).read_register(1) == 1001
        slave.stop()
        slave.stop()
        assert not (tmp_path / "line").is_symlink()
    assert not [t for t in threading.enumerate() if t.name.startswith("serial-slave")]
    assert _descriptors() == before


def _descriptors() -> int:
    """Count this process's open files where the system tells (0 elsewhere)."""
    told = Path("/proc/self/fd")
    return len(list(told.iterdir())) if told.is_dir() else 0


def test_pymodbus_reads_the_tcp_slave(tcp: TcpSlave) -> None:
    """Functions 3 and 4, an exception and an unknown function over TCP, with pymodbus as the master."""
    with ModbusTcpClient("127.0.0.1", port=tcp.port, timeout=1) as master:
        assert master.read_holding_registers(7, count=3, device_id=2).registers == [2007, 2008, 2009]
        assert master.read_input_registers(7, count=125, device_id=2).registers == [2507 + i for i in range(125)]
        assert master.read_input_registers(150, count=100, device_id=2).exception_code == 2
        assert master.write_register(1, 1, device_id=2).exception_code == 1


def test_pymodbustcp_reads_the_tcp_slave(tcp: TcpSlave) -> None:
    """A second master, pyModbusTCP, reads the same; a silent unit gives it nothing, and then it reads on."""
    master = ModbusClient("127.0.0.1", tcp.port, unit_id=4, timeout=0.2)
    assert master.read_holding_registers(0, 2) == [4000, 4001]
    master.unit_id = 9
    assert master.read_holding_registers(0, 2) is None
    master.unit_id = 4
    assert master.read_input_registers(0, 2) == [4500, 4501]
    master.close()


def test_tcp_request_in_pieces_and_two_in_one(tcp: TcpSlave) -> None:
    """A request split over packets is answered once whole; two requests in one packet get two answers."""
    one, two = bytes.fromhex("0001 0000 0006 01 03 0000 0001"), bytes.fromhex("0002 0000 0006 01 03 0001 0001")
    with socket.create_connection(("127.0.0.1", tcp.port), timeout=2) as wire:
        wire.sendall(one[:5])
        wire.sendall(one[5:] + two)
        got = b""
        while len(got) < 22:
            got += wire.recv(64)
    assert got == bytes.fromhex("0001 0000 0005 01 03 02 03E8") + bytes.fromhex("0002 0000 0005 01 03 02 03E9")


def test_tcp_garbage_ends_only_its_own_connection(tcp: TcpSlave) -> None:
    """Bytes that are no Modbus close that connection; another client is served on."""
    with socket.create_connection(("127.0.0.1", tcp.port), timeout=2) as wire:
        wire.sendall(b"GET / HTTP/1.0\r\n\r\n")
        assert wire.recv(64) == b""
    master = ModbusClient("127.0.0.1", tcp.port, unit_id=1, timeout=1)
    assert master.read_holding_registers(3, 1) == [1003]
    master.close()


def test_tcp_stop_with_a_client_connected() -> None:
    """Stopping ends the thread and the connections; stopping twice is no fault."""
    slave = TcpSlave(image)
    slave.start()
    with socket.create_connection(("127.0.0.1", slave.port), timeout=2) as wire:
        wire.sendall(bytes.fromhex("0001 0000 0006 01 03 0000 0001"))
        assert wire.recv(64)
        slave.stop()
        assert wire.recv(64) == b""
    slave.stop()
    assert not [t for t in threading.enumerate() if t.name.startswith("tcp-slave")]
