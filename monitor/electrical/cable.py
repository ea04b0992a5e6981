"""Cable: resistance from the conductor tables, drop with its base, and a run that is metered at both ends.

Resistance only: the reactance of cord lying together is small against it up to about 50 mm2 (1/0 AWG) and is left
out, which understates the drop of large single conductors, more so when they lie apart.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING, Literal

from monitor.electrical.legs import lagging, neutral, on_legs, path_up, planned_legs
from monitor.electrical.loads import LEG_TO_NEUTRAL, nominal_volts, planned_amps
from monitor.electrical.tables import table
from monitor.show.model import SOURCE_ID

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from monitor.show.model import Cable, Circuit, Show, System

_FEET_PER_METRE = 1 / 0.3048
_COPPER_ZERO = 234.5  # [degrees C], NEC chapter 9 table 8
_OLD_NAMES = {"0": "1/0", "00": "2/0", "000": "3/0", "0000": "4/0"}


def ohms_per_metre(cable: Cable, celsius: float | None = None) -> float:
    """Give the resistance of one conductor of one set [ohm/m].

    Args:
        cable: its size counts.
        celsius: of the conductor [degrees C]; None is the table's planning temperature (75 for AWG, 70 for mm2).

    Raises:
        ValueError: the table has no such size.

    """
    if cable.awg:
        rules = table("conductors")["awg"]
        warm = float(rules["planning_celsius"]) if celsius is None else celsius
        per_kft: float = _size(rules["ohms_per_kft"], awg_name(cable.awg), "AWG")
        return per_kft / 1000 * _FEET_PER_METRE * (_COPPER_ZERO + warm) / (_COPPER_ZERO + float(rules["celsius"]))
    if cable.mm2 is None:
        raise ValueError("a cable needs awg or mm2")
    rules = table("conductors")["mm2"]
    warm = float(rules["planning_celsius"]) if celsius is None else celsius
    per_km: float = _size(rules["ohms_per_km"], f"{cable.mm2:g}", "mm2")
    return per_km / 1000 * (1 + float(rules["alpha"]) * (warm - float(rules["celsius"])))


def awg_name(written: str) -> str:
    """Give the table's name of a gauge as people write it: "12 AWG", "#2", "0000", "4/0", "250 kcmil"."""
    name = written.strip().lower().removeprefix("#").removesuffix("awg").strip()
    name = _OLD_NAMES.get(name, name)
    return (
        f"{name.removesuffix('kcmil').removesuffix('mcm').strip()} kcmil" if name.endswith(("kcmil", "mcm")) else name
    )


def conductor_ohms(cable: Cable, celsius: float | None = None) -> float:
    """Give the resistance of one conductor over the run, parallel sets together [ohm]."""
    return ohms_per_metre(cable, celsius) * cable.metres / cable.parallel


def loop_ohms(cable: Cable, legs: Collection[str], celsius: float | None = None) -> float:
    """Give the resistance that a load's current meets [ohm].

    Out and back for one leg and for leg to leg; out only for a balanced three-leg load, whose neutral carries nothing.
    """
    return conductor_ohms(cable, celsius) * (1 if len(legs) == 3 else 2)  # noqa: PLR2004 - three legs


@dataclass(frozen=True, slots=True)
class Drop:
    """A drop in volts, with the base of its percent.

    Attributes:
        volts: [V].
        base_volts: nominal volts that the percent is of [V].
        base: leg to neutral or leg to leg.

    """

    volts: float
    base_volts: float
    base: Literal["L-N", "L-L"]

    @property
    def percent(self) -> float:
        """The drop in percent of its base."""
        return 100.0 * self.volts / self.base_volts


def drop(
    system: System, legs: Collection[str], cable: Cable | None, amps: float, celsius: float | None = None
) -> Drop | None:
    """Give the drop over a circuit's own cable: 2 L R I (one leg, leg to leg) or L R I (three legs, balanced).

    That is the drop at power factor 1 and an upper bound at any other.

    Args:
        system: voltage system.
        legs: of the load.
        cable: None gives None.
        amps: in each hot leg [A].
        celsius: of the conductor [degrees C]; None is the table's planning temperature.

    """
    if cable is None:
        return None
    base: Literal["L-N", "L-L"] = "L-L" if len(legs) == 2 else "L-N"  # noqa: PLR2004 - a pair of legs
    return Drop(loop_ohms(cable, legs, celsius) * amps, nominal_volts(system, legs), base)


def feeder_drop(
    system: System, cable: Cable, by_leg: Mapping[str, complex], celsius: float | None = None
) -> dict[str, Drop]:
    """Give the drop from leg to neutral on each leg of a feeder, the neutral's share included.

    |V| - |V - R (I_leg + I_neutral)|, with a neutral like the legs. Negative where an unbalanced load lifts a leg.

    Args:
        system: voltage system.
        cable: of the feeder.
        by_leg: phasors, as ``monitor.electrical.legs`` gives them [A].
        celsius: of the conductor [degrees C]; None is the table's planning temperature.

    """
    ohms, back, nominal = conductor_ohms(cable, celsius), neutral(by_leg), LEG_TO_NEUTRAL[system]
    drops = {}
    for leg, current in by_leg.items():
        sent = _leg_volts(system, leg)
        drops[leg] = Drop(nominal - abs(sent - ohms * (current + back)), nominal, "L-N")
    return drops


def far_end_drop(show: Show, circuit: Circuit, celsius: float | None = None) -> Drop | None:
    """Give the planned drop at a circuit's far end: its own cable and every feeder above, by the planned loads.

    The circuit's legs see each feeder's drop across their own volts (leg to leg for two legs, the worst leg for
    three). Cables that the show doesn't describe add nothing; None where it describes none on the way.
    """
    system = show.source.system
    own = drop(system, circuit.legs, circuit.cable, planned_amps(circuit, system), celsius)
    found = [own.volts] if own else []
    feeders = {feeder.id: feeder for feeder in show.feeders}
    for place in path_up(show, circuit.fed_from):
        cable = None if place == SOURCE_ID else feeders[place].cable
        if cable is not None:
            found.append(_across(system, circuit.legs, cable, planned_legs(show, place), celsius))
    if not found:
        return None
    base: Literal["L-N", "L-L"] = "L-L" if len(circuit.legs) == 2 else "L-N"  # noqa: PLR2004 - a pair of legs
    return Drop(sum(found), nominal_volts(system, circuit.legs), base)


def spread_ohms(show: Show, place: str, celsius: float | None = None) -> float | None:
    """Give R_leg + 2 R_neutral from the source to a feeder, neutrals like the legs [ohm].

    It is what ``monitor.electrical.wiring.lost_neutral_split`` takes off. None where a feeder on the way has no cable
    described: then no spread can be explained.
    """
    cables = [feeder.cable for feeder in show.feeders if feeder.id in path_up(show, place)]
    known = [cable for cable in cables if cable is not None]
    return sum(3 * conductor_ohms(cable, celsius) for cable in known) if len(known) == len(cables) else None


@dataclass(frozen=True, slots=True)
class RunReading:
    """A run that is metered at both ends.

    Attributes:
        ohms: measured, the whole loop [ohm].
        planned_ohms: from the table [ohm].
        excess_watts: heat in what is measured above the table [W]; 0 where there is none.

    """

    ohms: float
    planned_ohms: float
    excess_watts: float

    @property
    def excess_ohms(self) -> float:
        """Measured above the table [ohm]; negative where the measured run is better."""
        return self.ohms - self.planned_ohms


def measured_run(
    upstream_volts: float, far_volts: float, amps: float, planned_ohms: float, least_amps: float = 5.0
) -> RunReading | None:
    """Give a run's resistance by Ohm's law from both ends at one moment: R = (V_up - V_far) / I.

    Args:
        upstream_volts: at the near end [V].
        far_volts: at the far end, same leg or pair of legs, same moment [V].
        amps: through the run [A].
        planned_ohms: as ``loop_ohms`` gives it [ohm].
        least_amps: with less the meters' own error is too large a part of it (a judgement) [A].

    Returns:
        The reading, or None with too little current.

    """
    if not all(map(isfinite, (upstream_volts, far_volts, amps))) or amps < least_amps:
        return None
    ohms = (upstream_volts - far_volts) / amps
    return RunReading(ohms, planned_ohms, max(0.0, ohms - planned_ohms) * amps**2)


def _across(
    system: System, legs: tuple[str, ...], cable: Cable, by_leg: Mapping[str, complex], celsius: float | None
) -> float:
    """Give a feeder's drop across the volts of a circuit's legs [V]."""
    if len(legs) != 2:  # noqa: PLR2004 - a pair of legs
        per_leg = feeder_drop(system, cable, by_leg, celsius)
        return max(per_leg[leg].volts for leg in legs)
    ohms = conductor_ohms(cable, celsius)
    first, second = legs
    sent = _leg_volts(system, first) - _leg_volts(system, second)
    return abs(sent) - abs(sent - ohms * (by_leg[first] - by_leg[second]))


def _leg_volts(system: System, leg: str) -> complex:
    return on_legs(system, (leg,), lagging(LEG_TO_NEUTRAL[system]))[leg]


def _size(sizes: Mapping[str, float], name: str, unit: str) -> float:
    if name not in sizes:
        raise ValueError(f"no {unit} size {name}; the table has {', '.join(sizes)}")
    return sizes[name]
