"""Lost neutral where two legs of a wye and its neutral come to a box.

The figures are worked out with phasors by hand: with the neutral open the loads of the two legs are in series across
208 V (120 V legs, 120 degrees apart), so that volts share as their resistances and both legs carry the same amps.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from monitor.show.model import Breaker, Cable, Circuit, Load
from tests.monitor.alarms.test_days import bad_day, expect
from tests.support.days.day import Day
from tests.support.days.judged import raised
from tests.support.days.scripts import both, everything_on, heater, later, opened, power_up, quiet, run, unloaded
from tests.support.days.sets import Made, make

if TYPE_CHECKING:
    from monitor.show.model import Show, System
    from tests.support.days.sets import Metering

SYSTEMS: tuple[System, ...] = ("208Y/120", "400Y/230")
METERED: tuple[Metering, ...] = ("circuits", "source", "all")


def two_legs(system: System, metering: Metering, *, across: bool = False, seed: int = 1) -> Show:
    """Give a set whose box A has two legs of three; with a load across both of them, metered, or without."""
    made = make(Made(system, metering, seed=seed))
    breaker = Breaker(30.0, poles=2)
    big = Circuit("A6", "big A6", "boxA", ("L1", "L2"), breaker, load=(Load("big", 2000, kind="tungsten"),))
    circuits = [
        big
        if across and c.id == "A6"
        else replace(c, legs=(("L1", "L2")[int(c.id[1:]) % 2],))
        if c.fed_from == "boxA"
        else c
        for c in made.circuits
    ]
    feeders = tuple(replace(f, legs=("L1", "L2")) if f.id == "boxA" else f for f in made.feeders)
    gone = ("boxA/L3",)
    meters = tuple(replace(m, points=tuple(p for p in m.points if str(p[1]) not in gone)) for m in made.meters)
    source = replace(made.source, amps_per_leg=300.0, neutral_amps=300.0, rated_kw=90.0, rated_kva=110.0)
    return replace(made, circuits=tuple(circuits), feeders=feeders, meters=meters, source=source)


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("metering", METERED)
@pytest.mark.parametrize("off", [(), ("A1",), ("A2", "A4"), ("A1", "A3", "A5")])
def test_it_is_told_at_once(system: System, metering: Metering, off: tuple[str, ...]) -> None:
    """More or less load on each leg: one rises and the other sinks, or both sink; one alarm, five seconds."""
    show = two_legs(system, metering)
    found = bad_day(show, both(unloaded(*off), later(20, run("boxA", "N"))), 50)
    expect(show, found, {("lost-neutral", "boxA")}, 20)
    assert found[0][0] <= 20 + 5


def same_load(system: System, metering: Metering, *, across: bool) -> Show:
    """Give box A the same heater on both legs, and nothing else."""
    show = two_legs(system, metering, across=across)
    watts = 1100.0 if system == "208Y/120" else 1500.0
    heaters = {"A1": watts, "A2": watts}
    return replace(
        show,
        circuits=tuple(
            replace(
                c, load=(Load("heater", heaters[c.id], kind="resistive"),) if c.id in heaters else (), tags=frozenset()
            )
            if c.fed_from == "boxA" and c.id != "A6"
            else c
            for c in show.circuits
        ),
    )


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("metering", METERED)
@pytest.mark.parametrize("across", [True, False])
def test_the_same_load_on_both_legs_sinks_both(system: System, metering: Metering, across: bool) -> None:  # noqa: FBT001
    """104 V on each of two 120 V legs: what is between them stands, read at the box or known from elsewhere."""
    show = same_load(system, metering, across=across)
    found = bad_day(show, run("boxA", "N"), 30)
    expect(show, found, {("lost-neutral", "boxA")})


@pytest.mark.parametrize("across", [True, False])
def test_volts_lost_on_both_legs_by_load_are_the_runs(across: bool) -> None:  # noqa: FBT001
    """A long run and a load that doubles: both legs sink by an eighth, and no neutral is named."""
    show = same_load("208Y/120", "all", across=across)
    long = replace(show.feeders[0], cable=Cable(180.0, mm2=10.0))
    show = replace(show, feeders=(long, *show.feeders[1:]))
    day = everything_on(Day(show))
    for conductor in ("L1", "L2", "N"):
        day.rig.ohms["boxA", conductor] = 0.33
    day.at(45, both(heater("A3", 2500), heater("A4", 2500)))
    codes = {r.code for r in raised(day, 90)}
    assert "volts-far-low" in codes
    assert "lost-neutral" not in codes


@pytest.mark.parametrize("metering", METERED)
def test_a_worn_leg_and_a_low_source_are_no_lost_neutral(metering: Metering) -> None:
    """One leg's joint, both legs' joints under unlike loads, and a source that sinks by an eighth on all legs."""
    for conductors, off in (("L1", ()), ("L1 L2", ("A2",))):
        show = two_legs("208Y/120", metering)
        act = both(unloaded(*off), later(15, run("boxA", conductors, 0.6)))
        assert "lost-neutral" not in {code for _, code, _ in bad_day(show, act, 45)}

    def sunk(day: Day) -> None:
        day.volts_off = 0.866

    show = two_legs("208Y/120", metering)
    expect(show, bad_day(show, sunk, 30), {("volts-low", "source")})


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("metering", METERED)
def test_a_lost_leg_and_a_lost_box_are_told_as_such(system: System, metering: Metering) -> None:
    """One leg of the box open, then the whole box; an opened circuit."""
    show = two_legs(system, metering)
    expect(show, bad_day(show, run("boxA", "L1"), 40), {("lost-leg", "boxA")})
    expect(show, bad_day(show, run("boxA", "L1 L2"), 30), {("feeder-lost", "boxA")})
    expect(show, bad_day(show, opened("A2"), 20), {("circuit-opened", "A2")})


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("metering", METERED)
def test_a_quiet_day_stays_quiet(metering: Metering, seed: int) -> None:
    """Half an hour of work on a set with a two-leg box."""
    day = Day(two_legs("208Y/120", metering, across=seed == 2, seed=seed), seed, noise=0.006)
    day.corrupt, day.slow = 0.02, 0.1
    power_up(day, 20)
    quiet(day, 130, 1700)
    assert raised(day, 1700) == []
