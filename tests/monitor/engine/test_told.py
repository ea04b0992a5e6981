"""What a Snapshot says beyond the last readings: kVA, the neutral's estimate, fuel, heat, buses."""

from __future__ import annotations

from dataclasses import replace

import pytest

from drivers.bus.stats import BusStats, MeterStats
from drivers.reading import Quality, Values
from monitor.electrical.heat import HeatState
from monitor.engine.fold import Engine
from monitor.engine.reading import Reading
from monitor.engine.snapshot import LoggerView, Snapshot
from monitor.engine.tallied import FuelLevel, Tallied, from_data
from monitor.engine.told import HeatView
from monitor.show.model import Fuel, Point, Show, System
from tests.support.shows import circuit, show

LOGGER = LoggerView(running=True, last_commit_age_s=0.0, not_kept=0, problem="", log_path="x.sqlite")
FUEL = Fuel(110.0, ((25, 2.3), (50, 3.4), (75, 4.9), (100, 6.1)), reserve_litres=16.5)


def folded(of: Show, amps: dict[str, float], tallied: Tallied | None = None, factor: float | None = None) -> Snapshot:
    """Give the Snapshot of one reading of each point at 120 V."""
    engine = Engine(of)
    readings = [
        Reading(Point(*name.split("/")), 1_000, 1.0, Quality.GOOD, Values(volts=120.0, amps=a, power_factor=factor))
        for name, a in amps.items()
    ]
    engine.take(readings)
    return engine.snapshot(1_000, 1.0, LOGGER, (), tallied)


def on_source(system: System, *legs: str) -> Show:
    """Give a show whose source is metered on these legs."""
    return show(circuit("A1"), system=system, points=tuple(f"source/{leg}" for leg in legs))


def test_neutral_of_split_phase_is_the_difference_of_its_legs() -> None:
    """Legs stand opposite: 30 A against 20 A leave 10 A in the neutral."""
    source = folded(on_source("120/240", "L1", "L2"), {"source/L1": 30.0, "source/L2": 20.0}).source
    assert source.neutral_estimate_amps == pytest.approx(10.0)


def test_neutral_of_a_wye_follows_the_textbook() -> None:
    """sqrt(a2 + b2 + c2 - ab - bc - ca), common practice: 30, 20 and 10 A leave 17.32 A; equal legs leave none."""
    wye = on_source("208Y/120", "L1", "L2", "L3")
    source = folded(wye, {"source/L1": 30.0, "source/L2": 20.0, "source/L3": 10.0}).source
    assert source.neutral_estimate_amps == pytest.approx(300.0**0.5)
    equal = folded(wye, dict.fromkeys(("source/L1", "source/L2", "source/L3"), 25.0), factor=0.8).source
    assert equal.neutral_estimate_amps == pytest.approx(0.0, abs=1e-9)


def test_no_estimate_where_a_leg_is_missing_or_the_neutral_is_metered() -> None:
    """A part is never told as the whole, and what is measured is not guessed."""
    assert folded(on_source("120/240", "L1", "L2"), {"source/L1": 30.0}).source.neutral_estimate_amps is None
    metered = on_source("120/240", "L1", "L2", "N")
    amps = {"source/L1": 30.0, "source/L2": 20.0, "source/N": 11.0}
    assert folded(metered, amps).source.neutral_estimate_amps is None
    assert folded(on_source("230", "L1"), {"source/L1": 30.0}).source.neutral_estimate_amps is None


def test_kva_is_volts_times_amps_of_every_leg_or_unknown() -> None:
    """120 V times 50 A is 6 kVA, against the rating where there is one."""
    base = on_source("120/240", "L1", "L2")
    rated = replace(base, source=replace(base.source, rated_kva=25.0))
    source = folded(rated, {"source/L1": 30.0, "source/L2": 20.0}).source
    assert source.kva == pytest.approx(6.0)
    assert source.kva_percent == pytest.approx(24.0)
    assert folded(rated, {"source/L1": 30.0}).source.kva is None


def test_the_reserve_is_reached_before_the_tank_is_empty() -> None:
    """61 l of which 50 l can be drawn in 5 h: 44.5 l above the reserve of 16.5 l are gone in 4.45 h."""
    base = on_source("120/240", "L1", "L2")
    fuelled = replace(base, source=replace(base.source, fuel=FUEL))
    level = FuelLevel(61.0, 50.0, 5.0, 4.0, entered=True, since_ms=5)
    fuel = folded(fuelled, {}, Tallied(fuel=level)).source.fuel
    assert fuel is not None
    assert (fuel.hours_mean, fuel.hours_worst) == (5.0, 4.0)
    assert fuel.hours_reserve == pytest.approx(4.45)
    low = folded(fuelled, {}, Tallied(fuel=replace(level, litres=16.0))).source.fuel
    assert low is not None
    assert low.hours_reserve == 0.0
    unknown = folded(fuelled, {}).source.fuel
    assert unknown is not None
    assert (unknown.litres, unknown.hours_mean, unknown.tank_litres) == (None, None, 110.0)
    assert folded(base, {}).source.fuel is None


def test_what_the_logger_has_added_up_reaches_circuits_and_meters() -> None:
    """Heat at its circuit, counts at its meter, faults by name; without the logger's figures, None."""
    meter = MeterStats(1, 9, 7, silent=2, retries=1, per_second=1.0, busy=0.1, median_s=0.04, worst_s=0.07)
    tallied = Tallied(
        heat={"A1": HeatState(None, 0.25, 3.0)},
        buses={"rs485": BusStats("rs485", is_open=False, problem="no such port", meters=(meter,))},
    )
    seen = folded(show(circuit("A1")), {"A1": 9.0}, tallied)
    assert seen.told
    assert seen.circuits[0].heat == HeatView(None, 0.25, 3.0)
    (bus,) = seen.buses
    assert (bus.is_open, bus.problem, bus.where) == (False, "no such port", "/nowhere")
    assert bus.meters[0].latest.live
    counts = bus.meters[0].counts
    assert counts is not None
    assert (counts.polls, counts.good, counts.faults, counts.retries) == (9, 7, (("silent", 2),), 1)
    bare = folded(show(circuit("A1")), {"A1": 9.0})
    assert (bare.told, bare.circuits[0].heat, bare.buses[0].meters[0].counts) == (False, None, None)


@pytest.mark.parametrize("data", [None, [], {}, {"output": [1], "fuel": None, "heat": {}, "buses": {}, "answers": []}])
def test_data_of_something_else_is_refused(data: object) -> None:
    """Whatever stands in the file, nothing else than a ValueError comes of it."""
    with pytest.raises(ValueError, match="not what this version writes"):
        from_data(data)
