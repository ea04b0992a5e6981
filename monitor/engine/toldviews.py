"""From what the logger has added up to the parts of a Snapshot: output, fuel, heat, buses and meters."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.electrical.fuel import faults
from monitor.engine.snapshot import Freshness, Measured
from monitor.engine.told import BusView, FuelView, HeatView, MeterCounts, MeterView

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from drivers.bus.settings import BusSettings
    from drivers.bus.stats import BusStats, MeterStats
    from monitor.engine.tallied import FuelLevel, Tallied
    from monitor.show.model import Meter, Point, Show

_FAULTS = ("silent", "corrupt", "refused", "implausible", "suspect")


def fuel_view(show: Show, tallied: Tallied | None) -> FuelView | None:
    """Give the fuel; None where the show gives no usable fuel points."""
    source = show.source
    fuel, rated_kw = source.fuel, source.rated_kw
    if fuel is None or not rated_kw or faults(fuel, rated_kw):
        return None
    reserve = fuel.reserve_litres
    if reserve is None:
        reserve = fuel.tank_litres * show.setting("fuel_reserve_percent") / 100
    level = tallied.fuel if tallied is not None else None
    if level is None:
        return FuelView(fuel.tank_litres, reserve)
    return FuelView(
        fuel.tank_litres,
        reserve,
        level.litres,
        level.hours_mean,
        level.hours_worst,
        _hours_to(reserve, level),
        level.entered,
        level.since_ms or None,
        level.unknown_s,
        level.calibrated,
    )


def _hours_to(reserve: float, level: FuelLevel) -> float | None:
    """Give the time to the reserve at the burn that ``hours_mean`` rests on [h]; never more than that."""
    if level.litres <= reserve:
        return 0.0
    if level.hours_mean is None or not level.usable_litres:
        return level.hours_mean
    return min(level.hours_mean, (level.litres - reserve) * level.hours_mean / level.usable_litres)


def heat_views(tallied: Tallied | None) -> Mapping[str, HeatView]:
    """Give the heat of the breakers, by circuit."""
    states = {} if tallied is None else tallied.heat
    return {name: HeatView(state.fastest, state.slowest, state.unknown_s) for name, state in states.items()}


def bus_views(show: Show, tallied: Tallied | None, point: Callable[[Point], Measured]) -> tuple[BusView, ...]:
    """Give the buses that have meters; ``point`` gives what may be shown of a point."""
    stats = {} if tallied is None else tallied.buses
    views = []
    for bus in show.buses:
        meters = [meter for meter in show.meters if meter.bus == bus.id]
        if meters:
            views.append(_bus(bus, meters, stats.get(bus.id), point))
    return tuple(views)


def _bus(bus: BusSettings, meters: list[Meter], stats: BusStats | None, point: Callable[[Point], Measured]) -> BusView:
    counted = {} if stats is None else {meter.unit: meter for meter in stats.meters}
    problem = "" if stats is None else stats.problem or stats.fault
    return BusView(
        id=bus.id,
        where=bus.where,
        protocol=bus.protocol,
        interval_s=bus.interval_s,
        timeout_s=bus.timeout_s,
        meters=tuple(_meter(meter, counted.get(meter.unit), point) for meter in meters),
        is_open=None if stats is None else stats.is_open,
        problem=problem,
    )


def _meter(meter: Meter, stats: MeterStats | None, point: Callable[[Point], Measured]) -> MeterView:
    seen = [point(at) for _, at in meter.points]
    known = [measured for measured in seen if measured.age_s is not None]
    latest = min(known, key=_age) if known else next(iter(seen), Measured(Freshness.NEVER))
    points = tuple((channel, str(at)) for channel, at in meter.points)
    return MeterView(meter.unit, meter.map_name, points, latest, None if stats is None else _counts(stats))


def _age(measured: Measured) -> float:
    return measured.age_s or 0.0


def _counts(stats: MeterStats) -> MeterCounts:
    found = ((name, int(getattr(stats, name))) for name in _FAULTS)
    return MeterCounts(
        polls=stats.polls,
        good=stats.good,
        faults=tuple((name, count) for name, count in found if count),
        retries=stats.retries,
        per_second=stats.per_second,
        busy=stats.busy,
        median_s=stats.median_s,
        worst_s=stats.worst_s,
    )
