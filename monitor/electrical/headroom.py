"""Headroom: whether one more load fits at a circuit, and which place on the way to the source limits it.

Amps are added as plain numbers, not as phasors: with loads of other power factors, or leg to leg on a wye, the sum is
an upper bound. A place without a value or without a rating is "not checked", never taken as empty or as unlimited.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from monitor.electrical.generator import leg_rating, planned_load
from monitor.electrical.legs import path_up, planned_legs
from monitor.electrical.loads import nominal_volts, planned_amps
from monitor.show.model import SOURCE_ID, Point

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from monitor.show.model import Breaker, Cable, Circuit, Feeder, Show


@dataclass(frozen=True, slots=True)
class Present:
    """What flows now, or what is planned; a place that isn't known is left out.

    Attributes:
        amps: of circuits, feeder legs and source legs [A].
        kilowatts: of the source [kW], or None.
        kilovolt_amperes: of the source [kVA], or None.

    """

    amps: Mapping[Point, float] = field(default_factory=dict)
    kilowatts: float | None = None
    kilovolt_amperes: float | None = None


@dataclass(frozen=True, slots=True)
class Room:
    """What is left at one place.

    Attributes:
        where: a point, ``source kW`` or ``source kVA``.
        limit_amps: by the site's continuous policy [A of the added load]; None without a rating.
        present_amps: there now [A]; None where not known.

    """

    where: str
    limit_amps: float | None
    present_amps: float | None

    @property
    def amps(self) -> float | None:
        """What is left [A], below 0 where the limit is passed already; None: not checked."""
        if self.limit_amps is None or self.present_amps is None:
            return None
        return self.limit_amps - self.present_amps


@dataclass(frozen=True, slots=True)
class Headroom:
    """The answer for one load at one circuit.

    Attributes:
        added_amps: of the load, in each hot leg [A].
        rooms: every place from the circuit to the source.
        watts_per_amp: of the load, all its legs together [W/A].

    """

    added_amps: float
    rooms: tuple[Room, ...]
    watts_per_amp: float

    @property
    def limited_by(self) -> str | None:
        """The place with the least room; None where nothing could be checked."""
        checked = [(room.amps, room.where) for room in self.rooms if room.amps is not None]
        return min(checked, key=lambda pair: pair[0])[1] if checked else None

    @property
    def amps(self) -> float | None:
        """The least room [A]; None where nothing could be checked."""
        return min((room.amps for room in self.rooms if room.amps is not None), default=None)

    @property
    def watts(self) -> float | None:
        """The largest load of this kind by the least room [W]; None where nothing could be checked."""
        return None if self.amps is None else max(0.0, self.amps) * self.watts_per_amp

    @property
    def fits(self) -> bool | None:
        """Whether every place that could be checked has the room; None where none could."""
        return None if self.amps is None else self.added_amps <= self.amps + 1e-9

    @property
    def not_checked(self) -> tuple[str, ...]:
        """Places without a value or without a rating: the answer knows nothing of them."""
        return tuple(room.where for room in self.rooms if room.amps is None)


def headroom(
    show: Show, circuit: Circuit, load: tuple[float, float], present: Present, volts: float | None = None
) -> Headroom:
    """Say whether a load fits at a circuit.

    Args:
        show: with ratings and the continuous policy.
        circuit: where the load is to go.
        load: watts [W] and power factor [1].
        present: measured or planned.
        volts: measured across the load [V]; None takes nominal.

    """
    watts, power_factor = load
    across = nominal_volts(show.source.system, circuit.legs) if volts is None else volts
    hots = 3 if len(circuit.legs) == 3 else 1  # noqa: PLR2004 - three legs share, two carry the same current
    per_amp = across * power_factor * hots
    rooms = (*_places(show, circuit, present), *_source_power(show, present, across * hots, power_factor))
    return Headroom(watts / per_amp, rooms, per_amp)


def planned_present(show: Show) -> Present:
    """Give the plan as ``Present``: every place is known."""
    system = show.source.system
    amps = {Point(circuit.id): planned_amps(circuit, system) for circuit in show.circuits}
    for place in (SOURCE_ID, *(feeder.id for feeder in show.feeders)):
        amps |= {Point(place, leg): abs(current) for leg, current in planned_legs(show, place).items()}
    load = planned_load(show)
    return Present(amps, load.kilowatts, load.kilovolt_amperes)


def continuous_limit(breaker: Breaker, percent: float) -> float:
    """Give what a breaker may carry for hours by the site's policy [A]; all of it where it is marked for that."""
    return breaker.amps if breaker.full_rated else breaker.amps * percent / 100.0


def _places(show: Show, circuit: Circuit, present: Present) -> Iterator[Room]:
    percent = show.setting("continuous_percent", circuit)
    yield Room(circuit.id, _limit(circuit.breaker, circuit.cable, percent), _circuit_amps(circuit, present))
    percent = show.setting("continuous_percent")
    feeders: dict[str, Feeder] = {feeder.id: feeder for feeder in show.feeders}
    for place in path_up(show, circuit.fed_from):
        if place == SOURCE_ID:
            rating = leg_rating(show.source)
            limit = None if rating is None else rating * percent / 100.0
        else:
            limit = _limit(feeders[place].breaker, feeders[place].cable, percent)
        for leg in circuit.legs:
            yield Room(str(Point(place, leg)), limit, present.amps.get(Point(place, leg)))


def _source_power(show: Show, present: Present, volts: float, power_factor: float) -> Iterator[Room]:
    """Give the room in the source's kVA and kW, as amps of the added load; only for the ratings it has."""
    part = show.setting("continuous_percent") / 100.0
    for where, rating, now, per_amp in (
        ("source kVA", show.source.rated_kva, present.kilovolt_amperes, volts / 1000),
        ("source kW", show.source.rated_kw, present.kilowatts, volts * power_factor / 1000),
    ):
        if rating is not None:
            yield Room(where, rating * part / per_amp, None if now is None else now / per_amp)


def _circuit_amps(circuit: Circuit, present: Present) -> float | None:
    whole = present.amps.get(Point(circuit.id))
    if whole is not None:
        return whole
    by_leg = [present.amps.get(Point(circuit.id, leg)) for leg in circuit.legs]
    known = [amps for amps in by_leg if amps is not None]
    return max(known) if len(known) == len(by_leg) else None


def _limit(breaker: Breaker | None, cable: Cable | None, percent: float) -> float | None:
    limits = [continuous_limit(breaker, percent)] if breaker else []
    if cable is not None and cable.amps is not None:
        limits.append(cable.amps * cable.parallel)
    return min(limits, default=None)
