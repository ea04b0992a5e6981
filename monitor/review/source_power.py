"""The source's kilowatts over a stretch of a log, minute by minute, and what follows from them: energy, demand, fuel.

By minutes, because they are kept for ever and two weeks of them are read in a moment. A minute in which any leg of the
source has no watts counts neither as power nor as time.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import fsum
from typing import TYPE_CHECKING

from monitor.electrical.demand import QUARTER_HOUR_S, Running
from monitor.electrical.fuel import Calibration, Fill, burn, calibrate, source_faults
from monitor.electrical.loads import LEG_TO_NEUTRAL
from monitor.review.past import metered
from monitor.show.model import NEUTRAL, SOURCE_ID

if TYPE_CHECKING:
    from collections.abc import Sequence

    from monitor.log.reader import LogReader
    from monitor.log.records import Minute, Note
    from monitor.show.model import Point, Show

_MINUTE_MS, _HOUR_MIN = 60_000, 60
RUNS = 0.5  # of nominal volts: below it the set counts as standing still (a judgement)
_BLOCK_MIN = round(QUARTER_HOUR_S / 60)


@dataclass(frozen=True, slots=True)
class PowerMinute:
    """One minute of the source.

    Attributes:
        begin_ms: on the log's clock.
        kilowatts: mean, all legs together [kW]; None where a leg has none.
        kilowatt_hours: [kWh]; None likewise.
        runs: whether the set ran: True or False by its volts, None where they are not measured.

    """

    begin_ms: int
    kilowatts: float | None
    kilowatt_hours: float | None
    runs: bool | None


@dataclass(frozen=True, slots=True)
class Power:
    """A stretch of it.

    Attributes:
        points: the source's hot legs that are measured; empty: none is.
        missing: hot legs that no meter measures.
        minutes: oldest first.

    """

    points: tuple[Point, ...]
    missing: tuple[str, ...]
    minutes: tuple[PowerMinute, ...]

    @property
    def loaded(self) -> list[PowerMinute]:
        """The minutes with kilowatts in which the set was not seen standing still."""
        return [minute for minute in self.minutes if minute.kilowatts is not None and minute.runs is not False]


def power(reader: LogReader, show: Show, begin_ms: int, end_ms: int) -> Power:
    """Read the source's minutes that begin from ``begin_ms`` to before ``end_ms`` [ms, the log's clock]."""
    points = tuple(point for point in metered(show, (SOURCE_ID,)) if point.leg != NEUTRAL)
    missing = tuple(leg for leg in show.source.legs if leg not in {point.leg for point in points})
    by_leg = [{minute.begin_ms: minute for minute in reader.minutes(point, begin_ms, end_ms)} for point in points]
    times = sorted({time for leg in by_leg for time in leg})
    least = RUNS * LEG_TO_NEUTRAL[show.source.system]
    minutes = (_minute(time, [leg.get(time) for leg in by_leg], least, whole=not missing) for time in times)
    return Power(points, missing, tuple(minutes))


def _minute(time_ms: int, legs: Sequence[Minute | None], least_volts: float, *, whole: bool) -> PowerMinute:
    watts = [leg.watts_mean for leg in legs if leg is not None and leg.watts_mean is not None]
    hours = [leg.watt_hours for leg in legs if leg is not None and leg.watt_hours is not None]
    volts = [leg.volts[1] for leg in legs if leg is not None and leg.volts is not None]
    known = whole and len(watts) == len(legs)
    return PowerMinute(
        begin_ms=time_ms,
        kilowatts=abs(fsum(map(abs, watts))) / 1000 if known else None,
        kilowatt_hours=fsum(map(abs, hours)) / 1000 if known and len(hours) == len(legs) else None,
        runs=max(volts) >= least_volts if volts else None,
    )


@dataclass(frozen=True, slots=True)
class Used:
    """What was drawn.

    Attributes:
        hours: with kilowatts [h].
        kilowatt_hours: [kWh].
        mean_kw: over those hours [kW].
        peak_kw: highest minute [kW].
        peak_ms: when it began.
        demand_kw: highest fixed quarter-hour that is wholly covered [kW]; None where none is.
        demand_ms: when it began.
        low_hours: under ``Running.LOW`` of the rating [h]; None without a rating.
        high_hours: over ``Running.HIGH`` of the rating [h]; None without a rating.

    """

    hours: float
    kilowatt_hours: float
    mean_kw: float
    peak_kw: float
    peak_ms: int
    demand_kw: float | None
    demand_ms: int | None
    low_hours: float | None
    high_hours: float | None

    @property
    def load_factor(self) -> float | None:
        """Mean / peak [1]."""
        return self.mean_kw / self.peak_kw if self.peak_kw else None


def used(found: Power, rated_kw: float | None) -> Used | None:
    """Add up; None where no minute has kilowatts."""
    minutes = [(minute, minute.kilowatts) for minute in found.loaded if minute.kilowatts is not None]
    if not minutes:
        return None
    levels = [kilowatts for _, kilowatts in minutes]
    peak, peak_kw = max(minutes, key=lambda one: one[1])
    demand_ms, demand_kw = max(_blocks(found), key=lambda one: one[1], default=(None, None))
    return Used(
        hours=len(levels) / _HOUR_MIN,
        kilowatt_hours=fsum(minute.kilowatt_hours or 0.0 for minute, _ in minutes),
        mean_kw=fsum(levels) / len(levels),
        peak_kw=peak_kw,
        peak_ms=peak.begin_ms,
        demand_kw=demand_kw,
        demand_ms=demand_ms,
        low_hours=sum(kw < Running.LOW * rated_kw for kw in levels) / _HOUR_MIN if rated_kw else None,
        high_hours=sum(kw > Running.HIGH * rated_kw for kw in levels) / _HOUR_MIN if rated_kw else None,
    )


def _blocks(found: Power) -> list[tuple[int, float]]:
    """Give (begin [ms], mean [kW]) of every quarter-hour of the clock whose every minute is there."""
    blocks: dict[int, list[float]] = {}
    for minute in found.minutes:
        if minute.kilowatts is not None:
            blocks.setdefault(minute.begin_ms // _MINUTE_MS // _BLOCK_MIN, []).append(minute.kilowatts)
    return [(n * _BLOCK_MIN * _MINUTE_MS, fsum(kw) / len(kw)) for n, kw in blocks.items() if len(kw) == _BLOCK_MIN]


@dataclass(frozen=True, slots=True)
class Burnt:
    """Fuel by estimate.

    Attributes:
        litres: by the set's points and the logged load [l].
        calibration: how refuels compare with them.
        fills: each refuel's litres, and the litres that the points give since the refuel before; None for the first.

    """

    litres: float
    calibration: Calibration
    fills: tuple[tuple[Note, float | None], ...]


def burnt(found: Power, refuels: Sequence[Note], show: Show) -> Burnt | None:
    """Estimate the fuel; None where the set has no rating or no usable fuel points."""
    fuel, rated_kw = show.source.fuel, show.source.rated_kw
    if fuel is None or not rated_kw or source_faults(show.source):
        return None
    litres = [
        (minute.begin_ms, burn(fuel, rated_kw, minute.kilowatts) / _HOUR_MIN)
        for minute in found.loaded
        if minute.kilowatts is not None
    ]
    fills: list[tuple[Note, float | None]] = []
    last_ms: int | None = None
    for note in refuels:
        since = None if last_ms is None else fsum(some for time, some in litres if last_ms <= time < note.time_ms)
        fills.append((note, since))
        last_ms = note.time_ms
    usable = [Fill(note.number, since) for note, since in fills if since is not None and note.number is not None]
    return Burnt(fsum(some for _, some in litres), calibrate(usable), tuple(fills))
