"""Meters that this project did not write, at the other end of the wire.

Each serves unit 1 with 1000 + a in holding register a and 2000 + a in input register a, for a from 0 to 199.
"""

from __future__ import annotations

import asyncio
import os
import select
import socket
import subprocess
import sys
from contextlib import contextmanager
from threading import Event, Thread
from typing import TYPE_CHECKING

import pytest
from pymodbus.server import ModbusSerialServer
from pymodbus.simulator import DataType, SimData, SimDevice
from pyModbusTCP.server import DataBank, ModbusServer

from tests.support import libmodbus_server

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from pymodbus import FramerType

UNIT = 1
HOLDING = [1000 + address for address in range(libmodbus_server.REGISTERS)]
INPUT = [2000 + address for address in range(libmodbus_server.REGISTERS)]
REQUIRE_LIBMODBUS = "LEGWATCH_REQUIRE_LIBMODBUS"


@contextmanager
def pymodbus_meter(port: Path, framer: FramerType) -> Iterator[None]:
    """Serve on a serial port with pymodbus, in a thread of its own."""
    loop = asyncio.new_event_loop()
    ready = Event()

    async def serve() -> None:
        bits = [SimData(0, values=[False] * 16, datatype=DataType.BITS) for _ in range(2)]
        holding = SimData(0, values=HOLDING, datatype=DataType.REGISTERS)
        inputs = SimData(0, values=INPUT, datatype=DataType.REGISTERS)
        device = SimDevice(UNIT, simdata=([bits[0]], [bits[1]], [holding], [inputs]))
        server = ModbusSerialServer(device, framer=framer, port=str(port), baudrate=115200)
        await server.serve_forever(background=True)
        ready.set()
        await stop.wait()
        await server.shutdown()  # type: ignore[no-untyped-call]  # pymodbus leaves it bare

    stop = asyncio.Event()
    thread = Thread(target=loop.run_until_complete, args=(serve(),), name="pymodbus", daemon=True)
    thread.start()
    assert ready.wait(5.0), "pymodbus's server did not start"
    try:
        yield
    finally:
        loop.call_soon_threadsafe(stop.set)
        thread.join(5.0)
        loop.close()


@contextmanager
def pymodbustcp_meter() -> Iterator[int]:
    """Serve on a TCP port with pyModbusTCP; give the port."""
    with socket.create_server(("127.0.0.1", 0)) as probe:
        port = int(probe.getsockname()[1])
    bank = DataBank(h_regs_size=len(HOLDING), i_regs_size=len(INPUT), coils_size=1, d_inputs_size=1)
    bank.set_holding_registers(0, HOLDING)
    bank.set_input_registers(0, INPUT)
    server = ModbusServer("127.0.0.1", port, no_block=True, data_bank=bank)
    server.start()
    try:
        yield port
    finally:
        server.stop()


@contextmanager
def libmodbus_meter(port: Path) -> Iterator[None]:
    """Serve on a serial port with libmodbus, in a process of its own; skip the test where it is not installed."""
    process = subprocess.Popen(
        [sys.executable, libmodbus_server.__file__, str(port), str(UNIT)], stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    try:
        if process.stdout.readline().strip() != "ready":
            reason = "libmodbus (Debian's libmodbus5) is not installed: a check against a second library is left out"
            assert process.wait(5.0) == libmodbus_server.NOT_INSTALLED, "libmodbus can't open the port"
            if os.environ.get(REQUIRE_LIBMODBUS) == "1":
                pytest.fail(reason)
            pytest.skip(reason)
        yield
    finally:
        process.kill()
        process.wait(5.0)
        process.stdout.close()


@contextmanager
def bridge(port: Path) -> Iterator[int]:
    """Carry bytes between one TCP connection after another and a serial port; give the TCP port."""
    listener = socket.create_server(("127.0.0.1", 0))
    line = os.open(port, os.O_RDWR | os.O_NOCTTY)
    going = Event()

    def carry() -> None:
        peer: socket.socket | None = None
        while not going.is_set():
            sources: list[int | socket.socket] = [listener, line]
            ready, _, _ = select.select(sources if peer is None else [*sources, peer], [], [], 0.1)
            if listener in ready:
                if peer is not None:
                    peer.close()
                peer = listener.accept()[0]
            if peer is not None and peer in ready:
                data = peer.recv(4096)
                if data:
                    os.write(line, data)
                else:
                    peer.close()
                    peer = None
            if line in ready:
                data = os.read(line, 4096)
                if peer is not None:
                    peer.sendall(data)
        if peer is not None:
            peer.close()

    thread = Thread(target=carry, name="bridge", daemon=True)
    thread.start()
    try:
        yield int(listener.getsockname()[1])
    finally:
        going.set()
        thread.join(5.0)
        listener.close()
        os.close(line)
