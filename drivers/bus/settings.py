"""What a bus worker must be told about its bus and its meters."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from drivers.maps.model import MeterMap
    from drivers.sunspec.search import Search

MODBUS_PROTOCOLS = ("modbus-rtu", "modbus-ascii", "modbus-tcp", "modbus-rtu-over-tcp")
SUNSPEC_PROTOCOLS = ("sunspec-rtu", "sunspec-tcp")
"""Modbus too, with a register map that is found on the meter."""
FIELD_PROTOCOLS = ("iec62056-21", "text")
"""Meters that send named fields of their own accord or on a sign-on; see ``drivers.fields``."""


@dataclass(frozen=True, slots=True)
class BusSettings:
    """One bus.

    Attributes:
        id: the bus's id.
        protocol: one of ``MODBUS_PROTOCOLS``, ``SUNSPEC_PROTOCOLS`` and ``FIELD_PROTOCOLS``.
        port: path of the serial port, for serial protocols, else empty.
        host: host name or address, for TCP protocols, else empty.
        tcp_port: TCP port number.
        baud: line speed [bit/s].
        parity: ``N``, ``E`` or ``O``.
        stop_bits: 1 or 2.
        data_bits: 8, or 7 for ASCII.
        timeout_s: how long to wait for a reply [s].
        interval_s: a meter's wanted time from poll to poll [s]; 0 is as fast as the line goes.

    """

    id: str
    protocol: str
    port: str = ""
    host: str = ""
    tcp_port: int = 502
    baud: int = 9600
    parity: str = "N"
    stop_bits: int = 1
    data_bits: int = 8
    timeout_s: float = 0.5
    interval_s: float = 1.0

    @property
    def where(self) -> str:
        """The port or address, for messages."""
        return self.port or f"{self.host}:{self.tcp_port}"


@dataclass(frozen=True, slots=True)
class MeterSettings:
    """One meter on a bus.

    Attributes:
        unit: unit number (1 to 247; 0 and 255 are allowed on TCP).
        map: its register map; where ``search`` is given, what stands for it until it is found.
        search: how its register map is found on the meter, or None.

    """

    unit: int
    map: MeterMap
    search: Search | None = None
