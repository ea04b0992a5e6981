"""What a show fixes for the conditions: places, their points, limits and what stands above what; worked out once."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

from monitor.electrical.generator import leg_rating
from monitor.electrical.legs import path_up, planned_legs
from monitor.electrical.loads import LEG_TO_NEUTRAL, nominal_volts, planned_amps
from monitor.show.model import NEUTRAL, SOURCE_ID, Point

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from monitor.show.model import Breaker, Circuit, Show

THREE_LEGS = 3


@dataclass(frozen=True, slots=True)
class CircuitPlace:
    """A circuit that a meter measures.

    Attributes:
        circuit: as in the show.
        label: its id, with its name where it has one.
        points: one for a whole, else one a leg.
        nominal: of each point [V].
        on_leg: (leg, point) of the points that read one leg to neutral.
        planned_amps: per hot leg [A].
        motor: whether motors start on it.
        up: what feeds it, nearest first, up to and with ``source``.

    """

    circuit: Circuit
    label: str
    points: tuple[Point, ...]
    nominal: float
    on_leg: tuple[tuple[str, Point], ...]
    planned_amps: float
    motor: bool
    up: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Place:
    """The source or a feeder, metered or not.

    Attributes:
        id: ``source`` or the feeder's id.
        label: for people.
        legs: its legs.
        up: what feeds it, nearest first, up to and with ``source``; empty for the source.
        own: its metered legs.
        neutral: its metered neutral, or None.
        breaker: of a feeder, or None.
        rated_amps: of each leg [A], or None.
        neutral_amps: rating of its neutral [A], or None.
        planned_amps: by leg [A].
        circuits: metered circuits that it feeds directly.
        below: metered circuits that it feeds, directly or not.
        all_metered: whether every circuit below is metered.
        children: feeders that it feeds directly.

    """

    id: str
    label: str
    legs: tuple[str, ...]
    up: tuple[str, ...]
    own: Mapping[str, Point]
    neutral: Point | None
    breaker: Breaker | None
    rated_amps: float | None
    neutral_amps: float | None
    planned_amps: Mapping[str, float]
    circuits: tuple[CircuitPlace, ...]
    below: tuple[CircuitPlace, ...]
    all_metered: bool
    children: tuple[str, ...]

    @property
    def motor(self) -> bool:
        """Whether motors start on it."""
        return any(circuit.motor for circuit in self.below)


@dataclass(frozen=True, slots=True)
class Layout:
    """All places of a show.

    Attributes:
        show: the show.
        leg_volts: nominal, leg to neutral [V].
        circuits: those that are metered.
        places: the source and every feeder, parents first.
        planned: whether the show plans any load at all.

    """

    show: Show
    leg_volts: float
    circuits: tuple[CircuitPlace, ...]
    places: Mapping[str, Place]
    planned: bool

    def nominal(self, point: Point) -> float:
        """Give the nominal volts that a point's meter sees [V]; 0 for a neutral."""
        if point.leg == NEUTRAL:
            return 0.0
        found = next((c for c in self.circuits if point in c.points), None)
        return found.nominal if found else self.leg_volts


def lay_out(show: Show) -> Layout:
    """Work out a show's places."""
    measured = frozenset(show.points())
    circuits = tuple(place for circuit in show.circuits if (place := _circuit(show, circuit, measured)))
    places = MappingProxyType(
        {id_: _place(show, id_, circuits, measured) for id_ in (SOURCE_ID, *(feeder.id for feeder in show.feeders))}
    )
    planned = any(circuit.load for circuit in show.circuits)
    return Layout(show, LEG_TO_NEUTRAL[show.source.system], circuits, places, planned)


def _circuit(show: Show, circuit: Circuit, measured: frozenset[Point]) -> CircuitPlace | None:
    by_leg = tuple(point for leg in circuit.legs if (point := Point(circuit.id, leg)) in measured)
    whole = tuple(point for point in (Point(circuit.id),) if point in measured)
    if not by_leg and not whole:
        return None
    system, one_leg = show.source.system, circuit.legs[:1]
    on_leg = tuple((point.leg, point) for point in by_leg) or tuple((leg, Point(circuit.id)) for leg in one_leg)
    return CircuitPlace(
        circuit=circuit,
        label=_label(circuit.id, circuit.name),
        points=by_leg or whole,
        nominal=nominal_volts(system, one_leg if by_leg else circuit.legs),
        on_leg=on_leg if by_leg or len(circuit.legs) == 1 else (),
        planned_amps=planned_amps(circuit, system),
        motor="motor" in circuit.tags or any(load.kind == "motor" for load in circuit.load),
        up=path_up(show, circuit.fed_from),
    )


def _place(show: Show, id_: str, circuits: tuple[CircuitPlace, ...], measured: frozenset[Point]) -> Place:
    source = show.source
    feeder = next((feeder for feeder in show.feeders if feeder.id == id_), None)
    legs = feeder.legs if feeder else source.legs
    breaker = feeder.breaker if feeder else None
    neutral = Point(id_, NEUTRAL)
    below = tuple(circuit for circuit in circuits if id_ in circuit.up)
    return Place(
        id=id_,
        label=_label(feeder.id, feeder.name) if feeder else "the source",
        legs=legs,
        up=path_up(show, feeder.fed_from) if feeder else (),
        own=MappingProxyType({leg: point for leg in legs if (point := Point(id_, leg)) in measured}),
        neutral=neutral if neutral in measured else None,
        breaker=breaker,
        rated_amps=(breaker.amps if breaker else None) if feeder else leg_rating(source),
        neutral_amps=feeder.neutral_amps if feeder else source.neutral_amps,
        planned_amps=MappingProxyType({leg: abs(amps) for leg, amps in planned_legs(show, id_).items()}),
        circuits=tuple(circuit for circuit in below if circuit.circuit.fed_from == id_),
        below=below,
        all_metered=len(below) == sum(id_ in path_up(show, c.fed_from) for c in show.circuits),
        children=tuple(child.id for child in show.feeders if child.fed_from == id_),
    )


def parents(codes: Iterable[str], places: Iterable[str]) -> tuple[tuple[str, str], ...]:
    """Pair codes with places: what would explain an observation further down.

    A place that is the source has ``source-lost`` where a feeder has ``feeder-lost``.
    """
    pairs = ((code, place) for place in places for code in codes)
    return tuple(
        ("source-lost", place) if (c, place) == ("feeder-lost", SOURCE_ID) else (c, place) for c, place in pairs
    )


def _label(id_: str, name: str) -> str:
    return id_ if name == id_ else f"{id_} {name}"
