"""A small invented set whose one meter is an independent Modbus TCP server on loopback."""

from __future__ import annotations

import socket
import struct
from contextlib import contextmanager
from typing import TYPE_CHECKING

from pyModbusTCP.server import DataBank, ModbusServer

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

SHOW = """
[show]
name = "Weir house, dawn"
region = "north-america"
timezone = "America/Halifax"

[alarms]
above_rating_on_seconds = 0
volts_high_on_seconds = 0
meter_silent_on_seconds = 0

[source]
name = "Towed set"
kind = "generator"
system = "120/240"
hertz = 60
rated_kw = 20

[[circuit]]
id = "A1"
name = "Key side"
fed_from = "source"
legs = ["L1"]
breaker = {{ amps = 20 }}
load = [ {{ name = "LED panel", watts = 1200 }} ]

[[circuit]]
id = "A2"
name = "Back light"
fed_from = "source"
legs = ["L2"]
breaker = {{ amps = 20 }}
load = [ {{ name = "LED panel", watts = 1300 }} ]

[[bus]]
id = "net"
tcp = "127.0.0.1:{port}"
protocol = "modbus-tcp"
poll_seconds = 0.2
timeout_seconds = 0.3

[[meter]]
bus = "net"
unit = 1
map = "three-channel"
points = {{ ch1 = "A1", ch2 = "A2" }}
"""


def free_port() -> int:
    """Give a TCP port that nobody listens on now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


class FarMeter:
    """The meter at the far end: set what it reads, take it away, bring it back."""

    def __init__(self, port: int) -> None:
        self.port = port
        self._bank = DataBank()
        self._server: ModbusServer | None = None

    def start(self) -> None:
        """Begin to answer."""
        self._server = ModbusServer("127.0.0.1", self.port, no_block=True, data_bank=self._bank)
        self._server.start()

    def stop(self) -> None:
        """Answer no more."""
        if self._server is not None:
            self._server.stop()
        self._server = None

    def reads(self, channel: int, volts: float, amps: float) -> None:
        """Set what a channel (from 1) reads; watts are their product, hertz 60."""
        words = struct.unpack(">8H", struct.pack(">4f", volts, amps, volts * amps, 60.0))
        self._bank.set_input_registers(8 * (channel - 1), list(words))


@contextmanager
def small_set(folder: Path) -> Iterator[tuple[Path, FarMeter]]:
    """Give the show file and the running meter."""
    port = free_port()
    path = folder / "weir.toml"
    path.write_text(SHOW.format(port=port), encoding="utf-8")
    meter = FarMeter(port)
    for channel in (1, 2, 3):
        meter.reads(channel, 120.0, 9.0 + channel)
    meter.start()
    try:
        yield path, meter
    finally:
        meter.stop()
