"""The serial ports of this computer, with the names that stay the same over a restart."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from serial.tools import list_ports

_STEADY = ("/dev/serial/by-id", "/dev/serial/by-path")


@dataclass(frozen=True, slots=True)
class SerialPort:
    """One serial port.

    Attributes:
        device: its name now; another adapter may get it next time.
        by_id: its name after the adapter's own number, or empty; stays with the adapter.
        by_path: its name after the socket it is plugged into, or empty; stays with the socket.
        about: what the adapter says of itself, or empty.
        usable: whether we may open it.

    """

    device: str
    by_id: str
    by_path: str
    about: str
    usable: bool


def serial_ports() -> tuple[SerialPort, ...]:
    """List the serial ports, those with an adapter first."""
    by_id, by_path = (_links(Path(folder)) for folder in _STEADY)
    found = [
        SerialPort(
            device=port.device,
            by_id=by_id.get(os.path.realpath(port.device), ""),
            by_path=by_path.get(os.path.realpath(port.device), ""),
            about="" if port.description in (None, "n/a") else port.description,
            usable=os.access(port.device, os.R_OK | os.W_OK),
        )
        for port in list_ports.comports()
    ]
    return tuple(sorted(found, key=lambda port: (not port.by_id, port.device)))


def _links(folder: Path) -> dict[str, str]:
    """Give the links in a folder by what they lead to."""
    try:
        return {os.path.realpath(link): str(link) for link in sorted(folder.iterdir())}
    except OSError:
        return {}
