"""Minutes of the past, for what the conditions add up over hours and days: after a restart they stand for the seconds.

A minute tells lowest, mean and highest amps, mean volts and watts. So energy, fuel and time at low load come out as by
the seconds but for what varies within a minute: a minute counts as a whole to one side of a limit. Heat takes a minute
whose amps vary as two stretches, at the highest and at the lowest amps, with the minute's mean: on a curve that bends
upwards as breakers' do that is never less than by the seconds.
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import median
from typing import TYPE_CHECKING

from monitor.show.model import SOURCE_ID

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from monitor.alarms.conditions.layout import Layout, Place
    from monitor.show.model import Point

MINUTE_S = 60.0
_STEADY = 0.01  # of the mean: amps that vary by less within a minute are carried as one


@dataclass(frozen=True, slots=True)
class PointMinute:
    """One minute of one point; None is "not measured".

    Attributes:
        seconds: of the minute with readings [s]; 0 where nothing was read.
        volts: mean [V].
        amps: lowest, mean, highest [A].
        watts: mean [W].

    """

    seconds: float
    volts: float | None = None
    amps: tuple[float, float, float] | None = None
    watts: float | None = None


@dataclass(frozen=True, slots=True)
class SourceMinute:
    """One minute of the source.

    Attributes:
        seconds: in which every leg of it was read [s].
        watts: mean, all legs; None where not every leg is known [W].
        turning: its volts are there.

    """

    seconds: float
    watts: float | None
    turning: bool


def source_minute(layout: Layout, minutes: Mapping[Point, PointMinute]) -> SourceMinute:
    """Add up the legs of the source: measured watts where every leg has them, else volts times amps."""
    legs = [minutes[point] for point in layout.places[SOURCE_ID].own.values() if point in minutes]
    if not legs or len(legs) < len(layout.show.source.legs):
        return SourceMinute(0.0, None, turning=False)
    seconds = min(leg.seconds for leg in legs)
    watts = [abs(leg.watts) for leg in legs if leg.watts is not None]
    apparent = [leg.volts * leg.amps[1] for leg in legs if leg.volts is not None and leg.amps is not None]
    known = watts if len(watts) == len(legs) else apparent
    turning = any(leg.volts is not None and leg.volts >= 0.5 * layout.leg_volts for leg in legs)
    return SourceMinute(seconds, sum(known) if seconds and len(known) == len(legs) else None, turning)


def loads(points: tuple[Point, ...], minutes: Mapping[Point, PointMinute]) -> Iterator[tuple[float | None, float]]:
    """Give a circuit's minute as (amps [A] or None, seconds [s]): its highest leg, as two stretches where it varies."""
    read = [minutes[point] for point in points if point in minutes]
    amps = [minute.amps for minute in read if minute.amps is not None]
    seconds = min((minute.seconds for minute in read), default=0.0) if len(amps) == len(points) else 0.0
    if seconds:
        low, mean, high = max(amps, key=lambda leg: leg[1])
        part = (mean - low) / (high - low) if high - low > _STEADY * mean else 0.0
        yield (low if part else mean), (1 - part) * seconds
        if part:
            yield high, part * seconds
    if seconds < MINUTE_S:
        yield None, MINUTE_S - seconds


def leg_volts(place: Place, leg: str, minutes: Mapping[Point, PointMinute]) -> float | None:
    """Give the volts of a place's leg, as ``Known.leg_volts`` does, over a minute [V]."""
    points = [place.own[leg]] if leg in place.own else [p for c in place.circuits for at, p in c.on_leg if at == leg]
    volts = [minute.volts for point in points if (minute := minutes.get(point)) is not None]
    found = [v for v in volts if v is not None]
    return median(found) if found else None


def leg_amps(place: Place, leg: str, minutes: Mapping[Point, PointMinute]) -> float | None:
    """Give the amps on a place's leg, as ``Known.leg_amps`` does, over a minute [A]."""
    on_leg = [circuit for circuit in place.below if leg in circuit.circuit.legs]
    points = [dict(circuit.on_leg).get(leg, circuit.points[0]) for circuit in on_leg]
    read = [minutes.get(point) for point in ([place.own[leg]] if leg in place.own else points)]
    amps = [minute.amps[1] for minute in read if minute is not None and minute.amps is not None]
    return sum(amps) if amps else None
