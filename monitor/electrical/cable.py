"""Cable: resistance from the conductor tables, drop with its base, and a run that is metered at both ends.

Every drop is that of the volts across the load: what is sent less what arrives, |V| - |V - loss|, with the loss of each
conductor on the way as a phasor at the planned amps and power factor (Ohm's and Kirchhoff's laws), neutrals like the
legs. Loads are taken to draw their planned current whatever arrives. A lagging current therefore drops less than
L R I, which is the drop at power factor 1.

Resistance only: neither table has the reactance of cord lying loose. It adds little on small cord and much on large:
at power factor 0.8 a real drop is higher by about 2 % on 12 AWG, 8 % on 6 AWG, 17 % on 2 AWG and half as much again on
4/0 AWG (calculated with NEC chapter 9 table 9, in PVC conduit), by more where single conductors lie apart.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING, Literal

from monitor.electrical.legs import neutral, on_legs, path_up, planned_legs
from monitor.electrical.loads import LEG_TO_NEUTRAL, leg_current, nominal_volts
from monitor.electrical.tables import table

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from monitor.show.model import Cable, Circuit, Feeder, Show, System

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
    system: System, legs: Sequence[str], cable: Cable | None, current: complex, celsius: float | None = None
) -> Drop | None:
    """Give the drop over a circuit's own cable: at power factor 1 it is 2 L R I, with three legs L R I.

    Args:
        system: voltage system.
        legs: of the load.
        cable: None gives None.
        current: in each hot leg, against the volts across the load at angle 0 [A]; a plain number is power factor 1.
        celsius: of the conductor [degrees C]; None is the table's planning temperature.

    """
    if cable is None:
        return None
    return _drop(system, legs, [(cable, on_legs(system, legs, current))], celsius)


def feeder_drop(
    system: System, cable: Cable, by_leg: Mapping[str, complex], celsius: float | None = None
) -> dict[str, Drop]:
    """Give the drop from leg to neutral on each leg of a feeder's own cable, the neutral's share included.

    |V| - |V - R (I_leg + I_neutral)|, with a neutral like the legs. Negative where an unbalanced load lifts a leg.

    Args:
        system: voltage system.
        cable: of the feeder.
        by_leg: phasors, as ``monitor.electrical.legs`` gives them [A].
        celsius: of the conductor [degrees C]; None is the table's planning temperature.

    """
    return {leg: _drop(system, (leg,), [(cable, by_leg)], celsius) for leg in by_leg}


def far_end_drop(show: Show, circuit: Circuit, celsius: float | None = None) -> Drop | None:
    """Give the planned drop from the source to a circuit's far end: its own cable and every feeder above.

    Across the circuit's own volts: leg to neutral, leg to leg for two legs, the worst leg for three. Cables that the
    show doesn't describe add nothing; None where it describes none on the way.
    """
    system = show.source.system
    runs = _runs_up(show, circuit.fed_from)
    if circuit.cable is not None:
        runs.append((circuit.cable, on_legs(system, circuit.legs, leg_current(circuit, system))))
    return _drop(system, circuit.legs, runs, celsius) if runs else None


def feeder_end_drop(show: Show, feeder: Feeder, celsius: float | None = None) -> dict[str, Drop]:
    """Give the planned drop from the source to a feeder's far end, leg to neutral, by leg.

    Cables that the show doesn't describe add nothing; empty where it describes none on the way.
    """
    runs = _runs_up(show, feeder.id)
    return {leg: _drop(show.source.system, (leg,), runs, celsius) for leg in feeder.legs} if runs else {}


def not_described(show: Show, each: Circuit | Feeder) -> tuple[str, ...]:
    """Give the places from a circuit or feeder up to the source whose cable the show doesn't describe."""
    feeders = {feeder.id: feeder for feeder in show.feeders}
    way: list[Circuit | Feeder] = [each, *(feeders[at] for at in path_up(show, each.fed_from) if at in feeders)]
    return tuple(place.id for place in way if place.cable is None)


def basis(show: Show) -> str:
    """Say on what a show's drops rest: tables, temperature, what is left out; empty where it describes no cable."""
    places: tuple[Feeder | Circuit, ...] = (*show.feeders, *show.circuits)
    cables = [place.cable for place in places if place.cable is not None]
    rules = table("conductors")
    told = []
    if any(cable.awg for cable in cables):
        told.append(f"{rules['awg']['source'].split(',')[0]}, {rules['awg']['planning_celsius']:g} degrees C")
    if any(not cable.awg for cable in cables):
        told.append(f"{rules['mm2']['source'].split(',')[0]}, {rules['mm2']['planning_celsius']:g} degrees C")
    if not told:
        return ""
    return (
        "from the source to the far end at the planned amps and power factor, in percent of nominal volts (leg to leg"
        f" for a two-hot load, else leg to neutral); copper by {' and '.join(told)}; reactance is left out, so long"
        " runs of large cable drop more"
    )


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


_Run = tuple["Cable", "Mapping[str, complex]"]  # a cable and what flows in its legs, as phasors [A]


def _runs_up(show: Show, place: str) -> list[_Run]:
    """Give the cables from a feeder up to the source, with their planned currents."""
    cables = {feeder.id: feeder.cable for feeder in show.feeders}
    up = ((at, cables.get(at)) for at in path_up(show, place))
    return [(cable, planned_legs(show, at)) for at, cable in up if cable is not None]


def _drop(system: System, legs: Sequence[str], runs: Sequence[_Run], celsius: float | None) -> Drop:
    """Give the drop across a load's volts over several runs in a row; for three legs that of the worst."""
    if len(legs) == 2:  # noqa: PLR2004 - a pair of legs
        first, second = legs
        loss = sum((conductor_ohms(cable, celsius) * (amps[first] - amps[second]) for cable, amps in runs), 0j)
        lost = _lost(_leg_volts(system, first) - _leg_volts(system, second), loss)
        return Drop(lost, nominal_volts(system, legs), "L-L")
    lost = max(
        _lost(
            _leg_volts(system, leg),
            sum((conductor_ohms(cable, celsius) * (amps[leg] + neutral(amps)) for cable, amps in runs), 0j),
        )
        for leg in legs
    )
    return Drop(lost, nominal_volts(system, legs), "L-N")


def _lost(sent: complex, loss: complex) -> float:
    return abs(sent) - abs(sent - loss)


def _leg_volts(system: System, leg: str) -> complex:
    return on_legs(system, (leg,), complex(LEG_TO_NEUTRAL[system]))[leg]


def _size(sizes: Mapping[str, float], name: str, unit: str) -> float:
    if name not in sizes:
        raise ValueError(f"no {unit} size {name}; the table has {', '.join(sizes)}")
    return sizes[name]
