"""Whole days through conditions and judge: quiet ones raise nothing, bad ones raise what is wrong, once, in time.

The sets, their wires and their meters are of these tests' own making (``tests/support/days``): Kirchhoff's and Ohm's
laws in phasors, with meters that differ by a little, are read one after another, and lose some polls.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product
from typing import TYPE_CHECKING

import pytest

from monitor.show.model import Gate
from tests.support.days.day import Day
from tests.support.days.judged import raised
from tests.support.days.scripts import (
    both,
    dead,
    everything_on,
    heater,
    later,
    opened,
    power_up,
    quiet,
    run,
    silent,
    source,
    unloaded,
    wrap,
)
from tests.support.days.sets import Made, make, powered_from, with_settings

if TYPE_CHECKING:
    from monitor.show.model import Show, System
    from tests.support.days.day import Act
    from tests.support.days.sets import Metering

    Places = set[tuple[str, str]]

AT = 45
SLACK_S = 6  # one poll late, three samples to settle, one to be sure
MOTOR_S = 10
QUIET_S = 1800

NA: tuple[System, ...] = ("120/240", "208Y/120")
EU: tuple[System, ...] = ("400Y/230", "230")
ALL = (*NA, *EU)
SEVERAL = ("120/240", "208Y/120", "400Y/230")
METERED: tuple[Metering, ...] = ("circuits", "source", "all")
WITH_SOURCE: tuple[Metering, ...] = ("source", "all")


def bad_day(show: Show, act: Act, seconds: int = 60, seed: int = 1) -> list[tuple[int, str, str]]:
    """Give what is raised after ``act`` happens on a loaded set, in seconds since then; nothing may be before."""
    day = everything_on(Day(show, seed))
    day.corrupt = 0.01
    day.at(AT, act)
    found = [(r.second - AT, r.code, r.where) for r in raised(day, AT + seconds)]
    assert [r for r in found if r[0] < 0] == []
    return found


def expect(show: Show, found: list[tuple[int, str, str]], wanted: Places, more_s: float = 0) -> None:
    """Hold what was raised to what is wanted: each once, none too late, and nothing else."""
    assert sorted((code, where) for _, code, where in found) == sorted(wanted)
    for second, code, _ in found:
        assert second <= show.setting(f"{code.replace('-', '_')}_on_seconds") + SLACK_S + more_s, (second, code)


@dataclass(frozen=True)
class Quiet:
    """A quiet day: a set and its seed."""

    made: Made
    seed: int


QUIET_DAYS = [
    Quiet(Made("120/240", "all", "load", "generator", "isochronous", "G1"), 3),
    Quiet(Made("208Y/120", "source", "line", "generator", "droop", "G2"), 4),
    Quiet(Made("400Y/230", "circuits", "load", "generator", "isochronous", "G3"), 5),
    Quiet(Made("230", "all", "load", "house"), 6),
    Quiet(Made("120/240", "source", "line", "generator", "inverter"), 7),
    Quiet(Made("400Y/230", "all", "load", "generator", "isochronous", "G2"), 8),
]


@pytest.mark.parametrize("given", QUIET_DAYS, ids=lambda q: f"{q.made.system}-{q.made.metering}-{q.made.governor}")
def test_a_quiet_day_raises_nothing(given: Quiet) -> None:
    """Power-up, motors, kettles, strikes, dimming, load steps, hunting, lost polls, wrap: no alarm."""
    day = Day(make(given.made), given.seed, noise=0.006)
    day.corrupt, day.slow = 0.02, 0.1
    power_up(day, 20)
    quiet(day, 130, QUIET_S - 120)
    wrap(day, QUIET_S - 100)
    assert raised(day, QUIET_S) == []


@pytest.mark.parametrize(
    ("systems", "watts", "codes"),
    [
        (NA, 450, {"over-plan"}),
        (NA, 1000, {"over-plan", "near-rating"}),
        (NA, 1500, {"above-rating"}),
        (NA, 2600, {"far-above-rating"}),
        (EU, 700, {"over-plan"}),
        (EU, 2100, {"over-plan", "near-rating"}),
        (EU, 2700, {"above-rating"}),
        (EU, 3800, {"far-above-rating"}),
    ],
)
def test_an_unplanned_heater_is_told_by_how_much_it_takes(
    systems: tuple[System, ...], watts: float, codes: set[str]
) -> None:
    """From a few amps above the plan to far above the rating; nothing at any other place."""
    metered: tuple[Metering, ...] = ("circuits", "all")
    for system, metering in zip(systems, metered, strict=True):
        show = make(Made(system, metering))
        show = replace(show, source=replace(show.source, rated_kw=90.0, rated_kva=90.0, amps_per_leg=300.0))
        expect(show, bad_day(show, heater("A3", watts), 75), {(code, "A3") for code in codes})


def test_an_overload_on_a_motor_circuit_is_told_after_the_ride_through() -> None:
    """A start may take ten seconds; what lasts longer is no start."""
    show = make(Made("120/240", "circuits"))
    found = bad_day(show, heater("A4", 3000), 60)
    expect(show, found, {("far-above-rating", "A4")}, MOTOR_S)


def test_heat_past_the_latest_edge_is_a_finding() -> None:
    """A breaker that carries 1.4 times its rating for longer than its own points allow."""
    show = make(Made("120/240", "circuits"))
    circuits = [
        replace(c, breaker=replace(c.breaker, standard="custom", gates=(Gate(1.3, latest_s=40), Gate(3, latest_s=5))))
        for c in show.circuits
    ]
    show = replace(show, circuits=tuple(circuits))
    found = bad_day(show, heater("A3", 2600), 80)
    assert ("heat-past-late", "A3") in {(code, where) for _, code, where in found}
    assert len(found) == len({(code, where) for _, code, where in found}) == 2


VOLTS = [
    *((system, part, "volts-low") for system in NA for part in (0.93, 0.88, 0.80)),
    *((system, part, "volts-low") for system in EU for part in (0.88, 0.80)),
    *((system, part, "volts-high") for system in NA for part in (1.075, 1.12, 1.25)),
    *((system, part, "volts-high") for system in EU for part in (1.125, 1.25)),
]


@pytest.mark.parametrize(("system", "part", "code"), VOLTS)
def test_source_volts_off_are_one_alarm(system: System, part: float, code: str) -> None:
    """All legs together: one alarm at the source, whatever is metered."""
    for metering in ("circuits", "all"):
        show = make(Made(system, metering))
        expect(show, bad_day(show, source(part), 25), {(code, "source" if system != "230" else "source/L1")})


@pytest.mark.parametrize(("system", "metering"), product(SEVERAL, METERED))
def test_one_leg_off_is_one_alarm(system: System, metering: Metering) -> None:
    """One leg of the source low: told there, the circuits on it folded under it."""
    show = make(Made(system, metering))

    def act(day: Day) -> None:
        day.rig.emf["L2"] = 0.85

    expect(show, bad_day(show, act, 25), {("volts-low", "source/L2")})


@pytest.mark.parametrize("system", ALL)
@pytest.mark.parametrize("depth", [0.015, 0.08, 0.2])
def test_volts_lost_on_a_run_are_told_as_the_runs(system: System, depth: float) -> None:
    """The source stands, all legs of a box sink below the limit, by a little and by a lot: one alarm for the box."""
    low = (0.95 if system in NA else 0.90) - depth
    for metering in WITH_SOURCE:
        show = make(Made(system, metering))

        def act(day: Day, part: float = low) -> None:
            """Lengthen the run until its highest leg reads this part of nominal."""
            short, long_ = 0.01, 20.0
            for _ in range(40):
                ohms = (short * long_) ** 0.5
                run("boxA", "* N" if system != "230" else "L1 N", ohms)(day)
                points = day.rig.solve()
                highest = max(abs(points[f"boxA/{leg}"][0]) for leg in day.rig.legs) / day.rig.nominal
                short, long_ = (ohms, long_) if highest > part else (short, ohms)

        where = "boxA" if system != "230" else "boxA/L1"
        expect(show, bad_day(show, act, 25), {("volts-far-low", where)})


@pytest.mark.parametrize("off", [-0.12, -0.04, 0.04, 0.1])
@pytest.mark.parametrize("metering", METERED)
def test_hertz_off_are_told_but_of_an_inverter(off: float, metering: Metering) -> None:
    """Low and high, at two depths; an inverter's hertz say nothing."""
    show = make(Made("400Y/230", metering))
    expect(show, bad_day(show, source(1.0, off), 30), {("hertz-low" if off < 0 else "hertz-high", "source")})
    show = make(Made("400Y/230", metering, governor="inverter"))
    assert bad_day(show, source(1.0, off), 30) == []


@pytest.mark.parametrize("system", ALL)
@pytest.mark.parametrize("share", [0.94, 1.05, 1.4])
def test_a_source_at_its_rating_is_told(system: System, share: float) -> None:
    """Kilowatts first; kVA where only they are high."""
    show = make(Made(system, "source"))
    planned = sum(load.watts * load.count for circuit in show.circuits for load in circuit.load) / 1000
    by_kw = replace(show.source, rated_kw=planned / share, rated_kva=planned * 3, amps_per_leg=900.0)
    by_kva = replace(show.source, rated_kw=planned * 3, rated_kva=planned * 1.01 / share, amps_per_leg=900.0)
    for rated, code in ((by_kw, "source-kw"), (by_kva, "source-kva")):
        day = everything_on(Day(replace(show, source=rated)))
        assert {(r.code, r.where) for r in raised(day, 90)} == {(code, "source")}


def test_low_load_is_told_after_its_hours_and_not_of_an_inverter() -> None:
    """Three minutes stand for three hours."""
    settings = {"source_low_load_hours": 0.05, "source_low_load_on_seconds": 5.0}
    show = with_settings(make(Made("120/240", "source")), **settings)
    found = raised(Day(show), 240)
    assert [(r.code, r.where) for r in found] == [("source-low-load", "source")]
    assert 180 <= found[0].second <= 180 + 15
    show = with_settings(make(Made("120/240", "source", governor="inverter")), **settings)
    assert raised(Day(show), 240) == []


def test_fuel_is_told_at_the_reserve_and_by_the_time_left() -> None:
    """A tank for under two hours; and one whose reserve is reached."""
    show = with_settings(make(Made("120/240", "source")), fuel_time_on_seconds=5.0, fuel_reserve_on_seconds=5.0)
    fuel = show.source.fuel
    assert fuel is not None
    small = replace(show.source, fuel=replace(fuel, tank_litres=9.0, reserve_litres=1.0))
    day = everything_on(Day(replace(show, source=small)))
    assert [(r.code, r.where) for r in raised(day, 700)] == [("fuel-time", "source")]
    nearly = replace(show.source, fuel=replace(fuel, tank_litres=200.0, reserve_litres=199.9))
    day = everything_on(Day(replace(show, source=nearly)))
    assert [(r.code, r.where) for r in raised(day, 200)] == [("fuel-reserve", "source")]


def test_legs_out_of_balance_are_told_at_half_load() -> None:
    """One leg near its rating, the other far below it."""
    show = with_settings(make(Made("120/240", "source")), legs_unbalanced_on_seconds=20.0)
    show = replace(show, source=replace(show.source, amps_per_leg=88.0, rated_kw=60.0, rated_kva=60.0))
    light = unloaded("A2", "A4", "A6", "B2", "B4")
    expect(show, bad_day(show, light, 40), {("legs-unbalanced", "source")})


@pytest.mark.parametrize("rated", [1.0, 0.7])
@pytest.mark.parametrize("system", SEVERAL)
def test_a_neutral_over_its_rating_is_told(system: System, rated: float) -> None:
    """All loads of the other legs off: the neutral carries what the first leg does."""
    show = make(Made(system, "source", boxes=3))
    on_first = sum(c.watts for circuit in show.circuits if circuit.legs == ("L1",) for c in circuit.load)
    amps = on_first / (120 if system in NA else 230)
    show = replace(show, source=replace(show.source, neutral_amps=rated * amps))
    off = [c.id for c in show.circuits if c.legs != ("L1",)]
    found = bad_day(show, unloaded(*off), 25)
    expect(show, found, {("neutral-over", "source/N")})


NEUTRALS = [
    *product(SEVERAL, METERED, ("boxA", "source"), ((), ("A1", "A3"))),
]


@pytest.mark.parametrize(("system", "metering", "place", "off"), NEUTRALS)
def test_a_lost_neutral_is_told_at_once(system: System, metering: Metering, place: str, off: tuple[str, ...]) -> None:
    """At a box or at the source, with more or less load on each leg: one alarm within five seconds."""
    show = make(Made(system, metering))
    act = both(unloaded(*off), later(12, run(place, "N")))
    found = bad_day(show, act, 35)
    expect(show, found, {("lost-neutral", place)}, 12)
    assert found[0][0] <= 12 + 5


@pytest.mark.parametrize(("system", "metering", "place"), product(SEVERAL, METERED, ("boxA", "source")))
def test_a_lost_neutral_with_all_load_on_one_leg_is_told(system: System, metering: Metering, place: str) -> None:
    """The leg with the load reads nothing, the others the volts between two legs: no row of opened circuits."""
    show = make(Made(system, metering))
    off = [c.id for c in show.circuits if c.legs != ("L1",)]
    found = bad_day(show, both(unloaded(*off), later(20, run(place, "N"))), 50)
    expect(show, found, {("lost-neutral", place)}, 20)


def test_a_neutral_that_fails_by_and_by_is_told() -> None:
    """Half an ohm in the neutral of a box with most load on one leg."""
    show = make(Made("120/240", "all"))
    act = both(unloaded("A2", "A4", "A6"), later(12, run("boxA", "N", 0.5)))
    found = bad_day(show, act, 40)
    assert [(code, where) for _, code, where in found] == [("lost-neutral", "boxA")]


@pytest.mark.parametrize(("system", "metering", "place"), product(SEVERAL, METERED, ("boxA", "source")))
def test_a_lost_leg_is_told_at_its_place(system: System, metering: Metering, place: str) -> None:
    """Its circuits are folded under it, fed back through two-leg loads or not."""
    show = make(Made(system, metering))
    expect(show, bad_day(show, run(place, "L1"), 50), {("lost-leg", place)})


@pytest.mark.parametrize(("system", "metering"), product(ALL, METERED))
def test_an_opened_circuit_is_told(system: System, metering: Metering) -> None:
    """Volts gone with amps before; switching off is nothing, nor is a breaker opened without load."""
    show = make(Made(system, metering))
    expect(show, bad_day(show, opened("A2"), 20), {("circuit-opened", "A2")})
    assert bad_day(show, unloaded("A2"), 20) == []
    assert bad_day(show, both(unloaded("A2"), later(4, opened("A2"))), 20) == []


def test_a_trip_behind_line_side_volts_is_told_only_after_an_overload() -> None:
    """The volts stay: without evidence it can't be told from switching off."""
    show = make(Made("120/240", "source", tap="line"))
    assert bad_day(show, opened("A2"), 20) == []
    found = bad_day(show, both(heater("A2", 1500), later(90, opened("A2"))), 110)
    assert ("circuit-opened", "A2") in {(code, where) for _, code, where in found}


@pytest.mark.parametrize(("system", "metering", "tap"), product(ALL, METERED, ("line", "load")))
def test_a_lost_box_and_a_lost_source_are_one_alarm(system: System, metering: Metering, tap: str) -> None:
    """The lowest place that explains all that is gone; what hangs under it is folded."""
    show = make(Made(system, metering, "line" if tap == "line" else "load"))
    expect(show, bad_day(show, run("boxA", "*"), 25), {("feeder-lost", "boxA")})
    expect(show, bad_day(show, dead, 25), {("source-lost", "source")})


@pytest.mark.parametrize(("system", "metering"), product(ALL, ("circuits", "all")))
@pytest.mark.parametrize("part", [1.73, 1.155, 0.867])
def test_a_wrong_service_is_told_at_first_power(system: System, metering: Metering, part: float) -> None:
    """Before any load: 208 V for 120, 240 for 208, 208 for 240; once, at the source."""
    day = Day(make(Made(system, metering)))
    day.volts_off = part
    found = raised(day, 60)
    assert [(r.code, r.where) for r in found] == [("wrong-service", "source")]
    assert found[0].second <= 12


def test_silent_meters_are_told_by_what_they_share() -> None:
    """One meter, a bus, everything; and one whose supply opened is told as the opening."""
    show = make(Made("120/240", "all"))
    lines = [f"{m.bus}:{m.unit}" for m in show.meters]
    expect(show, bad_day(show, silent("line:1"), 30), {("meter-silent", "line:1")})
    bus = silent(*(name for name in lines if name.startswith("line")))
    expect(show, bad_day(show, bus, 30), {("meter-silent", "bus line")})
    expect(show, bad_day(show, silent(*lines), 30), {("meter-silent", "source")})
    show = powered_from(make(Made("120/240", "circuits")), 2, "A1")
    found = bad_day(show, both(opened("A1"), silent("line:2")), 40)
    expect(show, found, {("circuit-opened", "A1")})


def test_values_that_cannot_be_are_told() -> None:
    """A refused value, and watts below nothing."""
    show = make(Made("120/240", "circuits"))

    def act(day: Day) -> None:
        day.refused.add("A1")
        day.reversed.add("B3")

    expect(show, bad_day(show, act, 60), {("value-implausible", "A1"), ("value-implausible", "B3")})


@pytest.mark.parametrize("system", ALL)
@pytest.mark.parametrize("watts", [120, 300])
def test_watts_lost_in_a_run_are_told(system: System, watts: float) -> None:
    """A worn joint in one conductor, after the meters' difference is known, at two depths [W]."""
    show = with_settings(make(Made(system, "all")), run_resistance_on_seconds=20.0, volts_low_percent=70.0)
    day = everything_on(Day(show), 5)
    amps = {"120/240": 28.5, "208Y/120": 17.3, "400Y/230": 11.7, "230": 37.2}[system]
    joint = watts / amps**2
    day.at(420, run("boxA", "L1", 0.0009 * 30 + joint))
    found = raised(day, 560)
    assert [(r.code, r.where) for r in found] == [("run-resistance", "boxA")]
    assert found[0].second > 420


def test_the_log_and_its_clock_are_told() -> None:
    """A disk that is full, a clock that was moved; not one that was moved by a little."""
    show = make(Made("120/240", "circuits"))

    def act(day: Day) -> None:
        day.log_problem, day.clock_step_s = "the disk is full", -3600.0

    expect(show, bad_day(show, act, 20), {("log-not-written", "log"), ("clock-stepped", "log")})

    def slight(day: Day) -> None:
        day.clock_step_s = 0.4

    assert bad_day(show, slight, 20) == []
