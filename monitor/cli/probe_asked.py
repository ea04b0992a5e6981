"""What was asked of ``legwatch probe``, and the line settings that follow from it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from drivers.bus.settings import BusSettings
from drivers.probe.scan import line_settings
from monitor.cli.errors import fail

if TYPE_CHECKING:
    from pathlib import Path

SERIAL, NETWORK = ("modbus-rtu", "modbus-ascii"), ("modbus-tcp", "modbus-rtu-over-tcp")


@dataclass(frozen=True, slots=True)
class Asked:
    """The options, as click gives them; their help says what each is."""

    port: str | None
    tcp: str | None
    protocol: str | None
    baud: tuple[int, ...]
    parity: str
    units: tuple[int, ...]
    everywhere: bool
    timeout_s: float
    dump: bool
    wanted: float | None
    tolerance: float
    registers: tuple[int, ...]
    table: str | None
    encoding: tuple[str, ...]
    keep: Path | None
    choice: int | None
    name: str | None
    map_file: Path | None
    listen: bool
    seconds: float
    as_json: bool

    def listening(self) -> tuple[BusSettings, ...]:
        """Give the settings to listen at; ends the command where they contradict each other."""
        if self.port and self.tcp:
            fail("legwatch: give --port or --tcp, not both")
        if self.tcp:
            return self._network("text", self.tcp)
        return tuple(BusSettings("probe", "text", port=str(self.port), baud=baud) for baud in self.baud)

    def settings(self) -> tuple[BusSettings, ...]:
        """Give the line settings to try, the likeliest first; ends the command where they contradict each other."""
        protocol = self.protocol or (NETWORK[0] if self.tcp else SERIAL[0])
        if self.port and self.tcp:
            fail("legwatch: give --port or --tcp, not both")
        if (protocol in NETWORK) != bool(self.tcp):
            fail(f"legwatch: {protocol} goes with --{'tcp' if protocol in NETWORK else 'port'}")
        return self._network(protocol, self.tcp) if self.tcp else self._serial(protocol)

    def _network(self, protocol: str, tcp: str) -> tuple[BusSettings, ...]:
        host, _, number = tcp.rpartition(":")
        if not host or not number.isdigit():
            fail(f"legwatch: --tcp {tcp}: write HOST:PORT, as in 192.0.2.10:502")
        return (BusSettings("probe", protocol, host=host, tcp_port=int(number), timeout_s=self.timeout_s),)

    def _serial(self, protocol: str) -> tuple[BusSettings, ...]:
        parities = [letter.strip().upper() for letter in self.parity.split(",")]
        if not set(parities) <= {"N", "E", "O"}:
            fail(f"legwatch: --parity {self.parity}: write N, E or O, with commas between")
        bits = 7 if protocol == "modbus-ascii" else 8
        bus = BusSettings("probe", protocol, port=str(self.port), data_bits=bits, timeout_s=self.timeout_s)
        return line_settings(bus, self.baud, parities)
