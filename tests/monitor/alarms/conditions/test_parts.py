"""The parts that the conditions keep from moment to moment."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from drivers.reading import Quality, Values
from monitor.alarms.conditions.runs import Line
from monitor.alarms.conditions.tracks import Service, Track
from monitor.alarms.model import Now, PointNow
from monitor.show.model import Fuel, Point
from tests.monitor.alarms.conditions.seconds import BEGIN_MS, Seconds
from tests.support.shows import circuit, show

if TYPE_CHECKING:
    from monitor.show.model import Show

GOOD = Quality.GOOD


def shown(volts: float | None, amps: float | None = 0.0, quality: Quality = GOOD) -> PointNow:
    """Give a fresh reading."""
    return PointNow(Values(volts=volts, amps=amps), quality, "", 0.0, fresh=True)


def test_one_odd_sample_does_not_settle() -> None:
    """The middle of the last three; none before the second."""
    track = Track(Point("A1"), 120.0)
    settled = []
    for second, volts in enumerate((120.0, 121.0, 80.0, 120.5, 119.0)):
        track.take(shown(volts), 1000 * second)
        settled.append(track.settled_volts)
    assert settled == [None, 120.5, 120.0, 120.5, 119.0]


@pytest.mark.parametrize("quality", [Quality.CORRUPT, Quality.SILENT, Quality.SUSPECT, Quality.REFUSED])
def test_a_failed_poll_adds_no_sample(quality: Quality) -> None:
    """The values that stand are the last good ones, not another sample of them."""
    track = Track(Point("A1"), 120.0)
    track.take(shown(120.0, 50.0), 0)
    track.take(shown(120.0, 50.0, quality), 1000)
    assert not track.new
    assert list(track.recent_amps) == [50.0]
    track.take(PointNow(None, quality, "", 4.0, fresh=True), 2000)
    assert track.volts is None
    assert not track.recent_amps


def test_volts_come_into_service_when_they_stand() -> None:
    """Not while they climb, not while hertz are coming; at once where there is load."""
    track = Track(Point("A1"), 120.0)
    for second, volts in enumerate((0.0, 60.0, 90.0, 110.0, *[120.0] * 3)):
        track.take(shown(volts), 1000 * second)
        track.serve(1000 * second, at_speed=True)
    assert track.service is Service.IN
    assert track.first_volts == 120.0
    loaded = Track(Point("A1"), 120.0)
    for second in range(2):
        loaded.take(shown(120.0, 9.0), 1000 * second)
        loaded.serve(1000 * second, at_speed=False)
    assert (loaded.service, loaded.first_volts) == (Service.IN, None)


def test_a_line_learns_what_two_meters_differ_by() -> None:
    """A run of 1.4 times its table with meters 0.7 V apart: 0.7 V where the line meets no load."""
    line = Line()
    for moment in range(400):
        expected = (moment % 20) / 10
        line.add(expected, 1.4 * expected + 0.7, 20 * expected)
    assert line.offset == pytest.approx(0.7)
    steady = Line()
    for _ in range(400):
        steady.add(1.0, 2.1, 20.0)
    assert steady.offset is None


def powered() -> Show:
    """A source of 10 kW with both legs metered and a tank of 20 l."""
    given = show(circuit("A1", watts=4800.0, amps=60.0), points=("source/L1", "source/L2"), rated_kw=10.0)
    fuel = Fuel(20.0, ((25.0, 1.5), (50.0, 2.4), (75.0, 3.3), (100.0, 4.2)))
    return replace(given, source=replace(given.source, fuel=fuel))


def test_figures_add_up_and_a_refuel_begins_anew() -> None:
    """An hour at half load: 5 kWh, 2.4 l; a gap adds nothing and is counted."""
    watched = Seconds(powered())
    row = {"source/L1": (120.0, 20.833), "source/L2": (120.0, 20.833)}
    for _ in range(3601):
        watched.second_of(row)
    conditions = watched.conditions
    assert conditions.running is not None
    assert conditions.running.kilowatt_hours == pytest.approx(5.0, rel=0.01)
    assert conditions.demand is not None
    assert conditions.demand.watts == pytest.approx(5000, rel=0.001)
    assert conditions.fuel is not None
    assert conditions.fuel.litres == pytest.approx(20 - 2.4, abs=0.02)
    assert conditions.fuel.left is not None
    assert conditions.fuel.left.hours_mean == pytest.approx((20 - 2.4 - 2.0) / 2.4, abs=0.05)
    for _ in range(60):
        watched.second_of({})
    assert conditions.fuel.litres == pytest.approx(20 - 2.4, abs=0.02)
    assert conditions.fuel.unknown_s >= 60
    conditions.refuel(2.5, BEGIN_MS)
    assert (conditions.fuel.litres, conditions.fuel.entered) == (20.0, True)


def test_low_load_goes_back_with_the_load() -> None:
    """Ten minutes at a tenth of the rating, then five at half."""
    watched = Seconds(powered())
    for amps, seconds in ((4.0, 600), (21.0, 300)):
        for _ in range(seconds):
            watched.second_of({"source/L1": (120.0, amps), "source/L2": (120.0, amps)})
    assert watched.conditions.low_load_hours == pytest.approx(300 / 3600, abs=0.003)


def test_heat_counts_a_pause_as_unknown_and_keeps_what_was() -> None:
    """Five minutes above the rating, an hour in which nothing was looked at."""
    given = show(circuit("A1", watts=3600.0))
    watched = Seconds(given)
    for _ in range(300):
        watched.second_of({"A1": (120.0, 30.0)})
    before = watched.conditions.heat["A1"]
    assert before.slowest is not None
    assert before.slowest > 0.1
    later = Now(BEGIN_MS + 3_900_000, {Point("A1"): shown(120.0, 30.0)}, resumed=True)
    watched.conditions.observe(later)
    after = watched.conditions.heat["A1"]
    assert after.slowest == before.slowest
    assert after.unknown_s == pytest.approx(3601)


def test_an_opening_is_remembered_over_a_silence_and_not_for_ever() -> None:
    """Load, a minute of silence, volts gone: opened meanwhile. After an hour nothing is said."""
    for silence, wanted in ((60, [("circuit-opened", "A1")]), (3600, [])):
        watched = Seconds(show(circuit("A1"), circuit("B1")))
        rows = {"A1": (120.0, 9.0), "B1": (120.0, 9.0)}
        for _ in range(20):
            watched.second_of(rows)
        for _ in range(silence):
            watched.second_of({"B1": (120.0, 9.0)})
        watched.raised.clear()
        for _ in range(12):
            watched.second_of({"A1": (0.0, 0.0), "B1": (120.0, 9.0)})
        assert [(code, where) for _, code, where in watched.raised] == wanted


def test_a_restart_does_not_take_an_opening_back() -> None:
    """A fresh watch that meets volts which are gone doesn't know: what was raised before stays until they are back."""
    given = show(circuit("A1"), circuit("B1"))
    first = Seconds(given)
    before, gone = ({"A1": pair, "B1": (120.0, 9.0)} for pair in ((120.0, 9.0), (0.0, 0.0)))
    assert first.rows([before] * 20 + [gone] * 10) == [("circuit-opened", "A1")]
    after = Seconds(given)
    after.judge.restore(first.judge.alarms())
    after.rows([gone] * 60)
    assert [a.state for a in after.judge.alarms()] == ["unacknowledged"]
    after.rows([before] * 20)
    assert [a.state for a in after.judge.alarms()] == ["returned-unacknowledged"]


def test_a_show_without_any_planned_load_has_no_plan_to_be_over() -> None:
    """Nothing is over a plan that nobody made; a spare circuit of a planned show is planned empty."""
    spare = replace(circuit("A1"), load=())
    watched = Seconds(show(spare))
    watched.second_of({"A1": (120.0, 12.0)})
    assert ("over-plan", "A1") not in watched.seen
    watched = Seconds(show(spare, circuit("B1")))
    for _ in range(2):
        watched.second_of({"A1": (120.0, 12.0), "B1": (120.0, 9.0)})
    assert watched.value("over-plan", "A1") == pytest.approx(12.0)
