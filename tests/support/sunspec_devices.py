"""SunSpec device images made with pysunspec2, served by servers that this project did not write."""

from __future__ import annotations

import asyncio
import socket
import struct
from contextlib import contextmanager
from threading import Event, Thread
from typing import TYPE_CHECKING, Any

from pymodbus import FramerType
from pymodbus.server import ModbusSerialServer
from pymodbus.simulator import DataType, SimData, SimDevice
from pyModbusTCP.server import DataBank, ModbusServer
from sunspec2 import device as sunspec

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

UNIT = 1
_END = (0xFFFF, 0)


def model(number: int, values: Mapping[str, object]) -> list[int]:
    """Give the registers of one model as pysunspec2 lays it out; points that are not named are not implemented."""
    made: Any = sunspec.Model(number)
    for name, value in values.items():
        made.points[name].value = value
    raw = bytes(made.get_mb())
    return list(struct.unpack(f">{len(raw) // 2}H", raw))


def common() -> list[int]:
    """Give the common model, which stands first in every device."""
    return model(1, {"Mn": "example", "Md": "example", "SN": "1"})


def image(*models: list[int]) -> list[int]:
    """Put models behind the marker, with the end model behind them."""
    registers = list(struct.unpack(">2H", b"SunS")) + common()
    for one in models:
        registers += one
    return [*registers, *_END]


@contextmanager
def tcp_device(registers: list[int], base: int) -> Iterator[int]:
    """Serve an image with pyModbusTCP; every address below it reads 0, those above are refused. Give the port."""
    with socket.create_server(("127.0.0.1", 0)) as probe:
        port = int(probe.getsockname()[1])
    bank = DataBank(h_regs_size=base + len(registers), i_regs_size=1, coils_size=1, d_inputs_size=1)
    bank.set_holding_registers(base, registers)
    server = ModbusServer("127.0.0.1", port, no_block=True, data_bank=bank)
    server.start()
    try:
        yield port
    finally:
        server.stop()


@contextmanager
def rtu_device(registers: list[int], base: int, port: Path) -> Iterator[None]:
    """Serve an image with pymodbus on a serial port; every other address is refused."""
    loop = asyncio.new_event_loop()
    ready, stop = Event(), asyncio.Event()

    async def serve() -> None:
        bits = [SimData(0, values=[False] * 16, datatype=DataType.BITS) for _ in range(2)]
        words = SimData(base, values=registers, datatype=DataType.REGISTERS)
        other = SimData(0, values=[0], datatype=DataType.REGISTERS)
        device = SimDevice(UNIT, simdata=([bits[0]], [bits[1]], [words], [other]))
        server = ModbusSerialServer(device, framer=FramerType.RTU, port=str(port), baudrate=115200)
        await server.serve_forever(background=True)
        ready.set()
        await stop.wait()
        await server.shutdown()  # type: ignore[no-untyped-call]  # pymodbus leaves it bare

    thread = Thread(target=loop.run_until_complete, args=(serve(),), name="pymodbus", daemon=True)
    thread.start()
    assert ready.wait(5.0), "pymodbus's server did not start"
    try:
        yield
    finally:
        loop.call_soon_threadsafe(stop.set)
        thread.join(5.0)
        loop.close()
