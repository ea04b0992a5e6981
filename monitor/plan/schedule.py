"""The load schedule: one show's plan worked out, as frozen rows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from monitor.electrical.cable import Drop, drop, far_end_drop, feeder_drop, feeder_end_drop, not_described
from monitor.electrical.fuel import burn, faults
from monitor.electrical.generator import SourceLoad, leg_rating, planned_load
from monitor.electrical.headroom import Headroom, continuous_limit, headroom, planned_present
from monitor.electrical.legs import circuits_under, neutral, planned_legs
from monitor.electrical.loads import leg_current, paper_amps, planned_amps, planned_watts, start_amps
from monitor.show.model import SOURCE_ID

if TYPE_CHECKING:
    from monitor.electrical.headroom import Present
    from monitor.show.model import Circuit, Feeder, Show


@dataclass(frozen=True, slots=True)
class CircuitRow:
    """One circuit's plan.

    Attributes:
        circuit: as in the show.
        planned_watts: all legs together [W].
        planned_amps: in each hot leg, at power factor [A].
        paper_amps: the trade's watts / 100 (see ``monitor.electrical.loads``) [A].
        start_amps: with its hardest motor starting [A].
        continuous_amps: the site's limit for continuous load [A].
        own_drop: over its own cable; None without one.
        far_drop: from the source to its far end; None where no cable is described on the way.
        no_cable: places on the way whose cable is not described: ``far_drop`` is then the least.
        path: room for nothing more than a watt, over the whole path: its least room and where that is.

    """

    circuit: Circuit
    planned_watts: float
    planned_amps: float
    paper_amps: float
    start_amps: float
    continuous_amps: float
    own_drop: Drop | None
    far_drop: Drop | None
    no_cable: tuple[str, ...]
    path: Headroom

    @property
    def headroom_amps(self) -> float:
        """The circuit's own room below its continuous limit [A]; below 0 where it is passed."""
        return self.continuous_amps - self.planned_amps


@dataclass(frozen=True, slots=True)
class FeederRow:
    """One feeder's plan.

    Attributes:
        feeder: as in the show.
        planned_watts: of all circuits below it [W].
        amps_by_leg: phasor sums [A].
        neutral_amps: [A].
        rated_amps: of its breaker; None without one [A].
        continuous_amps: the site's limit for continuous load; None without a breaker [A].
        own_drops: over its own cable, leg to neutral, by leg; empty without one.
        far_drops: from the source to its far end, likewise; empty where no cable is described on the way.
        no_cable: places on the way whose cable is not described: ``far_drops`` are then the least.

    """

    feeder: Feeder
    planned_watts: float
    amps_by_leg: dict[str, float]
    neutral_amps: float
    rated_amps: float | None
    continuous_amps: float | None
    own_drops: dict[str, Drop]
    far_drops: dict[str, Drop]
    no_cable: tuple[str, ...]

    @property
    def planned_amps(self) -> float:
        """The highest leg [A]."""
        return max(self.amps_by_leg.values())

    @property
    def headroom_amps(self) -> float | None:
        """The highest leg's room below the continuous limit [A]; None without a breaker."""
        return None if self.continuous_amps is None else self.continuous_amps - self.planned_amps

    @property
    def own_drop(self) -> Drop | None:
        """Over its own cable, the worst leg; None without a cable."""
        return max(self.own_drops.values(), key=lambda d: d.volts, default=None)

    @property
    def far_drop(self) -> Drop | None:
        """From the source to its far end, the worst leg; None where no cable is described on the way."""
        return max(self.far_drops.values(), key=lambda d: d.volts, default=None)


@dataclass(frozen=True, slots=True)
class FuelDay:
    """Fuel at the planned load, all of it on all the time: the high side.

    Attributes:
        hours: of the day [h].
        litres_per_hour: [l/h].
        usable_litres: of a full tank [l].

    """

    hours: float
    litres_per_hour: float
    usable_litres: float

    @property
    def litres(self) -> float:
        """Burnt over the day [l]."""
        return self.hours * self.litres_per_hour


@dataclass(frozen=True, slots=True)
class Schedule:
    """The whole plan.

    Attributes:
        show: what was planned.
        circuits: in the show's order.
        feeders: in the show's order.
        amps_by_leg: of the source [A].
        neutral_amps: of the source [A].
        leg_rating_amps: of the source; None where not known [A].
        source: kilowatts, kilovolt-amperes and percents.
        fuel: None without usable fuel points.

    """

    show: Show
    circuits: tuple[CircuitRow, ...]
    feeders: tuple[FeederRow, ...]
    amps_by_leg: dict[str, float]
    neutral_amps: float
    leg_rating_amps: float | None
    source: SourceLoad
    fuel: FuelDay | None


def make_schedule(show: Show, hours: float = 12.0) -> Schedule:
    """Work out the plan of a show, for a day of ``hours`` [h]."""
    present = planned_present(show)
    legs = planned_legs(show, SOURCE_ID)
    load = planned_load(show)
    return Schedule(
        show=show,
        circuits=tuple(_circuit(show, circuit, present) for circuit in show.circuits),
        feeders=tuple(_feeder(show, feeder) for feeder in show.feeders),
        amps_by_leg={leg: abs(current) for leg, current in legs.items()},
        neutral_amps=abs(neutral(legs)),
        leg_rating_amps=leg_rating(show.source),
        source=load,
        fuel=_fuel(show, load, hours),
    )


def _circuit(show: Show, circuit: Circuit, present: Present) -> CircuitRow:
    system = show.source.system
    amps = planned_amps(circuit, system)
    return CircuitRow(
        circuit=circuit,
        planned_watts=planned_watts(circuit),
        planned_amps=amps,
        paper_amps=paper_amps(circuit, system),
        start_amps=start_amps(circuit, system),
        continuous_amps=continuous_limit(circuit.breaker, show.setting("continuous_percent", circuit)),
        own_drop=drop(system, circuit.legs, circuit.cable, leg_current(circuit, system)),
        far_drop=far_end_drop(show, circuit),
        no_cable=not_described(show, circuit),
        path=headroom(show, circuit, (1.0, 1.0), present),
    )


def _feeder(show: Show, feeder: Feeder) -> FeederRow:
    legs = planned_legs(show, feeder.id)
    percent = show.setting("continuous_percent")
    breaker = feeder.breaker
    return FeederRow(
        feeder=feeder,
        planned_watts=sum(planned_watts(circuit) for circuit in circuits_under(show, feeder.id)),
        amps_by_leg={leg: abs(current) for leg, current in legs.items()},
        neutral_amps=abs(neutral(legs)),
        rated_amps=breaker.amps if breaker else None,
        continuous_amps=continuous_limit(breaker, percent) if breaker else None,
        own_drops=feeder_drop(show.source.system, feeder.cable, legs) if feeder.cable else {},
        far_drops=feeder_end_drop(show, feeder),
        no_cable=not_described(show, feeder),
    )


def _fuel(show: Show, load: SourceLoad, hours: float) -> FuelDay | None:
    fuel, rated_kw = show.source.fuel, show.source.rated_kw
    if fuel is None or not rated_kw or faults(fuel, rated_kw):
        return None
    return FuelDay(hours, burn(fuel, rated_kw, load.kilowatts), fuel.tank_litres * fuel.usable_percent / 100.0)
