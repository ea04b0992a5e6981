"""Currents as phasors: on legs, in the neutral, against what is metered; and unbalance.

Angles are those of the leg-to-neutral volts, L1 at 0: split-phase legs are opposite, wye legs follow each other by
120 degrees, L1-L2-L3. Currents lag their own volts by the angle of their power factor. Everything is at the
fundamental: harmonics, of which the third ones add up in a wye's neutral, are not in it.
"""

from __future__ import annotations

from cmath import exp, phase, rect
from dataclasses import dataclass
from math import acos, isfinite, pi, radians, sqrt
from types import MappingProxyType
from typing import TYPE_CHECKING

from monitor.electrical.loads import leg_current
from monitor.show.model import SOURCE_ID

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence

    from monitor.show.model import Circuit, Show, System

LEG_DEGREES: Mapping[System, Mapping[str, float]] = MappingProxyType(
    {
        "120/240": MappingProxyType({"L1": 0.0, "L2": 180.0}),
        "208Y/120": MappingProxyType({"L1": 0.0, "L2": -120.0, "L3": -240.0}),
        "400Y/230": MappingProxyType({"L1": 0.0, "L2": -120.0, "L3": -240.0}),
        "230": MappingProxyType({"L1": 0.0}),
    }
)
_PAIR = 2


def lagging(amps: float, power_factor: float = 1.0) -> complex:
    """Give a current as a phasor against its own volts at angle 0 [A]; ``power_factor`` from 0 to 1, lagging."""
    return rect(amps, -acos(power_factor))


def on_legs(system: System, legs: Sequence[str], current: complex) -> dict[str, complex]:
    """Put a current on its legs, at their real angles.

    Args:
        system: voltage system.
        legs: one leg (to neutral), two (leg to leg: out on the first, back on the second) or three (each to neutral).
        current: in each hot leg, against the volts across the load at angle 0 [A].

    Returns:
        The phasor on each leg, flowing from the source to the load [A].

    """
    volts = {leg: exp(1j * radians(LEG_DEGREES[system][leg])) for leg in legs}
    if len(legs) != _PAIR:
        return {leg: current * direction for leg, direction in volts.items()}
    out, back = legs
    along = current * exp(1j * phase(volts[out] - volts[back]))
    return {out: along, back: -along}


def total(legs: Iterable[str], parts: Iterable[Mapping[str, complex]]) -> dict[str, complex]:
    """Add currents leg by leg [A]; every leg of ``legs`` is there, at 0 where nothing flows."""
    sums = dict.fromkeys(legs, 0j)
    for part in parts:
        for leg, current in part.items():
            sums[leg] = sums.get(leg, 0j) + current
    return sums


def neutral(by_leg: Mapping[str, complex]) -> complex:
    """Give the current in the neutral: the sum of the legs [A]. Leg-to-leg loads cancel in it and add none."""
    return sum(by_leg.values(), 0j)


def neutral_wye(first: float, second: float, third: float) -> float:
    """Give a wye's neutral current from leg amps [A]: sqrt(a2 + b2 + c2 - ab - bc - ca).

    Exact only for currents 120 degrees apart: one power factor on all legs, no harmonics.
    """
    squares = first**2 + second**2 + third**2 - first * second - second * third - third * first
    return sqrt(max(0.0, squares))


def circuits_under(show: Show, place: str) -> tuple[Circuit, ...]:
    """Give the circuits that ``source`` or a feeder feeds, directly or through other feeders, in the file's order."""
    if place == SOURCE_ID:
        return show.circuits
    inside = {place}
    inside |= {feeder.id for feeder in show.feeders if place in path_up(show, feeder.fed_from)}
    return tuple(circuit for circuit in show.circuits if circuit.fed_from in inside)


def path_up(show: Show, place: str) -> tuple[str, ...]:
    """Give ``place`` and everything above it, up to and with ``source``."""
    parents = {feeder.id: feeder.fed_from for feeder in show.feeders}
    path = [place]
    while path[-1] != SOURCE_ID:
        path.append(parents[path[-1]])
    return tuple(path)


def planned_legs(show: Show, place: str) -> dict[str, complex]:
    """Give the planned current on each leg of ``source`` or a feeder [A], as phasors."""
    system = show.source.system
    legs = show.source.legs if place == SOURCE_ID else next(f.legs for f in show.feeders if f.id == place)
    circuits = circuits_under(show, place)
    return total(legs, (on_legs(system, c.legs, leg_current(c, system)) for c in circuits))


@dataclass(frozen=True, slots=True)
class Remainder:
    """What a feeder's or source's leg carries beyond its metered children.

    Attributes:
        leg: of the feeder or source.
        metered_amps: on the leg itself [A].
        children_amps: the metered children together [A].
        amps: metered minus children [A], with its sign.
        text: what the sign may mean; empty where the difference is within the meters' own error.

    """

    leg: str
    metered_amps: float
    children_amps: float
    amps: float
    text: str


def remainder(
    metered: Mapping[str, float], children: Mapping[str, complex], percent: float = 3.0, amps: float = 0.5
) -> tuple[Remainder, ...]:
    """Compare metered legs with the sum of their metered children.

    Args:
        metered: amps of each metered leg [A]; a leg that is not metered, or not live, is left out.
        children: sum of the metered children on each leg, as phasors [A].
        percent: error of the meters, of the larger figure [%] (a judgement).
        amps: error of the meters near zero [A] (a judgement).

    """
    found = []
    for leg, measured in metered.items():
        below = abs(children.get(leg, 0j))
        rest = measured - below
        allowed = amps + percent / 100.0 * max(measured, below)
        text = "" if abs(rest) <= allowed else _SURPLUS if rest > 0 else _DEFICIT
        found.append(Remainder(leg, measured, below, rest, text))
    return tuple(found)


_SURPLUS = "more flows here than its metered circuits show: load without a meter, or a meter that reads low"
_DEFICIT = (
    "its metered circuits show more than flows here: a circuit on another leg than the file says, a current transformer"
    " with the wrong ratio, a circuit fed from elsewhere, or differing power factors"
)


def unbalance(values: Collection[float]) -> float:
    """Give the largest deviation from the mean, in percent of the mean.

    With line-to-line volts this is the unbalance of NEMA MG-1 (LVUR), with leg-to-neutral volts that of IEEE (PVUR).

    Raises:
        ValueError: there is none, or the mean is not above 0.

    """
    mean = sum(values) / len(values) if values else 0.0
    if not isfinite(mean) or mean <= 0:
        raise ValueError("unbalance needs volts with a mean above 0 V")
    return 100.0 * max(abs(value - mean) for value in values) / mean


def sequences(first: complex, second: complex, third: complex) -> tuple[complex, complex, complex]:
    """Give zero, positive and negative sequence of three phasors (Fortescue)."""
    turn = exp(2j * pi / 3)
    zero = (first + second + third) / 3
    positive = (first + turn * second + turn**2 * third) / 3
    negative = (first + turn**2 * second + turn * third) / 3
    return zero, positive, negative


def true_unbalance(first: float, second: float, third: float) -> float:
    """Give |U2| / |U1| from three line-to-line volts [%].

    IEC 61000-4-30: beta = sum U^4 / (sum U^2)^2, u2 = sqrt((1 - sqrt(3 - 6 beta)) / (1 + sqrt(3 - 6 beta))).

    Raises:
        ValueError: three such volts can't stand between three wires (one is more than the other two together).

    """
    sides = sorted((first, second, third))
    if not all(isfinite(side) and side >= 0 for side in sides) or sides[2] <= 0:
        raise ValueError("unbalance needs three volts above 0 V")
    if sides[2] > (sides[0] + sides[1]) * (1 + 1e-9):
        raise ValueError(f"{first:g}, {second:g} and {third:g} V can't stand between three wires; check the meter")
    beta = sum(side**4 for side in sides) / sum(side**2 for side in sides) ** 2
    root = sqrt(min(1.0, max(0.0, 3.0 - 6.0 * beta)))
    return 100.0 * sqrt((1.0 - root) / (1.0 + root))
