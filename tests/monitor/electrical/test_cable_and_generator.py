"""Cable sizes and both-ends readings; source load; demand windows and blocks; energy and its times."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.electrical.cable import (
    conductor_ohms,
    drop,
    far_end_drop,
    feeder_drop,
    loop_ohms,
    measured_run,
    ohms_per_metre,
    spread_ohms,
)
from monitor.electrical.demand import Blocks, Demand, Running, Window
from monitor.electrical.generator import leg_rating, measured_load, planned_load
from monitor.electrical.legs import planned_legs
from monitor.electrical.tables import table
from monitor.show.model import SYSTEM_LEGS, Cable, Show, System
from tests.monitor.electrical.sets import circuit, feeder, show, source


@pytest.mark.parametrize(
    ("written", "same"), [("12 AWG", "12"), ("#2", "2"), ("0000", "4/0"), ("0", "1/0"), ("250 MCM", "250 kcmil")]
)
def test_gauges_as_people_write_them(written: str, same: str) -> None:
    """A gauge is found however it is written."""
    assert ohms_per_metre(Cable(1, awg=written)) == ohms_per_metre(Cable(1, awg=same))


@pytest.mark.parametrize("cable", [Cable(1, awg="13"), Cable(1, awg="5/0"), Cable(1, mm2=3), Cable(1)])
def test_sizes_that_no_table_has(cable: Cable) -> None:
    """An unknown size is refused with the sizes there are."""
    with pytest.raises(ValueError, match=r"the table has|needs awg or mm2"):
        ohms_per_metre(cable)


def test_thicker_is_always_better() -> None:
    """Over both tables resistance falls as the conductor grows."""
    for key, sizes in (("awg", "ohms_per_kft"), ("mm2", "ohms_per_km")):
        values = list(table("conductors")[key][sizes].values())
        assert values == sorted(values, reverse=True)


@given(st.floats(1, 300), st.integers(1, 4), st.floats(-20, 90), st.sampled_from(["12", "2", "4/0"]))
def test_scaling_of_a_run(metres: float, parallel: int, celsius: float, awg: str) -> None:
    """Resistance goes with length, falls with parallel sets, rises with temperature; feet round-trip to metres."""
    one = conductor_ohms(Cable(metres, awg=awg), celsius)
    assert conductor_ohms(Cable(metres, awg=awg, parallel=parallel), celsius) == pytest.approx(one / parallel)
    assert conductor_ohms(Cable(metres * 2, awg=awg), celsius) == pytest.approx(2 * one)
    assert conductor_ohms(Cable(metres, awg=awg), celsius + 1) > one
    assert conductor_ohms(Cable(metres / 0.3048 * 0.3048, awg=awg), celsius) == pytest.approx(one)
    assert loop_ohms(Cable(metres, awg=awg), ("L1",)) == 2 * loop_ohms(Cable(metres, awg=awg), ("L1", "L2", "L3"))


def test_an_unbalanced_feeder_can_lift_a_leg() -> None:
    """Split phase, one leg loaded: it loses 2 R I, the other gains R I."""
    cable = Cable(30, awg="6")
    drops = feeder_drop("120/240", cable, {"L1": 50 + 0j, "L2": 0j})
    assert drops["L1"].volts == pytest.approx(2 * conductor_ohms(cable) * 50)
    assert drops["L2"].volts == pytest.approx(-conductor_ohms(cable) * 50)


def test_no_cable_no_drop() -> None:
    """Without a described cable there is no drop to tell, not one of 0."""
    each = circuit("A", ("L1",), [(1200, 1)])
    assert drop("120/240", ("L1",), None, 10) is None
    assert far_end_drop(show(source("120/240"), [each]), each) is None


def test_spread_that_the_plan_explains() -> None:
    """Three conductors' resistance, every feeder on the way; unknown where one has no cable described."""
    feeders = [
        feeder("outer", ("L1", "L2"), cable=Cable(30, awg="2")),
        feeder("inner", ("L1", "L2"), fed_from="outer", cable=Cable(10, awg="6")),
        feeder("bare", ("L1", "L2"), fed_from="outer"),
    ]
    set_ = show(source("120/240"), [], feeders)
    expected = 3 * (conductor_ohms(Cable(30, awg="2")) + conductor_ohms(Cable(10, awg="6")))
    assert spread_ohms(set_, "inner") == pytest.approx(expected)
    assert spread_ohms(set_, "bare") is None
    assert spread_ohms(set_, "source") == 0


def test_both_ends_give_ohms_and_the_watts_in_the_excess() -> None:
    """4 V over 20 A are 0.2 ohm; 0.05 above plan burn 20 W there; little current tells nothing."""
    run = measured_run(119, 115, 20, 0.15)
    assert run is not None
    assert run.ohms == pytest.approx(0.2)
    assert [run.excess_ohms, run.excess_watts] == pytest.approx([0.05, 20])
    better = measured_run(119, 117, 20, 0.15)
    assert better is not None
    assert better.excess_watts == 0
    assert measured_run(119, 118.9, 1, 0.15) is None
    assert measured_run(float("nan"), 118.9, 20, 0.15) is None


def test_planned_load_of_a_source() -> None:
    """6 kW at 1 and 3 kW at 0.6 are 9 kW and, with 4 kvar, 9.85 kVA; the highest leg is set against its share."""
    set_ = show(
        source("120/240", 20, rated_kva=24), [circuit("A", ("L1",), [(6000, 1)]), circuit("B", ("L2",), [(3000, 0.6)])]
    )
    load = planned_load(set_)
    assert load.kilowatts == pytest.approx(9)
    assert load.kilovolt_amperes == pytest.approx((81 + 16) ** 0.5)
    assert load.percent_kw == pytest.approx(45)
    assert load.percent == pytest.approx(45)
    assert leg_rating(set_.source) == pytest.approx(100)
    assert load.percent_leg == pytest.approx(50)
    assert leg_rating(source("120/240")) is None


@given(
    st.sampled_from(["230", "120/240", "208Y/120", "400Y/230"]),
    st.lists(st.tuples(st.integers(1, 3), st.floats(1, 9000), st.floats(0.2, 1)), min_size=1, max_size=6),
    st.floats(0.1, 10),
)
def test_watts_and_vars_of_a_plan_are_those_of_its_loads(
    system: System, loads: list[tuple[int, float, float]], scale: float
) -> None:
    """However many legs a load hangs on, watts and vars add up; scaled loads scale both, and every leg."""
    legs = SYSTEM_LEGS[system]

    def made(by: float) -> Show:
        circuits = [circuit(f"C{n}", legs[: min(k, len(legs))], [(w * by, f)]) for n, (k, w, f) in enumerate(loads)]
        return show(source(system, 20), circuits)

    plain, scaled = planned_load(made(1)), planned_load(made(scale))
    watts = sum(w for _, w, _ in loads)
    lagging_vars = sum(w * (1 / f**2 - 1) ** 0.5 for _, w, f in loads)
    assert plain.kilowatts * 1000 == pytest.approx(watts)
    assert plain.kilovolt_amperes * 1000 == pytest.approx((watts**2 + lagging_vars**2) ** 0.5)
    assert scaled.kilovolt_amperes == pytest.approx(scale * plain.kilovolt_amperes)
    for leg, amps in planned_legs(made(scale), "source").items():
        assert amps == pytest.approx(scale * planned_legs(made(1), "source")[leg])


def test_a_part_is_never_shown_as_the_whole() -> None:
    """Measured load needs every leg with its watts."""
    of = source("120/240", 20)
    whole = measured_load(of, {"L1": (120, 50, 5800), "L2": (118, 40, 4500)})
    assert whole is not None
    assert [whole.kilowatts, whole.kilovolt_amperes] == pytest.approx([10.3, 10.72])
    assert whole.percent_kva is None
    assert measured_load(of, {"L1": (120, 50, 5800)}) is None
    assert measured_load(of, {"L1": (120, 50, 5800), "L2": (118, 40, None)}) is None


def test_a_sliding_window_forgets_exactly() -> None:
    """A step of load is in the window by its time, to the part of a second."""
    window = Window(length_s=100)
    for second in range(0, 201, 2):
        window = window.add(second + 0.5, 1000 if second >= 100 else 0)
    demand = window.demand(200.5)
    assert demand is not None
    assert [demand.covered_s, demand.watts] == pytest.approx([100, 1000])
    later = window.demand(231.0)
    assert later is not None
    assert later.covered_s == pytest.approx(69.5)


def test_gaps_count_neither_as_watts_nor_as_time() -> None:
    """After a missing sample, or too long a wait, nothing is bridged."""
    window = Window(length_s=900)
    for time, watts in ((0, 1000), (5, 1000), (10, None), (15, 5000), (20, 5000), (60, 5000)):
        window = window.add(time, watts)
    demand = window.demand(60)
    assert demand is not None
    assert [demand.covered_s, demand.watts] == pytest.approx([10, 3000])
    assert Window().demand(0) is None
    assert window.add(5000, 1).demand(5000) is None


@given(st.lists(st.tuples(st.floats(0.1, 30), st.one_of(st.none(), st.floats(0, 9e3))), max_size=80))
def test_window_keeps_its_sums(steps: list[tuple[float, float | None]]) -> None:
    """The running sums of a window equal a fresh sum of what it holds."""
    window, now = Window(length_s=60), 0.0
    for wait, watts in steps:
        now += wait
        window = window.add(now, watts)
        inside = [part for part in (s.cut(now - 60, now) for s in window.stretches) if part]
        demand = window.demand(now)
        covered = sum(part.seconds for part in inside)
        assert (demand.covered_s if demand else 0) == pytest.approx(covered, abs=1e-5)
        if demand:
            assert demand.watts * covered == pytest.approx(sum(part.joules for part in inside), rel=1e-6, abs=1)


def blocks_of(samples: list[tuple[float, float | None]]) -> list[Demand]:
    """Fold samples into blocks of a minute."""
    blocks = Blocks(length_s=60)
    found: list[Demand] = []
    for time, watts in samples:
        blocks, done = blocks.add(time, watts)
        found += done
    return found


def test_blocks_follow_the_clock_and_split_at_it() -> None:
    """A rise across the border of two blocks gives each its part."""
    first, second = blocks_of([(52, 0), (58, 0), (62, 4000), (70, 4000), (121, None)])
    assert [first.end_s, first.covered_s, first.watts] == pytest.approx([60, 8, 250])
    assert [second.end_s, second.covered_s] == pytest.approx([120, 10])
    assert second.watts == pytest.approx((2 * 3000 + 8 * 4000) / 10)
    assert blocks_of([(10, 5), (15, 5), (200, 5)]) == [Demand(60, 60, 5, 5)]


def test_energy_load_factor_and_times_at_low_and_high_load() -> None:
    """An hour at 20, 50 and 90 % of 10 kW: 16 kWh, load factor 0.593, an hour low, an hour high."""
    running = Running(10_000)
    for hour, watts in enumerate((2000, 5000, 9000)):
        for step in range(361):
            running = running.add(hour * 3700 + step * 10, watts)
        running = running.add(hour * 3700 + 3605, None)
    assert running.kilowatt_hours == pytest.approx(16)
    assert (running.low_s, running.high_s, running.covered_s) == (3600, 3600, 10800)
    assert running.load_factor == pytest.approx(16 / 3 / 9)
    assert Running(1000).load_factor is None
