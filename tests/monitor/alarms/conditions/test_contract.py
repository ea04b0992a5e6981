"""What holds for every condition: every rule, every moment, whatever is read."""

from __future__ import annotations

import re
from graphlib import TopologicalSorter
from math import isfinite
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.reading import Quality, Values
from monitor.alarms.model import PointNow
from monitor.alarms.rules import Side, rules
from tests.monitor.alarms.conditions.seconds import Seconds
from tests.support.days.day import Day
from tests.support.days.scripts import everything_on, opened, run, silent
from tests.support.days.sets import Made, make

if TYPE_CHECKING:
    from monitor.show.model import Show

FORBIDDEN = re.compile(r"\b(safe|dead|ok to|isolated|nuisance|will trip|red|amber|green|yellow)\b", re.IGNORECASE)
SHOWS = [
    make(Made("120/240", "all")),
    make(Made("208Y/120", "source")),
    make(Made("400Y/230", "all", governor="droop")),
    make(Made("230", "circuits", kind="house")),
]
STATES = ("meter-silent", "log-not-written", "clock-stepped")  # they hold something when nothing is read


def test_every_rule_is_observed_somewhere() -> None:
    """A set with everything metered has every rule of the table, and no other."""
    watched = Seconds(SHOWS[0])
    watched.moment(dict.fromkeys(SHOWS[0].points(), PointNow()))
    assert {code for code, _ in watched.seen} == set(rules())


@pytest.mark.parametrize("show", SHOWS, ids=lambda s: s.source.system)
def test_no_two_explain_each_other(show: Show) -> None:
    """What explains what has no circle in any set: two in a circle would take turns and never stand."""
    watched = Seconds(show)
    watched.moment(dict.fromkeys(show.points(), PointNow()))
    explained = {
        (code, where): {*seen.parents, *((worse, where) for worse in rules()[code].under)}
        for (code, where), seen in watched.seen.items()
    }
    assert len(tuple(TopologicalSorter(explained).static_order())) >= len(explained)


_numbers = st.one_of(st.none(), st.floats(0, 300), st.just(0.0))


@pytest.mark.parametrize("show", SHOWS, ids=lambda s: s.source.system)
@settings(max_examples=12, deadline=None)
@given(data=st.data())
def test_every_place_of_every_rule_is_observed_at_every_moment(show: Show, data: st.DataObject) -> None:
    """Whatever is read, silent, refused or missing: the same places, finite limits, a sentence when beyond."""
    watched = Seconds(show)
    keys: set[tuple[str, str]] = set()
    for second in range(12):
        points = {}
        for point in watched._known:
            quality = data.draw(st.sampled_from((*[Quality.GOOD] * 4, Quality.SILENT, Quality.IMPLAUSIBLE)))
            volts, amps, hertz = data.draw(_numbers), data.draw(_numbers), data.draw(_numbers)
            values = None if quality is Quality.SILENT else Values(volts, amps, hertz, data.draw(_numbers))
            points[point] = PointNow(values, quality, "", 0.0, fresh=data.draw(st.booleans()))
        watched.moment(points, resumed=data.draw(st.booleans()))
        assert not keys or keys == set(watched.seen), second
        keys = set(watched.seen)
        for seen in watched.seen.values():
            assert isfinite(seen.limit)
            assert seen.value is None or isfinite(seen.value)
            if seen.value is not None and _beyond(rules()[seen.code].side, seen.value, seen.limit):
                assert seen.seen, seen


def _beyond(side: Side, value: float, limit: float) -> bool:
    if side is Side.STATE:
        return value > 0
    return value > limit if side is Side.ABOVE else value < limit


@pytest.mark.parametrize("show", SHOWS, ids=lambda s: s.source.system)
def test_nothing_read_is_unknown_not_zero(show: Show) -> None:
    """After every meter has fallen silent nothing is claimed but that."""
    day = everything_on(Day(show))
    day.at(40, silent(*(f"{m.bus}:{m.unit}" for m in day.show.meters)))
    watched = Seconds(day.show)
    for now in day.moments(60):
        watched.moment(now.points, resumed=now.resumed)
    known = {key for key, seen in watched.seen.items() if seen.value is not None and key[0] not in STATES}
    assert known == set()


def test_sentences_say_what_is_read_and_nothing_that_they_must_not() -> None:
    """Every sentence of some bad minutes: figures in it, no forbidden word, one line."""
    texts = set()
    for act in (opened("A2"), run("boxA", "N"), run("boxA", "L1"), run("boxA", "*", 0.4), silent("line:1")):
        day = everything_on(Day(SHOWS[0]))
        day.at(50, act)
        watched = Seconds(day.show)
        for now in day.moments(80):
            watched.moment(now.points, resumed=now.resumed)
            texts |= {seen.seen for seen in watched.seen.values() if seen.seen}
    assert len(texts) > 20
    for text in texts:
        assert not FORBIDDEN.search(text), text
        assert "\n" not in text
        assert re.search(r"\d", text), text


def test_a_place_without_a_meter_has_only_what_its_circuits_show_together() -> None:
    """Circuits only: no hertz but theirs, no power, no balance, no neutral amps, no run."""
    show = make(Made("120/240", "circuits"))
    watched = Seconds(show)
    watched.moment(dict.fromkeys(show.points(), PointNow()))
    codes = {code for code, where in watched.seen if where.partition("/")[0] in ("source", "boxA", "boxB")}
    assert codes == {
        "volts-low", "volts-high", "hertz-low", "hertz-high", "lost-neutral", "lost-leg", "wrong-service",
        "feeder-lost", "source-lost",
    }  # fmt: skip
