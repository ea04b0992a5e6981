"""Fuel: burn from the set's own points, calibration from refuels, litres and time left, carbon dioxide.

Charts of burn are good to about 20 % (judgement from how published ones differ): until refuels have calibrated a set,
every figure here is an estimate.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import isfinite
from typing import TYPE_CHECKING

from monitor.electrical.tables import table

if TYPE_CHECKING:
    from collections.abc import Sequence

    from monitor.show.model import Fuel, Source

_FILLS_NEEDED = 2
_LEAST_PERCENT = 10.0  # the highest point must show load; also catches fractions written for percent
_PLAUSIBLE = (0.5, 2.0)  # of the points' own litres: outside it a refuel or the energy is wrong


def faults(fuel: Fuel, rated_kw: float) -> tuple[str, ...]:
    """Say what is wrong with a set's fuel points; empty where they can be used.

    Args:
        fuel: with its points (percent of rated kW, litres per hour), rising in percent.
        rated_kw: [kW].

    """
    found = []
    least = table("fuel")[fuel.kind]["least_litres_per_kwh"]
    if not fuel.litres_per_hour or fuel.litres_per_hour[-1][0] < _LEAST_PERCENT:
        found.append("no fuel point of a loaded set; give litres per hour at 25, 50, 75 and 100 percent of rated kW")
    for percent, litres in fuel.litres_per_hour:
        if not (isfinite(percent) and isfinite(litres) and percent >= 0 and litres > 0):
            found.append(f"{percent:g} %: {litres:g} l/h is no fuel point")
        elif litres < least * rated_kw * percent / 100:
            each = litres / (rated_kw * percent / 100)
            found.append(
                f"{percent:g} %: {litres:g} l/h is {each:.2f} l/kWh; no {fuel.kind} set burns less than {least:.2f}:"
                " check the rating and the unit (US gallons?)"
            )
    for (low, some), (high, more) in pairwise(fuel.litres_per_hour):
        if high <= low:
            found.append(f"{high:g} % stands after {low:g} %; points rise in percent")
        elif more <= some:
            found.append(f"{high:g} %: {more:g} l/h is not above the {some:g} l/h at {low:g} %; burn rises with load")
    return tuple(found)


def source_faults(source: Source) -> tuple[str, ...]:
    """Say what is wrong with the fuel points of a source; empty where it has none, or no rated kW to judge them by."""
    return faults(source.fuel, source.rated_kw) if source.fuel is not None and source.rated_kw else ()


def burn(fuel: Fuel, rated_kw: float, kilowatts: float) -> float:
    """Give the burn at a load [l/h]: monotone cubic through the points (Fritsch and Carlson 1980).

    Below the lowest point: straight on to no load by the two lowest points, but not under the burn of an idling set
    (``idle_litres_per_rated_kw`` of the table). Above the highest: straight on by the two highest.

    Args:
        fuel: points without ``faults``.
        rated_kw: [kW].
        kilowatts: load [kW]; below 0 counts as no load.

    """
    percent = 100.0 * max(0.0, kilowatts) / rated_kw
    points = _with_no_load(fuel, rated_kw)
    last, before = points[-1], points[-2]
    if percent > last[0]:
        return last[1] + (last[1] - before[1]) / (last[0] - before[0]) * (percent - last[0])
    return _monotone(points, percent)


def carbon_dioxide(fuel: Fuel, litres: float) -> float:
    """Give the carbon dioxide of burnt fuel [kg], from the tailpipe only (EIA factors)."""
    return litres * float(table("fuel")[fuel.kind]["kg_co2_per_litre"])


@dataclass(frozen=True, slots=True)
class Fill:
    """What went in at a refuel to the same level as the one before.

    Attributes:
        litres: [l].
        modelled_litres: what the points say was burnt since the fill before, by the logged load [l].

    """

    litres: float
    modelled_litres: float


@dataclass(frozen=True, slots=True)
class Calibration:
    """How a set's burn compares with its points.

    Attributes:
        factor: litres added / litres modelled [1]; 1 without a usable fill.
        fills: how many it rests on.
        plausible: False where the factor can't be the set's: a wrong entry, a gap in the log, or another set.

    """

    factor: float = 1.0
    fills: int = 0
    plausible: bool = True

    @property
    def estimate(self) -> bool:
        """Whether the figures are still an estimate: fewer than two fills, or none that can be true."""
        return self.fills < _FILLS_NEEDED or not self.plausible

    @property
    def applied(self) -> float:
        """The factor to multiply modelled litres with [1]: 1 while the figures are an estimate."""
        return 1.0 if self.estimate else self.factor


def calibrate(fills: Sequence[Fill]) -> Calibration:
    """Compare litres added with litres modelled; fills without litres or without modelled burn don't count."""
    usable = [fill for fill in fills if fill.litres > 0 and fill.modelled_litres > 0]
    if not usable:
        return Calibration()
    factor = sum(fill.litres for fill in usable) / sum(fill.modelled_litres for fill in usable)
    low, high = _PLAUSIBLE
    return Calibration(factor, len(usable), low <= factor <= high)


@dataclass(frozen=True, slots=True)
class TimeLeft:
    """How far the fuel goes.

    Attributes:
        usable_litres: above what the pump can't reach [l].
        hours_mean: at the last hour's mean load [h]; None where that is not known.
        hours_worst: at the worst hour's load [h]; None where that is not known.
        estimate: True until refuels have calibrated the set.

    """

    usable_litres: float
    hours_mean: float | None
    hours_worst: float | None
    estimate: bool


def time_left(
    fuel: Fuel,
    rated_kw: float,
    level_litres: float,
    loads_kw: tuple[float | None, float | None],
    calibration: Calibration | None = None,
) -> TimeLeft:
    """Give litres and hours left; the reserve is not taken off.

    Args:
        fuel: points without ``faults``.
        rated_kw: [kW].
        level_litres: in the tank [l].
        loads_kw: mean of the last hour, and of the worst hour [kW]; None where not known.
        calibration: of this set, or None.

    """
    known = calibration or Calibration()
    usable = max(0.0, level_litres - fuel.tank_litres * (1 - fuel.usable_percent / 100))
    mean, worst = (None if load is None else usable / (burn(fuel, rated_kw, load) * known.applied) for load in loads_kw)
    return TimeLeft(usable, mean, worst, known.estimate)


def _with_no_load(fuel: Fuel, rated_kw: float) -> list[tuple[float, float]]:
    points = list(fuel.litres_per_hour)
    lowest, burnt = points[0]
    if lowest == 0:
        return points
    idle = min(burnt, float(table("fuel")[fuel.kind]["idle_litres_per_rated_kw"]) * rated_kw)
    if len(points) > 1:
        second, more = points[1]
        idle = max(idle, burnt - (more - burnt) / (second - lowest) * lowest)
    return [(0.0, idle), *points]


def _monotone(points: list[tuple[float, float]], at: float) -> float:
    """Interpolate with the cubic of Fritsch and Carlson, slopes by their harmonic mean (as in Butland 1984)."""
    spans = [high[0] - low[0] for low, high in pairwise(points)]
    rises = [(high[1] - low[1]) / span for (low, high), span in zip(pairwise(points), spans, strict=True)]
    index = next(i for i, point in enumerate(points[1:]) if at <= point[0])
    slopes = [rises[0], *(_slope(spans[i : i + 2], rises[i : i + 2]) for i in range(len(rises) - 1)), rises[-1]]
    span, part = spans[index], (at - points[index][0]) / spans[index]
    low, high = points[index][1], points[index + 1][1]
    return (
        (1 + 2 * part) * (1 - part) ** 2 * low
        + part * (1 - part) ** 2 * span * slopes[index]
        + part**2 * (3 - 2 * part) * high
        + part**2 * (part - 1) * span * slopes[index + 1]
    )


def _slope(spans: Sequence[float], rises: Sequence[float]) -> float:
    if rises[0] * rises[1] <= 0:
        return 0.0
    before, after = 2 * spans[1] + spans[0], spans[1] + 2 * spans[0]
    return (before + after) / (before / rises[0] + after / rises[1])
