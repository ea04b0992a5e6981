"""Short sequences of readings, each with what it must and must not raise.

The numbers are worked out from Ohm's law by hand, not by this project's code, or are what practitioners describe
(common practice, no source).
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from drivers.reading import Quality, Values
from monitor.alarms.model import PointNow
from monitor.show.model import Load, Point
from monitor.show.settings import with_defaults
from tests.monitor.alarms.conditions.seconds import BEGIN_MS, Seconds
from tests.support.shows import circuit, show

SPLIT = ("source/L1", "source/L2")


def source_only(**source: float | str) -> Seconds:
    """Watch a split-phase source by its two legs."""
    base = show(circuit("A1", watts=9600.0, amps=200.0), circuit("A2", ("L2",), 9600.0, 200.0), points=SPLIT)
    return Seconds(replace(base, source=replace(base.source, **source)))  # type: ignore[arg-type]


def legs(*pairs: tuple[float, float]) -> dict[str, tuple[float | None, float | None]]:
    """Give the readings of both legs of the source."""
    return dict(zip(SPLIT, pairs, strict=True))


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (((118, 80), (119, 40)), ((80, 53), (160, 53))),  # in series across 240 V: 240 x 1/80 / (1/80 + 1/40)
        (((119, 60), (119.5, 50)), ((109, 54.5), (131, 54.5))),
    ],
)
def test_a_lost_neutral_by_ohms_law(
    before: tuple[tuple[float, float], ...], after: tuple[tuple[float, float], ...]
) -> None:
    """Loads of two legs in series: raised within three seconds, alone, and it stays when the legs come back."""
    watched = source_only()
    assert watched.rows([legs(*before)] * 60) == []
    assert watched.rows([legs(*after)] * 4) == [("lost-neutral", "source")]
    assert watched.rows([legs(*before)] * 30) == []
    assert [a.state for a in watched.judge.alarms()] == ["latched-unacknowledged"]


def test_a_neutral_lost_near_balance_does_not_show() -> None:
    """20 and 19 A: 117 and 123 V, as a long run may give too; nobody can tell, and nothing is claimed."""
    watched = source_only()
    assert watched.rows([legs((120, 20), (120, 19))] * 40 + [legs((117, 19.5), (123, 19.5))] * 60) == []


def test_a_long_one_sided_run_is_no_lost_neutral() -> None:
    """The difference follows the load and the sum sinks: 70 A on one leg over 0.08 ohm each way."""
    watched = source_only(amps_per_leg=100.0)
    assert watched.rows([legs((120, 2), (120, 2))] * 40 + [legs((108.8, 70), (125.6, 0.5))] * 8) == []


def test_a_generator_overload_shows_in_its_figures() -> None:
    """62 kW and then 98 kW on a set of 100 kW, at 58.2 Hz and 115 V."""
    watched = source_only(rated_kw=100.0, rated_kva=125.0, amps_per_leg=520.0)
    assert watched.rows([legs((120.1, 258), (120.1, 258))] * 30, 60.0) == []
    found = watched.rows([legs((115.0, 426), (115.0, 426))] * 40, 58.2)
    assert found == [("hertz-low", "source"), ("source-kw", "source")]


def test_a_regulator_out_of_order_is_one_alarm() -> None:
    """Both legs climb together while hertz stand."""
    watched = source_only()
    assert watched.rows([legs((120.3, 20), (120.1, 20))] * 30) == []
    assert watched.rows([legs((134.0, 20), (133.8, 20))] * 6) == [("volts-high", "source")]


def test_fuel_running_out_is_seen_as_falling_hertz_and_then_as_a_lost_source() -> None:
    """Hertz hunt and fall at a load that stays; then everything is gone."""
    watched = source_only()
    watched.rows([legs((120, 40), (120, 40))] * 30)
    falling = [
        59.4,
        60.5,
        58.9,
        60.1,
        57.8,
        57.0,
        56.5,
        56.0,
        55.4,
        55.0,
        54.5,
        54.0,
        53.0,
        52.0,
        51.0,
        50.0,
        49.5,
        49.0,
    ]
    found = [each for hertz in falling for each in watched.rows([legs((119, 40), (119, 40))], hertz)]
    assert found == [("hertz-low", "source")]
    assert watched.rows([legs((0, 0), (0, 0))] * 6, None) == [("source-lost", "source")]


def test_a_motor_start_is_no_alarm_with_or_without_a_tag() -> None:
    """0, 41, 19, 8.2 A on a 20 A breaker, its volts down to 113.9 and back."""
    start = [{"A1": pair} for pair in ((119.6, 0.0), (113.9, 41.0), (118.8, 19.0), (119.0, 8.2))]
    running = [{"A1": (119.0, 8.1)}] * 40
    for tags in (frozenset[str](), frozenset({"motor"})):
        watched = Seconds(show(replace(circuit("A1", watts=980.0), tags=tags)))
        assert watched.rows([*[{"A1": (119.6, 0.0)}] * 10, *start, *running] * 3) == []


def test_a_slow_start_rides_through_where_the_circuit_is_a_motors() -> None:
    """Nine seconds at twice the rating; and a motor that is held is told when its ride-through ends."""
    pump = replace(circuit("A1"), load=(Load("pump", 900.0, 0.8, kind="motor", start_multiple=6),))
    idle, start, run = ({"A1": (119.0, amps)} for amps in (0.0, 45.0, 9.0))
    watched = Seconds(show(pump))
    assert watched.rows([idle] * 15 + [start] * 9 + [run] * 40) == []
    watched = Seconds(show(pump))
    assert watched.rows([idle] * 15 + [start] * 12) == [("far-above-rating", "A1")]


def test_a_heater_trips_its_breaker() -> None:
    """15.3 A planned, 27.6 A with the heater for 140 s, then nothing: told as above the rating, and as opened."""
    watched = Seconds(show(circuit("A1", watts=1850.0), circuit("B1", watts=600.0)))
    before, heater, gone = ({"A1": pair, "B1": (119.0, 5.0)} for pair in ((118.9, 15.3), (118.1, 27.6), (0.0, 0.0)))
    assert watched.rows([before] * 60) == []
    assert watched.rows([heater] * 140) == [("far-above-rating", "A1")]
    assert watched.rows([gone] * 8) == [("circuit-opened", "A1")]


def test_over_plan_and_over_the_rating_at_once_are_one_alarm_that_tells_both() -> None:
    """What the plan says of it is listed inside; it is told alone again once the rating no longer is."""
    watched = Seconds(show(circuit("A1", watts=960.0)))
    planned, heater, less = ({"A1": (119.0, amps)} for amps in (8.0, 22.0, 14.0))
    assert watched.rows([planned] * 30) == []
    assert watched.rows([heater] * 60) == [("above-rating", "A1")]
    (alarm,) = watched.judge.alarms()
    assert len(alarm.folded) == 1
    assert "are planned" in alarm.folded[0]
    assert watched.rows([less] * 90) == [("over-plan", "A1")]


def test_over_plan_told_long_before_stays_beside_the_rating() -> None:
    """A small load nobody planned, acknowledged; ten minutes later a large one, and then both go."""
    watched = Seconds(show(circuit("A1", watts=960.0)))
    planned, small, large = ({"A1": (119.0, amps)} for amps in (8.0, 13.0, 24.0))
    assert watched.rows([*[planned] * 30, *[small] * 600]) == [("over-plan", "A1")]
    watched.judge.acknowledge("over-plan", "A1", "Ines", BEGIN_MS)
    assert watched.rows([large] * 60) == [("above-rating", "A1")]
    assert {(a.code, a.state) for a in watched.judge.alarms()} == {
        ("above-rating", "unacknowledged"),
        ("over-plan", "acknowledged"),
    }
    watched.rows([planned] * 400)
    assert {a.code for a in watched.judge.alarms()} == {"above-rating"}


def test_near_the_rating_takes_in_what_is_over_the_plan() -> None:
    """Over plan is told first, having the shorter delay; then one alarm stands for both."""
    watched = Seconds(show(circuit("A1", watts=960.0)))
    found = watched.rows([*[{"A1": (119.0, 8.0)}] * 30, *[{"A1": (119.0, 17.0)}] * 90])
    assert found == [("near-rating", "A1"), ("over-plan", "A1")]
    (alarm,) = watched.judge.alarms()
    assert (alarm.code, len(alarm.folded)) == ("near-rating", 1)


@pytest.mark.parametrize("samples", [(41.0,), (41.0, 38.0, 36.0)])
def test_a_strike_with_silence_after_it_is_not_far_above(samples: tuple[float, ...]) -> None:
    """One odd sample doesn't stand for the whole delay because the next polls fail; nor do three of a short inrush."""
    given = show(circuit("A1"))
    watched = Seconds(given)
    watched.rows([{"A1": (119.0, 8.0)}] * 20)
    for amps in samples:
        watched.second_of({"A1": (119.0, amps)})
    held = PointNow(Values(volts=119.0, amps=samples[-1]), Quality.SILENT, "", 1.0, fresh=True)
    for _ in range(3 if len(samples) == 1 else 0):
        watched.moment({Point("A1"): held})
    assert watched.rows([{"A1": (119.0, 9.0)}] * 20) == []


def test_far_above_is_told_its_delay_after_the_first_sample() -> None:
    """Three seconds after the first reading of it, not after the second."""
    watched = Seconds(show(circuit("A1")))
    watched.rows([{"A1": (119.0, 8.0)}] * 20)
    begin = watched.second + 1
    watched.rows([{"A1": (119.0, 30.0)}] * 8)
    assert [(second - begin, code) for second, code, _ in watched.raised] == [(3, "far-above-rating")]


def test_far_above_on_a_bus_read_every_two_seconds_is_told_in_its_delay() -> None:
    """Between two polls the last one stands; that neither ends the delay nor makes it longer."""
    watched = Seconds(show(circuit("A1")))
    watched.rows([{"A1": (119.0, 8.0)}] * 20)
    begin = watched.second + 1
    for _ in range(4):
        watched.second_of({"A1": (119.0, 30.0)})
        held = PointNow(Values(volts=119.0, amps=30.0, watts=3570.0), Quality.GOOD, "", 1.0, fresh=False)
        watched.moment({Point("A1"): held})
    assert [(second - begin, code) for second, code, _ in watched.raised] == [(3, "far-above-rating")]


def test_five_circuits_gone_and_two_standing_are_one_box() -> None:
    """The parent of the five, not the source, though it has no meter; and not before all others were read once more."""
    boxes = show(*(circuit(f"A{n}") for n in range(1, 6)))
    feeder = boxes.feeders[0]
    others = tuple(replace(circuit(f"B{n}"), fed_from="boxB") for n in (1, 2))
    points = tuple((f"ch{n}", Point(c.id)) for n, c in enumerate((*boxes.circuits, *others)))
    given = replace(
        boxes,
        circuits=(*boxes.circuits, *others),
        feeders=(feeder, replace(feeder, id="boxB", name="Box B")),
        meters=(replace(boxes.meters[0], points=points),),
    )
    watched = Seconds(given)
    whole = {str(point): (119.5, 8.0) for _, point in points}
    lost = whole | {f"A{n}": (0.0, 0.0) for n in range(1, 6)}
    assert watched.rows([whole] * 20) == []
    assert watched.rows([lost] * 8) == [("feeder-lost", "boxA")]


def test_constant_power_under_a_sag_is_no_unplanned_load() -> None:
    """120, 114, 108 V: 11.1, 11.7, 12.4 A by the same lights."""
    watched = Seconds(show(circuit("A1", watts=1332.0), points=("A1",)))
    found = watched.rows([{"A1": pair} for pair in ((120.0, 11.1), (114.1, 11.7), (108.0, 12.4)) for _ in range(40)])
    assert found == [("volts-low", "A1")]


def test_kettles_within_the_plan_ask_for_nothing() -> None:
    """On and off for half an hour, at 80 % of the rating that the plan has too."""
    watched = Seconds(show(circuit("A1", watts=1920.0)))
    assert watched.rows(([{"A1": (119.5, 0.0)}] * 30 + [{"A1": (119.0, 16.1)}] * 90) * 15) == []


def test_a_high_leg_at_first_power_asks_for_no_load() -> None:
    """208 V where 120 are planned, with nothing on: told as the wrong service alone."""
    watched = source_only()
    assert watched.rows([legs((0, 0), (0, 0))] * 5, None) == []
    assert watched.rows([legs((120, 0), (208, 0))] * 20) == [("wrong-service", "source")]


def test_a_set_that_warms_up_is_not_judged() -> None:
    """Volts and hertz come up over half a minute, with nothing on."""
    watched = source_only()
    for part in (0.0, 0.3, 0.5, 0.7, 0.8, *[0.85] * 20, 0.95, *[1.0] * 20):
        watched.second_of(legs((120 * part, 0), (120 * part, 0)), 60 * part or None)
    assert watched.raised == []


def test_europe_is_told_near_a_rating_that_may_be_carried_for_ever() -> None:
    """15 of 16 A, beyond the plan."""
    given = show(circuit("A1", watts=2300.0, amps=16.0), system="400Y/230")
    watched = Seconds(replace(given, region="europe", settings=with_defaults("europe", {})))
    assert watched.rows([{"A1": (230.0, 15.0)}] * 70) == [("near-rating", "A1"), ("over-plan", "A1")]
