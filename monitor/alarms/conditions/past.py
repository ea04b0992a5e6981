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


def volts_points(place: Place, leg: str) -> tuple[Point, ...]:
    """Give what the volts of a place's leg are read by: its own meter, else circuits right on it."""
    if leg in place.own:
        return (place.own[leg],)
    return tuple(point for circuit in place.circuits for at, point in circuit.on_leg if at == leg)


def amps_points(place: Place, leg: str) -> tuple[Point, ...]:
    """Give what the amps on a place's leg are read by: its own meter, else every circuit under it."""
    if leg in place.own:
        return (place.own[leg],)
    return tuple(dict(c.on_leg).get(leg, c.points[0]) for c in place.below if leg in c.circuit.legs)


def middle_volts(points: tuple[Point, ...], minutes: Mapping[Point, PointMinute]) -> float | None:
    """Give the volts that several read, over a minute [V], as ``Known.leg_volts`` does; None where none is known."""
    found = [v for point in points if point in minutes and (v := minutes[point].volts) is not None]
    return median(found) if found else None


def sum_amps(points: tuple[Point, ...], minutes: Mapping[Point, PointMinute]) -> float | None:
    """Give the mean amps that several read together, over a minute [A]; None where none is known."""
    found = [amps[1] for point in points if point in minutes and (amps := minutes[point].amps) is not None]
    return sum(found) if found else None
