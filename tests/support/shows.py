"""Small invented shows for tests, built without a file."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING

from drivers.bus.settings import BusSettings
from monitor.show.model import Breaker, Circuit, Feeder, Load, Meter, Point, Show, Source

if TYPE_CHECKING:
    from monitor.show.model import System

SETTINGS = MappingProxyType(
    {
        "continuous_percent": 80.0,
        "rating_percent": 100.0,
        "volts_low_percent": 95.0,
        "volts_high_percent": 105.0,
        "hertz_low_percent": 97.5,
        "hertz_high_percent": 102.5,
        "old_after_seconds": 3.0,
        "over_plan_amps": 3.0,
    }
)


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


def with_settings(given: Show, **changes: float) -> Show:
    """Give the show with some settings changed."""
    return replace(given, settings=MappingProxyType({**given.settings, **changes}))
