"""Whether what a feeder or the source carries agrees with what its circuits carry, all as measured at one moment."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from monitor.electrical.legs import Remainder, circuits_under, lagging, on_legs, remainder, total
from monitor.show.model import SOURCE_ID, Point

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from monitor.show.model import Circuit, Show

PERCENT, AMPS = 10.0, 1.0
"""Meters are read one after the other, and loads change in between: smaller differences tell nothing (a judgement)."""


@dataclass(frozen=True, slots=True)
class Flow:
    """What flows at a point: amps [A], and its power factor where that is measured, else 1."""

    amps: float
    power_factor: float = 1.0


@dataclass(frozen=True, slots=True)
class Unequal:
    """A leg whose figure does not agree with its circuits'.

    Attributes:
        point: the leg of the feeder or source.
        rest: the figures, and what the sign may mean.
        all_metered: every circuit on the leg has a meter, so that load without one is no explanation.

    """

    point: Point
    rest: Remainder
    all_metered: bool


def unequal(show: Show, flows: Mapping[Point, Flow]) -> Iterator[Unequal]:
    """Compare every metered leg with its circuits.

    Legs of which no circuit is metered are left out; so is a surplus where a circuit has no meter.

    Args:
        show: the show.
        flows: what was measured, by point; circuits as a whole or by leg.

    """
    places = {SOURCE_ID: show.source.legs, **{feeder.id: feeder.legs for feeder in show.feeders}}
    for place, legs in places.items():
        metered = {leg: flow.amps for leg in legs if (flow := flows.get(Point(place, leg)))}
        circuits = circuits_under(show, place)
        parts = {circuit.id: _on_legs(show, circuit, flows) for circuit in circuits}
        children = total(legs, [part for part in parts.values() if part])
        known = {leg for part in parts.values() for leg in part}
        for rest in remainder({leg: a for leg, a in metered.items() if leg in known}, children, PERCENT, AMPS):
            whole = all(rest.leg in parts[circuit.id] for circuit in circuits if rest.leg in circuit.legs)
            if rest.text and (whole or rest.amps < 0):
                yield Unequal(Point(place, rest.leg), rest, whole)


def _on_legs(show: Show, circuit: Circuit, flows: Mapping[Point, Flow]) -> Mapping[str, complex]:
    """Give a circuit's measured current on its legs; empty where it is not measured."""
    system = show.source.system
    whole = flows.get(Point(circuit.id))
    if whole is not None:
        return on_legs(system, circuit.legs, lagging(whole.amps, whole.power_factor))
    parts = {leg: flow for leg in circuit.legs if (flow := flows.get(Point(circuit.id, leg)))}
    found: dict[str, complex] = {}
    for leg, flow in parts.items():
        found |= on_legs(system, (leg,), lagging(flow.amps, flow.power_factor))
    return found
