"""A bus whose far end is the tests' own responder, for each protocol."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from drivers.bus.settings import BusSettings
from tests.support.cable import Cable
from tests.support.responder import Responder
from tests.support.wire import Framing

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

FRAMINGS = {
    "modbus-rtu": Framing.RTU,
    "modbus-ascii": Framing.ASCII,
    "modbus-tcp": Framing.TCP,
    "modbus-rtu-over-tcp": Framing.RTU,
}
TIMEOUT_S = 0.15


@dataclass
class Line:
    """A bus and its far end.

    Attributes:
        settings: how to reach it.
        responder: the far end.
        cable: the cable between, on serial protocols.

    """

    settings: BusSettings
    responder: Responder
    cable: Cable | None = None


@contextmanager
def line(
    protocol: str, directory: Path, *, timeout_s: float = TIMEOUT_S, interval_s: float = 0.0, baud: int = 115200
) -> Iterator[Line]:
    """Make one; the cable is as fast as it can be, ``baud`` is what the driver is told."""
    common = BusSettings("b", protocol, timeout_s=timeout_s, interval_s=interval_s, baud=baud)
    if protocol in ("modbus-tcp", "modbus-rtu-over-tcp"):
        with Responder(framing=FRAMINGS[protocol]) as responder:
            yield Line(replace(common, host="127.0.0.1", tcp_port=responder.tcp_port), responder)
        return
    with Cable(directory) as cable, Responder(cable.far, FRAMINGS[protocol]) as responder:
        yield Line(replace(common, port=str(cable.near)), responder, cable)
