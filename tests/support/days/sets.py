"""Invented sets on four systems, metered in several ways."""

from __future__ import annotations

from dataclasses import dataclass, replace
from random import Random
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

from drivers.bus.settings import BusSettings
from monitor.show.model import Breaker, Cable, Circuit, Feeder, Fuel, Load, Meter, Point, Show, Source
from monitor.show.settings import with_defaults

if TYPE_CHECKING:
    from monitor.show.model import Region, System

Metering = Literal["circuits", "source", "all"]
Tap = Literal["line", "load"]
Kind = Literal["generator", "house"]
Governor = Literal["isochronous", "droop", "inverter"]
Performance = Literal["G1", "G2", "G3"]

LEGS = {"120/240": ("L1", "L2"), "208Y/120": ("L1", "L2", "L3"), "400Y/230": ("L1", "L2", "L3"), "230": ("L1",)}


@dataclass(frozen=True, slots=True)
class Made:
    """How a set is made.

    Attributes:
        system: voltage system.
        metering: circuits only, with the source, or with feeders and source.
        tap: of every circuit's volts.
        kind: of the source.
        governor: of a generator.
        performance: its class.
        boxes: how many.
        each: circuits a box.
        seed: of the loads.

    """

    system: System = "120/240"
    metering: Metering = "all"
    tap: Tap = "load"
    kind: Kind = "generator"
    governor: Governor = "isochronous"
    performance: Performance = "G2"
    boxes: int = 2
    each: int = 6
    seed: int = 1


def make(how: Made) -> Show:
    """Make a set."""
    random = Random(how.seed)
    america = how.system in ("120/240", "208Y/120")
    region: Region = "north-america" if america else "europe"
    legs = LEGS[how.system]
    nominal = 120.0 if america else 230.0
    boxes = [f"box{chr(65 + i)}" for i in range(how.boxes)]
    circuits = [
        _circuit(how, random, f"{box[-1]}{n + 1}", box, legs[n % len(legs)], america=america)
        for box in boxes
        for n in range(how.each)
    ]
    two = _two_legs(how, boxes[-1], legs, america=america)
    circuits += [two] if two else []
    planned = sum(load.watts * load.count for circuit in circuits for load in circuit.load)
    rated_kw = planned / 1000 / 0.7
    per_leg = planned / 0.7 / nominal / len(legs) * 1.25
    source = Source(
        "Towed set",
        how.kind,
        how.system,
        60.0 if america else 50.0,
        rated_kw=round(rated_kw, 1),
        rated_kva=round(rated_kw * 1.25, 1),
        amps_per_leg=round(per_leg),
        neutral_amps=round(per_leg),
        governor=how.governor if how.kind == "generator" else None,
        performance_class=how.performance if how.kind == "generator" else None,
        fuel=_fuel(rated_kw) if how.kind == "generator" else None,
    )
    feeders = tuple(
        Feeder(
            box,
            f"Box {box[-1]}",
            "source",
            legs,
            Breaker(
                100.0 if america else 63.0, "UL 489" if america else "IEC 60898-1", "" if america else "C", len(legs)
            ),
            Cable(30.0 + 10 * n, mm2=25.0),
            neutral_amps=100.0,
        )
        for n, box in enumerate(boxes)
    )
    meters = tuple(_meters(how, circuits, boxes, legs))
    buses = tuple(BusSettings(bus, "modbus-rtu", port="/nowhere") for bus in dict.fromkeys(m.bus for m in meters))
    return Show(
        name="Gravel pit",
        region=region,
        timezone="UTC",
        source=source,
        feeders=feeders,
        circuits=tuple(circuits),
        buses=buses,
        meters=meters,
        settings=MappingProxyType(with_defaults(region, {})),
    )


def with_settings(show: Show, **changes: float) -> Show:
    """Give the show with some settings changed."""
    return replace(show, settings=MappingProxyType({**show.settings, **changes}))


def powered_from(show: Show, unit: int, by: str) -> Show:
    """Give the show with one meter powered from a circuit."""
    meters = tuple(replace(meter, powered_from=by) if meter.unit == unit else meter for meter in show.meters)
    return replace(show, meters=meters)


def _fuel(rated_kw: float) -> Fuel:
    points = tuple((percent, rated_kw * (0.03 + 0.245 * percent / 100)) for percent in (25.0, 50.0, 75.0, 100.0))
    return Fuel(tank_litres=rated_kw * 10, litres_per_hour=points)


def _circuit(how: Made, random: Random, id_: str, box: str, leg: str, *, america: bool) -> Circuit:
    kinds = ("lights", "lamps", "kettle", "fridge", "motor", "carts")
    kind = kinds[int(id_[1:]) % len(kinds)]
    scale = 1.0 if america else 1.3
    loads: dict[str, tuple[Load, ...]] = {
        "lights": (Load("panel", 480 * scale, 0.97, 2), Load("tube", 120 * scale, 0.9)),
        "lamps": (Load("fresnel", 1000 * scale, kind="tungsten"), Load("small", 300 * scale, kind="tungsten")),
        "kettle": (Load("kettle", 1400 * scale, kind="resistive"),),
        "fridge": (Load("urn", 900 * scale, kind="resistive"), Load("monitor", 200, 0.95)),
        "motor": (Load("pump", 700 * scale, 0.78, kind="motor", start_multiple=random.uniform(4, 7)),),
        "carts": (Load("cart", 700 * scale, 0.93), Load("charger", 300, 0.95)),
    }
    breaker = Breaker(20.0) if america else Breaker(16.0, "IEC 60898-1", "C")
    tags = frozenset({"motor"}) if kind == "motor" else frozenset()
    return Circuit(id_, f"{kind} {id_}", box, (leg,), breaker, Cable(15.0, mm2=2.5), how.tap, tags, loads[kind])


def _two_legs(how: Made, box: str, legs: tuple[str, ...], *, america: bool) -> Circuit | None:
    if len(legs) < 2:
        return None
    breaker = Breaker(30.0, poles=2) if america else Breaker(32.0, "IEC 60898-1", "C", 2)
    load = (Load("big fresnel", 4000, kind="tungsten"),)
    return Circuit("Z9", "big Z9", box, legs[:2], breaker, Cable(20.0, mm2=6.0), how.tap, load=load)


def _meters(how: Made, circuits: list[Circuit], boxes: list[str], legs: tuple[str, ...]) -> list[Meter]:
    found = []
    for n in range(0, len(circuits), 3):
        points = tuple((f"ch{i}", Point(c.id)) for i, c in enumerate(circuits[n : n + 3]))
        found.append(Meter("line", n // 3 + 1, "any", None, "source", points))
    places = {"circuits": [], "source": ["source"], "all": ["source", *boxes]}[how.metering]
    for n, place in enumerate(places):
        points = tuple((leg, Point(place, leg)) for leg in (*legs, *(("N",) if len(legs) > 1 else ())))
        found.append(Meter("net", 20 + n, "any", None, "source", points))
    return found
