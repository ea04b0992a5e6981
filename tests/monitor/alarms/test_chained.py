"""Boxes fed from boxes: what goes wrong is told at its own place, once, and what hangs under it is folded."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from typing import TYPE_CHECKING

import pytest

from tests.monitor.alarms.test_days import AT, expect
from tests.support.days.day import Day
from tests.support.days.judged import raised
from tests.support.days.scripts import both, everything_on, later, power_up, quiet, run, unloaded
from tests.support.days.sets import Made, make

if TYPE_CHECKING:
    from monitor.show.model import Show, System
    from tests.support.days.day import Act
    from tests.support.days.sets import Metering

MADE: tuple[tuple[System, Metering], ...] = (("120/240", "all"), ("208Y/120", "circuits"), ("400Y/230", "source"))
BOXES = ("boxA", "boxB", "boxC")


def chained(system: System, metering: Metering, seed: int = 2) -> Show:
    """Give a set with box B on box A and box C on box B, on a cable that is thick enough for it."""
    made = make(Made(system, metering, boxes=3, each=4, seed=seed))
    above = {"boxB": "boxA", "boxC": "boxB"}
    feeders = tuple(
        replace(f, fed_from=above.get(f.id, f.fed_from), cable=replace(f.cable, mm2=70.0) if f.cable else None)
        for f in made.feeders
    )
    source = replace(made.source, rated_kw=200.0, rated_kva=250.0, amps_per_leg=600.0, neutral_amps=600.0)
    return replace(made, feeders=feeders, source=source)


def thick(day: Day) -> Day:
    """Give the rig the thick cable."""
    day.rig.ohms.update({key: 0.36 * ohms for key, ohms in day.rig.ohms.items() if key[0] != "source"})
    return day


def bad(show: Show, act: Act, seconds: int) -> list[tuple[int, str, str]]:
    """Give what is raised after ``act`` on the loaded set, in seconds since then."""
    day = thick(everything_on(Day(show)))
    day.corrupt = 0.01
    day.at(AT, act)
    return [(r.second - AT, r.code, r.where) for r in raised(day, AT + seconds)]


@pytest.mark.parametrize(("made", "box"), product(MADE, BOXES))
def test_each_box_tells_its_own(made: tuple[System, Metering], box: str) -> None:
    """Its neutral, one leg or all of its run open: one alarm, there."""
    show = chained(*made)
    for conductors, code in (("N", "lost-neutral"), ("L1", "lost-leg"), ("*", "feeder-lost")):
        expect(show, bad(show, run(box, conductors), 40), {(code, box)})


@pytest.mark.parametrize("made", MADE)
def test_a_neutral_that_fails_in_the_middle_is_told_there(made: tuple[System, Metering]) -> None:
    """0.7 ohm in box B's neutral, with load on one leg alone."""
    show = chained(*made)
    others = [c.id for c in show.circuits if c.legs != ("L1",)]
    found = bad(show, both(unloaded(*others), later(15, run("boxB", "N", 0.7))), 50)
    expect(show, found, {("lost-neutral", "boxB")}, 15)


@pytest.mark.parametrize("made", MADE)
def test_a_quiet_day_on_a_chain(made: tuple[System, Metering]) -> None:
    """Half an hour of work, with noise on the bus."""
    day = thick(Day(chained(*made, seed=5), 11, noise=0.006))
    day.corrupt, day.slow = 0.03, 0.1
    power_up(day, 20)
    quiet(day, 150, 1750)
    assert raised(day, 1800) == []
