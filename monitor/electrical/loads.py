"""Planned loads as currents: nominal volts, amps at power factor, paper amps, motor starts."""

from __future__ import annotations

from math import acos, sqrt, tan
from types import MappingProxyType
from typing import TYPE_CHECKING

from monitor.show.model import SYSTEM_LEGS

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from monitor.show.model import Circuit, Load, System

# Leg to neutral [V]: ANSI C84.1 service voltages 120/240 and 208Y/120; IEC 60038 for 230/400.
LEG_TO_NEUTRAL: Mapping[System, float] = MappingProxyType(
    {"120/240": 120.0, "208Y/120": 120.0, "400Y/230": 230.0, "230": 230.0}
)
# Leg to leg [V]: 240 with opposite legs; 120 * sqrt(3) = 207.85 on a wye; 400 as IEC 60038 rounds 230 * sqrt(3).
LEG_TO_LEG: Mapping[System, float] = MappingProxyType(
    {"120/240": 240.0, "208Y/120": 120.0 * sqrt(3.0), "400Y/230": 400.0}
)
_PAPER_DIVISOR: Mapping[float, float] = MappingProxyType({120.0: 100.0, 230.0: 200.0})  # common practice, no source


def nominal_volts(system: System, legs: Collection[str]) -> float:
    """Give the nominal volts across a load [V].

    One leg: leg to neutral. Two legs: leg to leg. Three legs: leg to neutral of each leg.

    Raises:
        ValueError: the system has no such legs.

    """
    known = SYSTEM_LEGS[system]
    if not legs or len(set(legs)) != len(legs) or not set(legs) <= set(known):
        raise ValueError(f"{system} has the legs {', '.join(known)}; found {', '.join(legs) or 'none'}")
    return LEG_TO_LEG[system] if len(legs) == 2 else LEG_TO_NEUTRAL[system]  # noqa: PLR2004 - a pair of legs


def planned_current(load: Sequence[Load], volts: float) -> complex:
    """Give the current of loads in parallel as a phasor against their own volts at angle 0 [A].

    I = (P - jQ) / V with Q = P tan(acos pf): displacement power factor, lagging. Harmonic currents are not in it.

    Args:
        load: planned loads; none gives 0.
        volts: across the loads [V], above 0.

    """
    return sum((_complex_watts(piece).conjugate() / volts for piece in load), 0j)


def planned_amps(circuit: Circuit, system: System) -> float:
    """Give the planned amps of a circuit in each of its hot legs [A]; three legs share the loads evenly."""
    return abs(leg_current(circuit, system))


def leg_current(circuit: Circuit, system: System) -> complex:
    """Give the planned current in each hot leg [A], against the volts across the load at angle 0.

    Those volts are leg to neutral for one and three legs, leg to leg for two.
    """
    return planned_current(circuit.load, nominal_volts(system, circuit.legs)) / _shares(circuit)


def planned_watts(circuit: Circuit) -> float:
    """Give the planned watts of a circuit, all legs together [W]."""
    return sum((piece.watts * piece.count for piece in circuit.load), 0.0)


def planned_power(circuit: Circuit) -> complex:
    """Give P + jQ of a circuit's plan, all legs together [W, var]; lagging is positive Q."""
    return sum(map(_complex_watts, circuit.load), 0j)


def paper_amps(circuit: Circuit, system: System) -> float:
    """Give the trade's paper amps in each hot leg [A]: watts / 100 at 120 V.

    At other volts by the same margin: watts / 200 across 240 V and at 230 V (common practice, no source). They hide
    the power factor: below about 0.83 they are lower than the real amps.
    """
    base = LEG_TO_NEUTRAL[system]
    return planned_watts(circuit) / (
        _PAPER_DIVISOR[base] * nominal_volts(system, circuit.legs) / base * _shares(circuit)
    )


def start_amps(circuit: Circuit, system: System) -> float:
    """Give the amps in each hot leg while the hardest motor starts and everything else runs [A].

    One piece starts at a time, at ``start_multiple`` times its running current. Its starting power factor is taken
    as its running one, for want of better: magnitudes add nearly in phase, the high side.
    """
    volts = nominal_volts(system, circuit.legs)
    running = leg_current(circuit, system)
    extra = [
        (piece.start_multiple - 1.0) * _complex_watts(piece).conjugate() / volts / piece.count / _shares(circuit)
        for piece in circuit.load
        if piece.start_multiple is not None and piece.count > 0
    ]
    return max([abs(running), *(abs(running + more) for more in extra)])


def _complex_watts(piece: Load) -> complex:
    """Give P + jQ of all pieces of a load [W, var]; lagging is positive Q."""
    watts = piece.watts * piece.count
    return complex(watts, watts * tan(acos(min(piece.power_factor, 1.0))))


def _shares(circuit: Circuit) -> int:
    return 3 if len(circuit.legs) == 3 else 1  # noqa: PLR2004 - three legs
