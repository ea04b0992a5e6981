"""The cases that the trade's physics gives figures for, second by second.

The figures are made up from the physics (computed; no published source): volts and amps of a 20 A circuit before and
after, a split phase with its neutral open, an engine that starves.
"""

from __future__ import annotations

import pytest

from monitor.incidents.model import Kind
from monitor.show.model import Feeder
from tests.monitor.incidents.seconds import Told, circuit, panel, small

PAIR = (circuit("A1", load=(panel(1200), panel(650, "fresnel"))), circuit("A2"))


def test_a_heater_that_joins_two_lamps_makes_an_overload_trip() -> None:
    """118.9 V 15.3 A, then 118.1 V 27.6 A for 140 s, then nothing; the neighbour rises from 118.4 to 119.0 V."""
    told = Told(small(PAIR)).play({"A1": (118.9, 15.3), "A2": (119.1, 4.0)}, 60)
    told.play({"A1": (118.1, 27.6), "A2": (118.4, 4.0)}, 140).play({"A1": (0.0, 0.0), "A2": (119.0, 4.0)}, 20)
    (incident,) = told.incidents
    assert incident.kind is Kind.OVERLOAD_TRIP
    assert incident.confidence >= 0.8
    assert (incident.begin_ms - incident.earliest_ms) == 1000
    assert any("27.6 A on a 20 A breaker" in one.text for one in incident.evidence)
    assert incident.last_on_planned is False
    assert "1" in incident.last_on


def test_a_wet_cable_on_a_ground_fault_device_is_a_cause_not_shown() -> None:
    """119.2 V 8.1 A, then nothing; the neighbour stays at 119.2 V."""
    told = Told(small(PAIR)).play({"A1": (119.2, 8.1), "A2": (119.2, 4.0)}, 60)
    told.play({"A1": (0.0, 0.0), "A2": (119.2, 4.0)}, 20)
    (incident,) = told.incidents
    assert incident.kind is Kind.OPENED_CAUSE_NOT_SHOWN
    assert any("ground-fault device" in text for text in incident.not_shown)


def test_a_crushed_cable_is_likely_a_fault() -> None:
    """119.0 V 9.4 A, then nothing; the neighbour goes 119.1, 114.8, 119.2 V."""
    told = Told(small(PAIR)).play({"A1": (119.0, 9.4), "A2": (119.1, 4.0)}, 60)
    told.play({"A1": (0.0, 0.0), "A2": (114.8, 4.0)}).play({"A1": (0.0, 0.0), "A2": (119.2, 4.0)}, 20)
    (incident,) = told.incidents
    assert incident.kind is Kind.FAULT_TRIP
    assert incident.confidence < 0.9


def test_a_neutral_lost_at_80_and_40_a_is_told_from_both_legs() -> None:
    """118 and 119 V become 80 and 160 V; the sum stays 240 V."""
    show = small([circuit("A1", amps=100.0), circuit("A2", "L2", amps=100.0)])
    told = Told(show).play({"A1": (118.0, 80.0), "A2": (119.0, 40.0)}, 60)
    told.play({"A1": (80.0, 53.0), "A2": (160.0, 53.0)}, 20)
    (incident,) = told.incidents
    assert incident.kind is Kind.LOST_NEUTRAL
    assert any("10 % above nominal" in one.text for one in incident.evidence)


def test_a_set_pulled_down_by_its_load_is_overload_and_ends_with_it() -> None:
    """60.0 Hz 120.1 V 62 kW, then 58.2 Hz 115.0 V 98 kW on a 100 kW set, and back."""
    show = small([circuit("A1"), circuit("A2", "L2")], source_points=True, rated_kw=100.0)

    def moment(volts: float, kilowatts: float, hertz: float) -> dict[str, tuple[float, ...]]:
        leg = (volts, 500 * kilowatts / volts, hertz, 500 * kilowatts)
        return {"A1": (volts, 5.0, hertz), "A2": (volts, 5.0, hertz), "source/L1": leg, "source/L2": leg}

    told = Told(show).play(moment(120.1, 62, 60.0), 90).play(moment(115.0, 98, 58.2), 40)
    assert told.kinds == ["source-overload"]
    assert told.incidents[0].end_ms is None
    told.play(moment(120.0, 60, 60.0), 60)
    assert told.kinds == ["source-overload"]
    assert told.incidents[0].end_ms is not None


@pytest.mark.parametrize("stops", [True, False])
def test_an_engine_that_starves_is_told_with_or_without_the_stop(*, stops: bool) -> None:
    """60.0, 59.4, 60.5, 58.9, 60.1, 57.8, 55, 49 Hz with 38 kW flat."""
    show = small([circuit("A1"), circuit("A2", "L2")], source_points=True, rated_kw=100.0)

    def moment(hertz: float, volts: float = 120.0) -> dict[str, tuple[float, ...]]:
        leg = (volts, 158.0 if volts else 0.0, hertz, 19_000.0 if volts else 0.0)
        return {"A1": (volts, 5.0, hertz), "A2": (volts, 5.0, hertz), "source/L1": leg, "source/L2": leg}

    told = Told(show).play(moment(60.0), 90)
    for hertz in (60.0, 59.4, 60.5, 58.9, 60.1, 57.8, 55.0, 49.0):
        told.play(moment(hertz))
    told.play(moment(0.0, 0.0) if stops else moment(49.0), 20)
    assert told.kinds == ["fuel-or-governor"]


def test_a_regulator_that_runs_high_is_overvoltage_not_a_neutral() -> None:
    """120.3, 120.1, 120.2 V become 134, 133.8, 134.1 V at 60.0 Hz."""
    legs = ("L1", "L2", "L3")
    show = small([circuit(f"A{n}", leg) for n, leg in enumerate(legs)], system="208Y/120")
    told = Told(show).play({"A0": (120.3, 9.0, 60.0), "A1": (120.1, 9.0, 60.0), "A2": (120.2, 9.0, 60.0)}, 60)
    told.play({"A0": (134.0, 9.4, 60.0), "A1": (133.8, 9.4, 60.0), "A2": (134.1, 9.4, 60.0)}, 20)
    assert told.kinds == ["overvoltage"]


def test_a_motor_start_is_no_incident() -> None:
    """0, 41, 19, 8.2, 8.1 A with 119.6, 113.9, 118.8 V."""
    told = Told(small(PAIR)).play({"A1": (119.6, 0.0), "A2": (119.6, 4.0)}, 60)
    for volts, amps in ((113.9, 41.0), (117.0, 19.0), (118.8, 8.2)):
        told.play({"A1": (volts, amps), "A2": (volts, 4.0)})
    told.play({"A1": (118.8, 8.1), "A2": (118.9, 4.0)}, 30)
    assert told.incidents == []
    assert [step.step.kind for step in told.steps] == ["on"]


def test_constant_power_loads_under_a_sag_are_no_steps() -> None:
    """120, 114, 108 V with 11.1, 11.7, 12.4 A."""
    told = Told(small((circuit("A1", load=(panel(1332),)), circuit("A2"))))
    for volts, amps in ((120.0, 11.1), (114.0, 11.7), (108.0, 12.4)):
        told.play({"A1": (volts, amps), "A2": (volts, 0.0)}, 40)
    assert told.steps == []
    assert told.kinds == ["undervoltage-source"]


def test_five_of_seven_circuits_in_one_poll_name_what_they_share() -> None:
    """A box with five circuits goes while two others stand."""
    boxes = [Feeder("boxA", "boxA", "source", ("L1", "L2")), Feeder("boxB", "boxB", "source", ("L1", "L2"))]
    legs = ("L1", "L2", "L1", "L2", "L1")
    inside = [circuit(f"A{n}", leg, fed_from="boxA") for n, leg in enumerate(legs)]
    outside = [circuit("B1", fed_from="boxB"), circuit("B2", "L2", fed_from="boxB")]
    stand = {"B1": (119.0, 3.0), "B2": (119.0, 3.0)}
    told = Told(small([*inside, *outside], feeders=boxes))
    told.play({**{c.id: (119.0, 6.0) for c in inside}, **stand}, 60)
    told.play({**{c.id: (0.0, 0.0) for c in inside}, **stand}, 20)
    (incident,) = told.incidents
    assert incident.kind is Kind.UPSTREAM_LOSS
    assert incident.points[0].place == "boxA"
    assert {c.id for c in inside} <= {point.place for point in incident.points}
