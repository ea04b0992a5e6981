"""Open the link that a bus's settings ask for."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from drivers.bus.settings import BusSettings
    from drivers.links.contract import Link

_CARRIED_BY = {"sunspec-rtu": "modbus-rtu", "sunspec-tcp": "modbus-tcp"}


def open_link(settings: BusSettings) -> Link:
    """Open the bus's port or connection; only the libraries it needs are loaded.

    Raises:
        PortProblem: it can't be opened now.
        ValueError: no link speaks this protocol.

    """
    settings = replace(settings, protocol=_CARRIED_BY.get(settings.protocol, settings.protocol))
    if settings.protocol in ("modbus-rtu", "modbus-ascii"):
        from drivers.links.serial_link import SerialLink  # noqa: PLC0415 - a TCP bus needs no serial library

        return SerialLink(settings)
    if settings.protocol in ("modbus-tcp", "modbus-rtu-over-tcp"):
        from drivers.links.tcp_link import TcpLink  # noqa: PLC0415 - a serial bus never pays for this import

        return TcpLink(settings)
    raise ValueError(f"bus {settings.id}: no link speaks {settings.protocol}")
