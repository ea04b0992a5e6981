"""Small invented shows for tests, built without a file."""

from __future__ import annotations

from typing import TYPE_CHECKING

from drivers.bus.settings import BusSettings
from monitor.show.model import Breaker, Circuit, Feeder, Load, Meter, Point, Show, Source
from monitor.show.settings import with_defaults

if TYPE_CHECKING:
    from monitor.show.model import System

SETTINGS = with_defaults("north-america", {})


def circuit(name: str, legs: tuple[str, ...] = ("L1",), watts: float = 1200.0, amps: float = 20.0) -> Circuit:
    """Give a circuit on box A with one planned load at power factor 1."""
    return Circuit(name, name, "boxA", legs, Breaker(amps, poles=len(legs)), load=(Load("lamp", watts),))


def show(
    *circuits: Circuit,
    system: System = "120/240",
    points: tuple[str, ...] = (),
    rated_kw: float | None = 20.0,
) -> Show:
    """Give a show with one box; ``points`` names what the one meter measures, by default every circuit."""
    source = Source("Towable set", "generator", system, 60.0, rated_kw=rated_kw, amps_per_leg=100.0)
    names = points or tuple(c.id for c in circuits)
    mapped = tuple((f"ch{n}", Point(*name.split("/"))) for n, name in enumerate(names, 1))
    return Show(
        name="Lock-keeper's yard",
        region="north-america",
        timezone="America/Halifax",
        source=source,
        feeders=(Feeder("boxA", "Box A", "source", source.legs, Breaker(60.0, poles=2)),),
        circuits=circuits,
        buses=(BusSettings("rs485", "modbus-rtu", port="/nowhere"),),
        meters=(Meter("rs485", 1, "any", None, "source", mapped),),
        settings=SETTINGS,
    )
