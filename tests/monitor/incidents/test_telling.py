"""How incidents are told: ends, numbers, restarts, gaps, what the log can't show, and the same in any grouping."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from drivers.reading import Quality, Values
from monitor.alarms.model import Now, PointNow
from monitor.engine.reading import Reading
from monitor.engine.watch import Watch
from monitor.incidents.finder import IncidentFinder
from monitor.incidents.model import Kind
from monitor.show.model import Feeder, Point
from tests.monitor.incidents.seconds import BEGIN_MS, Told, circuit, panel, small

if TYPE_CHECKING:
    from monitor.incidents.model import Found
    from monitor.show.model import Show

STANDS = {"A2": (119.0, 4.0), "A3": (119.0, 4.0)}
ON, OVER, GONE = (119.0, 9.0), (118.0, 26.0), (0.0, 0.0)


def three() -> Show:
    """Give three circuits on two legs."""
    return small([circuit("A1", load=(panel(1070),)), circuit("A2"), circuit("A3", "L2")])


def tripped(show: Show, finder: IncidentFinder | None = None) -> Told:
    """Let A1 trip on overload after 160 s."""
    told = Told(show, finder).play({"A1": ON, **STANDS}, 60)
    return told.play({"A1": OVER, **STANDS}, 100).play({"A1": GONE, **STANDS}, 20)


def test_closing_again_ends_an_opening_under_its_number() -> None:
    """Told when it opened, told again with its end; a second trip is a second incident."""
    told = tripped(three())
    assert [one.end_ms for one in told.incidents] == [None]
    told.play({"A1": OVER, **STANDS}, 90)
    assert [one.end_ms for one in told.incidents] == [BEGIN_MS + 180_000]
    told.play({"A1": GONE, **STANDS}, 20)
    assert told.kinds == ["overload-trip", "overload-trip"]


def test_a_restart_goes_on_with_the_log_s_numbers_and_tells_nothing_twice() -> None:
    """A finder that knows the log's incidents lives through the same readings and tells none of them; then the end."""
    show = three()
    before = tripped(show)
    finder = IncidentFinder(show)
    finder.adopt([replace(before.incidents[0], number=7)])
    after = tripped(show, finder)
    assert after.incidents == []
    after.play({"A1": ON, **STANDS}, 20)
    assert [(one.number, one.kind, one.end_ms is None) for one in after.incidents] == [(7, Kind.OVERLOAD_TRIP, False)]
    after.play({"A1": GONE, **STANDS}, 20)
    assert [one.number for one in after.incidents] == [7, 8]


def test_one_that_lasts_since_before_what_is_lived_through_keeps_its_begin() -> None:
    """Volts low for an hour, the log read back for two minutes."""
    show = three()
    low = dict.fromkeys(("A1", "A2", "A3"), (105.0, 4.0))
    first = Told(show).play(dict.fromkeys(low, ON), 30).play(low, 60)
    known = replace(first.incidents[0], begin_ms=BEGIN_MS - 3_600_000)
    finder = IncidentFinder(show)
    finder.adopt([known])
    told = Told(show, finder).play(low, 60)
    assert told.incidents == []
    told.play(dict.fromkeys(low, ON), 30)
    assert [(one.number, one.begin_ms) for one in told.incidents] == [(known.number, known.begin_ms)]


def test_the_same_readings_tell_the_same_however_they_come() -> None:
    """One by one, by the minute, or all at once."""
    show = three()
    rows = [(second, ON if second < 60 else OVER if second < 160 else GONE) for second in range(190)]
    readings = [
        Reading(Point(name), BEGIN_MS + 1000 * second + part, second, Quality.GOOD, Values(volts=v, amps=a))
        for second, own in rows
        for part, (name, (v, a)) in enumerate({"A1": own, **STANDS}.items())
    ]
    told = [_watched(show, readings, size) for size in (1, 180, len(readings))]
    assert told[0].incidents
    assert told[0] == told[1] == told[2]


def _watched(show: Show, readings: list[Reading], size: int) -> Found:
    watch = Watch(show)
    for begin in range(0, len(readings), size):
        batch = readings[begin : begin + size]
        watch.advance(batch, batch[-1].time_ms // 1000 * 1000)
    watch.advance((), BEGIN_MS + 200_000)
    return watch.take_found()


def test_a_recording_that_ends_with_the_opening_still_tells_it() -> None:
    """What waits for more readings is settled at the end."""
    told = Told(three()).play({"A1": ON, **STANDS}, 60).play({"A1": GONE, **STANDS}, 1)
    assert told.incidents == []
    (incident,) = told.finder.finish().incidents
    assert incident.kind is Kind.OPENED_CAUSE_NOT_SHOWN


def test_after_a_gap_nothing_is_bridged() -> None:
    """What lasted before a gap may have ended in it; what is gone after it was not seen going."""
    show = three()
    told = tripped(show)
    told.second += 3600
    points = {p: PointNow(Values(volts=0.0, amps=0.0), Quality.GOOD, "", 0.0, fresh=True) for p in show.points()}
    found = told.finder.observe(Now(BEGIN_MS + 1000 * told.second, points, resumed=True))
    told.second += 1
    assert found.incidents == ()
    told.play({"A1": GONE, "A2": GONE, "A3": GONE}, 20)
    assert told.kinds == ["overload-trip"]
    assert told.incidents[0].end_ms is None


def test_a_whole_circuit_off_on_a_line_side_tap_is_a_step_with_a_note() -> None:
    """No incident; the step says that this log can't tell it from an opening."""
    told = Told(small([circuit("A1", volts_tap="line", load=(panel(1070),)), circuit("A2")]))
    told.play({"A1": ON, "A2": ON}, 60).play({"A1": (119.4, 0.0), "A2": ON}, 30)
    assert told.incidents == []
    (step,) = told.steps
    assert step.step.kind == "off"
    assert "can't tell switching off from an opening" in step.note


def test_a_load_side_tap_needs_no_note() -> None:
    """Volts stay behind the breaker: it was the load that went."""
    told = Told(small([circuit("A1", load=(panel(1070),)), circuit("A2")]))
    told.play({"A1": ON, "A2": ON}, 60).play({"A1": (119.4, 0.0), "A2": ON}, 30)
    assert [(step.step.kind, step.note) for step in told.steps] == [("off", "")]


def test_an_overload_on_a_line_side_tap_is_never_sure() -> None:
    """It says what it can't tell, and that it may have been opened without a cause shown."""
    told = Told(small([circuit("A1", volts_tap="line"), circuit("A2")]))
    told.play({"A1": OVER, "A2": ON}, 100).play({"A1": (119.4, 0.0), "A2": ON}, 20)
    (incident,) = told.incidents
    assert incident.kind is Kind.OVERLOAD_TRIP
    assert incident.confidence <= 0.7
    assert any("can't tell an opening from all loads going off" in text for text in incident.not_shown)


def test_an_iec_breaker_that_has_to_hold_its_load_shows_no_overload() -> None:
    """1.08 times the rating: IEC 60898-1 has it hold 1.13 times for an hour."""
    breaker = replace(circuit("A1").breaker, amps=16.0, standard="IEC 60898-1", curve="C")
    show = small([circuit("A1", breaker=breaker), circuit("A2")], system="230")
    told = Told(show).play({"A1": (229.0, 17.3), "A2": (229.0, 4.0)}, 120).play({"A1": GONE, "A2": (230.0, 4.0)}, 20)
    (incident,) = told.incidents
    assert incident.kind is Kind.OPENED_CAUSE_NOT_SHOWN
    assert Kind.OVERLOAD_TRIP in {other.kind for other in incident.alternatives}
    assert any("hold that load" in one.text for one in incident.evidence)


def test_slow_polling_is_said() -> None:
    """Read every ten seconds: what happened between is not shown."""
    show = three()
    show = replace(show, settings={**show.settings, "old_after_seconds": 25.0})
    watch = Watch(show)
    for n in range(20):
        second = 10 * n
        own = ON if n < 15 else GONE
        samples = {"A1": own, **STANDS}
        readings = [
            Reading(Point(name), BEGIN_MS + 1000 * second + i, second, Quality.GOOD, Values(volts=v, amps=a))
            for i, (name, (v, a)) in enumerate(samples.items())
        ]
        watch.advance(readings, BEGIN_MS + 1000 * second)
    watch.advance((), BEGIN_MS + 200_000)
    (incident,) = watch.take_found().incidents
    assert incident.begin_ms - incident.earliest_ms == 10_000
    assert any("read every 10 s" in text for text in incident.not_shown)


def test_a_meter_that_goes_dark_with_a_box_is_part_of_that() -> None:
    """Its power comes from the box that is lost: one incident, and it says what is not known meanwhile."""
    boxes = [Feeder("boxA", "boxA", "source", ("L1",)), Feeder("boxB", "boxB", "source", ("L1",))]
    inside = [circuit(f"A{n}", fed_from="boxA") for n in (1, 2, 3)]
    show = small([*inside, circuit("B1", fed_from="boxB")], feeders=boxes)
    meters = tuple(replace(m, powered_from="boxA") if m.unit == 3 else m for m in show.meters)
    told = Told(replace(show, meters=meters)).play({"A1": ON, "A2": ON, "A3": ON, "B1": ON}, 60)
    told.play({"A1": GONE, "A2": GONE, "B1": ON}, 30)
    (incident,) = told.incidents
    assert incident.kind is Kind.UPSTREAM_LOSS
    assert any("powered from boxA" in text for text in incident.not_shown)


def test_two_circuits_that_open_apart_are_two_incidents() -> None:
    """Siblings of both kept their volts."""
    circuits = [circuit("A1"), circuit("A2"), circuit("A3", "L2"), circuit("A4", "L2")]
    told = Told(small(circuits)).play(dict.fromkeys(("A1", "A2", "A3", "A4"), ON), 60)
    told.play({"A1": GONE, "A2": ON, "A3": GONE, "A4": ON}, 20)
    assert told.kinds == ["opened-cause-not-shown"] * 2


def test_unloaded_breakers_opened_by_hand_are_nothing() -> None:
    """Nothing hung on them."""
    told = Told(three()).play({"A1": (119.0, 0.0), **STANDS}, 60).play({"A1": GONE, **STANDS}, 20)
    assert told.incidents == []


def by_leg() -> Show:
    """Give a two-hot circuit whose legs have a channel each, beside two circuits of one leg."""
    show = small([replace(circuit("A1"), legs=("L1", "L2")), circuit("A2"), circuit("A3", "L2")])
    legs = (("ch1", Point("A1", "L1")), ("ch2", Point("A1", "L2")))
    return replace(show, meters=(replace(show.meters[0], points=legs), *show.meters[1:]))


def test_a_two_hot_circuit_read_leg_by_leg_opens_once() -> None:
    """Both legs went: one opening."""
    told = Told(by_leg()).play({"A1/L1": ON, "A1/L2": ON, **STANDS}, 60)
    told.play({"A1/L1": GONE, "A1/L2": GONE, **STANDS}, 20)
    (incident,) = told.incidents
    assert incident.kind is Kind.OPENED_CAUSE_NOT_SHOWN
    assert {str(point) for point in incident.points} == {"A1/L1", "A1/L2"}


def test_one_pole_of_a_two_hot_circuit_is_a_lost_leg_of_it() -> None:
    """The other leg stands."""
    told = Told(by_leg()).play({"A1/L1": ON, "A1/L2": ON, **STANDS}, 60)
    told.play({"A1/L1": ON, "A1/L2": GONE, **STANDS}, 20)
    (incident,) = told.incidents
    assert incident.kind is Kind.LOST_LEG
    assert [str(point) for point in incident.points] == ["A1/L2"]


def test_steps_of_a_circuit_read_leg_by_leg_are_those_of_the_whole() -> None:
    """2280 W on both legs come and go."""
    show = by_leg()
    planned = replace(show.circuits[0], load=(panel(2280, "arc head"),))
    told = Told(replace(show, circuits=(planned, *show.circuits[1:])))
    for amps, seconds in ((0.0, 40), (9.5, 40), (0.0, 40)):
        leg = (120.0, amps, 60.0, 120.0 * amps)
        told.play({"A1/L1": leg, "A1/L2": leg, **STANDS}, seconds)
    assert [(step.circuit, step.step.kind, step.step.match) for step in told.steps] == [
        ("A1", "on", ("arc head",)),
        ("A1", "off", ("arc head",)),
    ]


def test_every_meter_silent_is_not_taken_for_sure() -> None:
    """One bus: the wire or the source; two buses that share nothing but the source: rather that."""
    show = three()
    told = Told(show).play({"A1": ON, **STANDS}, 60).play({}, 9)
    assert told.incidents == []  # as long as that it may be a gap
    told.play({}, 10)
    (incident,) = told.incidents
    assert incident.kind is Kind.METER_SILENT
    assert incident.confidence <= 0.5
    assert [other.kind for other in incident.alternatives] == [Kind.SOURCE_STOPPED]
    buses = replace(show, meters=(replace(show.meters[0], bus="net"), *show.meters[1:]))
    told = Told(buses).play({"A1": ON, **STANDS}, 60).play({}, 20)
    assert told.kinds == ["source-stopped"]
    assert told.incidents[0].confidence < 0.6


def test_a_meter_on_its_own_circuit_is_judged_by_the_leg_above() -> None:
    """Silent: if the leg above lost its amps the circuit went too; if it didn't, only the meter did."""
    boxes = [Feeder("boxA", "boxA", "source", ("L1",))]
    show = small([circuit("A1", fed_from="boxA"), circuit("A2", fed_from="boxA")], feeders=boxes)
    own = replace(show.meters[0], powered_from="A1")
    above = replace(show.meters[0], bus="net", unit=50, points=(("L1", Point("boxA", "L1")),))
    show = replace(show, meters=(own, show.meters[1], above))
    for after, kind in ((4.0, Kind.OPENED_CAUSE_NOT_SHOWN), (13.0, Kind.METER_SILENT)):
        told = Told(show).play({"A1": ON, "A2": (119.0, 4.0), "boxA/L1": (119.0, 13.0)}, 60)
        told.play({"A2": (119.0, 4.0), "boxA/L1": (119.0, after)}, 30)
        (incident,) = told.incidents
        assert incident.kind is kind
        assert any("takes its power from A1" in text for text in incident.not_shown)


def test_the_other_continent_s_service_is_told_with_its_hertz() -> None:
    """230 V 50 Hz where 120 V 60 Hz are planned, nothing on: a service, neither an engine nor a regulator."""
    dark = dict.fromkeys(("A1", "A2", "A3"), (0.0, 0.0))
    for before in (0, 20):
        told = Told(three()).play(dark, before).play(dict.fromkeys(dark, (230.4, 0.0, 50.0)), 60)
        (incident,) = told.incidents
        assert incident.kind is Kind.WRONG_SERVICE
        assert any("50.0 Hz where 60 Hz are planned" in one.text for one in incident.evidence)


def test_a_two_hot_circuit_on_a_wye_reads_another_service() -> None:
    """208 V between legs where 240 V are planned, 120 V to neutral as planned."""
    show = small([circuit("A1"), circuit("A2", "L2"), replace(circuit("Z1"), legs=("L1", "L2"))])
    told = Told(show).play({"A1": (0.0, 0.0), "A2": (0.0, 0.0), "Z1": (0.0, 0.0)}, 20)
    told.play({"A1": (120.1, 0.0), "A2": (119.8, 0.0), "Z1": (207.6, 0.0)}, 60)
    (incident,) = told.incidents
    assert incident.kind is Kind.WRONG_SERVICE
    assert incident.points[0].place == "Z1"
