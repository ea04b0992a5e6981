"""From remembered readings to the views of a Snapshot: circuits, feeders, source."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

from monitor.electrical.headroom import continuous_limit
from monitor.electrical.legs import lagging, neutral, on_legs
from monitor.electrical.loads import nominal_volts, planned_amps
from monitor.engine.memory import UNMETERED, Memories
from monitor.engine.snapshot import CircuitView, FeederView, Freshness, LegView, Measured, SourceView
from monitor.engine.toldviews import bus_views, fuel_view, heat_views
from monitor.show.model import NEUTRAL, SOURCE_ID, Circuit, Feeder, Point, Show, Source

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from monitor.engine.tallied import Tallied
    from monitor.engine.told import BusView, HeatView

_WORST_LAST = (Freshness.LIVE, Freshness.UNMETERED, Freshness.NEVER, Freshness.OLD)


@dataclass(frozen=True, slots=True)
class CircuitFigures:
    """What a show fixes for one circuit.

    Attributes:
        circuit: as in the show.
        by_leg: its points where it is metered leg by leg, else empty.
        nominal_volts: as its meter sees them [V].
        planned_amps: per hot leg [A].
        continuous_amps: the site's limit for continuous load [A].

    """

    circuit: Circuit
    by_leg: tuple[Point, ...]
    nominal_volts: float
    planned_amps: float
    continuous_amps: float


@dataclass(frozen=True)
class Figures:
    """What a show fixes once and for all, worked out once."""

    show: Show

    @cached_property
    def measured_points(self) -> frozenset[Point]:
        """Every point that a meter measures."""
        return frozenset(self.show.points())

    @cached_property
    def circuits(self) -> tuple[CircuitFigures, ...]:
        """The circuits, in the show's order."""
        return tuple(self._circuit(circuit) for circuit in self.show.circuits)

    def _circuit(self, circuit: Circuit) -> CircuitFigures:
        system = self.show.source.system
        points = (Point(circuit.id, leg) for leg in circuit.legs)
        by_leg = tuple(point for point in points if point in self.measured_points)
        percent = self.show.setting("continuous_percent", circuit)
        return CircuitFigures(
            circuit=circuit,
            by_leg=by_leg,
            nominal_volts=nominal_volts(system, circuit.legs[:1] if by_leg else circuit.legs),
            planned_amps=planned_amps(circuit, system),
            continuous_amps=continuous_limit(circuit.breaker, percent),
        )

    @cached_property
    def old_after_s(self) -> dict[str, float]:
        """How long the values of each place are live [s]: circuits, feeders and the source."""
        places = dict.fromkeys((SOURCE_ID, *(f.id for f in self.show.feeders)), self.show.setting("old_after_seconds"))
        return places | {c.id: self.show.setting("old_after_seconds", c) for c in self.show.circuits}

    @cached_property
    def leg_volts(self) -> float:
        """Nominal volts from leg to neutral [V]."""
        return nominal_volts(self.show.source.system, self.show.source.legs[:1])

    @cached_property
    def below(self) -> dict[str, tuple[Circuit, ...]]:
        """All circuits below ``source`` and below each feeder, at any depth."""
        parents = {f.id: f.fed_from for f in self.show.feeders}
        found: dict[str, list[Circuit]] = {SOURCE_ID: [], **{f: [] for f in parents}}
        for circuit in self.show.circuits:
            place = circuit.fed_from
            while place != SOURCE_ID:
                found[place].append(circuit)
                place = parents[place]
            found[SOURCE_ID].append(circuit)
        return {place: tuple(circuits) for place, circuits in found.items()}


@dataclass(frozen=True)
class Moment:
    """The views at one moment.

    Attributes:
        figures: of the show.
        memories: of its points.
        now_s: monotonic clock [s].
        tallied: what the logger has added up; None where it is not known.

    """

    figures: Figures
    memories: Memories
    now_s: float
    tallied: Tallied | None = None

    def point(self, point: Point) -> Measured:
        """Give what may be shown of one point."""
        return self.memories.measured(point, self.now_s, self.figures.old_after_s[point.place])

    @cached_property
    def circuits(self) -> tuple[CircuitView, ...]:
        """Every circuit, in the show's order."""
        return tuple(self._circuit(figures) for figures in self.figures.circuits)

    @cached_property
    def _heat(self) -> Mapping[str, HeatView]:
        return heat_views(self.tallied)

    @cached_property
    def buses(self) -> tuple[BusView, ...]:
        """Every bus that has meters, in the show's order."""
        return bus_views(self.figures.show, self.tallied, self.point)

    @cached_property
    def _by_id(self) -> dict[str, CircuitView]:
        return {view.id: view for view in self.circuits}

    def _circuit(self, figures: CircuitFigures) -> CircuitView:
        circuit = figures.circuit
        by_leg = tuple((point.leg, self.point(point)) for point in figures.by_leg)
        measured = _together(m for _, m in by_leg) if by_leg else self.point(Point(circuit.id))
        amps = measured.amps if measured.live else None
        rated = circuit.breaker.amps
        return CircuitView(
            id=circuit.id,
            name=circuit.name,
            box=circuit.fed_from,
            legs=circuit.legs,
            measured=measured,
            by_leg=by_leg,
            nominal_volts=figures.nominal_volts,
            planned_amps=figures.planned_amps,
            continuous_amps=figures.continuous_amps,
            rated_amps=rated,
            over_plan_amps=None if amps is None else amps - figures.planned_amps,
            percent=None if amps is None else 100.0 * amps / rated,
            heat=self._heat.get(circuit.id),
            over_minute_amps=None
            if amps is None
            else self.memories.over_minute(figures.by_leg or (Point(circuit.id),), self.now_s),
        )

    @cached_property
    def feeders(self) -> tuple[FeederView, ...]:
        """Every feeder, parents first."""
        return tuple(self._feeder(feeder) for feeder in self.figures.show.feeders)

    def _feeder(self, feeder: Feeder) -> FeederView:
        limit = feeder.breaker.amps if feeder.breaker else None
        legs = self._legs(feeder.id, feeder.legs, limit, feeder.neutral_amps)
        return FeederView(feeder.id, feeder.name, feeder.fed_from, legs)

    def _legs(
        self, place: str, legs: tuple[str, ...], limit: float | None, neutral_limit: float | None
    ) -> tuple[LegView, ...]:
        views = [self._leg(place, leg, limit) for leg in legs]
        if Point(place, NEUTRAL) in self.figures.measured_points:
            views.append(self._leg(place, NEUTRAL, neutral_limit))
        return tuple(views)

    def _leg(self, place: str, leg: str, limit: float | None) -> LegView:
        measured = self.point(Point(place, leg))
        on_leg = [self._by_id[c.id] for c in self.figures.below[place] if leg in c.legs]
        live = [amps for view in on_leg if (amps := _leg_amps(view, leg)) is not None]
        amps = measured.amps if measured.live else None
        return LegView(
            leg=leg,
            measured=measured,
            circuits_amps=sum(live) if live else None,
            limit_amps=limit,
            percent=None if amps is None or limit is None else 100.0 * amps / limit,
            nominal_volts=0.0 if leg == NEUTRAL else self.figures.leg_volts,
        )

    @cached_property
    def source(self) -> SourceView:
        """The source."""
        source = self.figures.show.source
        legs = self._legs(SOURCE_ID, source.legs, source.amps_per_leg, source.neutral_amps)
        hot = [leg.measured for leg in legs if leg.leg != NEUTRAL]
        kilowatts, by_watts = _kilowatts(hot)
        kva = _kva(hot)
        return SourceView(
            name=source.name,
            system=source.system,
            legs=legs,
            nominal_hertz=source.hertz,
            hertz=self._hertz(hot),
            kilowatts=kilowatts,
            kilowatts_measured=by_watts,
            rated_kw=source.rated_kw,
            percent=_share(kilowatts, source.rated_kw),
            kind=source.kind,
            kva=kva,
            rated_kva=source.rated_kva,
            kva_percent=_share(kva, source.rated_kva),
            neutral_estimate_amps=_neutral(source, legs),
            output=None if self.tallied is None else self.tallied.output,
            fuel=fuel_view(self.figures.show, self.tallied),
        )

    def _hertz(self, hot: Iterable[Measured]) -> float | None:
        places = [*hot, *(view.measured for view in self.circuits)]
        return next((m.hertz for m in places if m.live and m.hertz is not None), None)


def _leg_amps(view: CircuitView, leg: str) -> float | None:
    """Give the live amps of a circuit on one of its legs."""
    measured = dict(view.by_leg).get(leg, view.measured if not view.by_leg else UNMETERED)
    return measured.amps if measured.live else None


def _kilowatts(hot: list[Measured]) -> tuple[float | None, bool]:
    """Add up the legs [kW]; None unless every leg is live; by volts times amps where watts are not measured.

    A negative leg is a reversed transformer, not power flowing back: its size counts (``wrong`` tells of it).
    """
    if not hot or not all(m.live for m in hot):
        return None, False
    watts = [m.watts for m in hot]
    if all(w is not None for w in watts):
        return sum(abs(w) for w in watts if w is not None) / 1000.0, True
    return _kva(hot), False


def _kva(hot: list[Measured]) -> float | None:
    """Add up volts times amps of the legs [kVA]; None unless every leg is live."""
    products = [m.volts * m.amps for m in hot if m.live and m.volts is not None and m.amps is not None]
    return sum(products) / 1000.0 if hot and len(products) == len(hot) else None


def _share(value: float | None, rated: float | None) -> float | None:
    """Give a value in percent of its rating; None where either is unknown."""
    return None if value is None or not rated else 100.0 * value / rated


def _neutral(source: Source, legs: Iterable[LegView]) -> float | None:
    """Estimate the neutral's amps from those of the legs [A], each at its power factor, at 1 where that is unknown.

    None where the neutral has a meter, a leg is not live, or there is one leg only (it is that leg's current).
    """
    hot = {leg.leg: leg.measured for leg in legs}
    live = {leg: m.amps for leg, m in hot.items() if m.live and m.amps is not None}
    if NEUTRAL in hot or len(hot) == 1 or len(live) < len(hot):
        return None
    phasors: dict[str, complex] = {}
    for leg, amps in live.items():
        factor = hot[leg].power_factor
        along = lagging(abs(amps), 1.0 if factor is None else min(abs(factor), 1.0))
        phasors |= on_legs(source.system, (leg,), along)
    return abs(neutral(phasors))


def _together(legs: Iterable[Measured]) -> Measured:
    """Join the legs of one circuit: highest amps, lowest volts, sum of watts, oldest age, worst freshness."""
    parts = list(legs)
    worst = max(parts, key=lambda m: (_WORST_LAST.index(m.freshness), m.age_s or 0.0))
    watts = [m.watts for m in parts]
    return replace(
        worst,
        volts=_least(m.volts for m in parts),
        amps=_most(m.amps for m in parts),
        hertz=next((m.hertz for m in parts if m.hertz is not None), None),
        watts=None if None in watts else sum(w for w in watts if w is not None),
        power_factor=_least(m.power_factor for m in parts),
    )


def _pick(choose: Callable[[list[float]], float], values: Iterable[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return choose(known) if known else None


def _most(values: Iterable[float | None]) -> float | None:
    return _pick(max, values)


def _least(values: Iterable[float | None]) -> float | None:
    return _pick(min, values)
