"""Planned currents, phasors on legs, and the tree from source to circuit."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.electrical.legs import (
    circuits_under,
    lagging,
    neutral,
    on_legs,
    path_up,
    planned_legs,
    remainder,
    sequences,
    total,
    true_unbalance,
    unbalance,
)
from monitor.electrical.loads import nominal_volts, paper_amps, planned_amps, planned_watts, start_amps
from monitor.show.model import SYSTEM_LEGS, Breaker, Circuit, Load, System
from tests.monitor.electrical.sets import circuit, feeder, show, source

WYE = ("L1", "L2", "L3")


@pytest.mark.parametrize(
    ("system", "legs", "volts"),
    [
        ("120/240", ["L1"], 120),
        ("120/240", ["L1", "L2"], 240),
        ("208Y/120", ["L1", "L3"], 207.85),
        ("208Y/120", WYE, 120),
        ("400Y/230", ["L2", "L3"], 400),
        ("400Y/230", WYE, 230),
        ("230", ["L1"], 230),
    ],
)
def test_nominal_volts(system: System, legs: list[str], volts: float) -> None:
    """Each system gives its volts across one, two and three legs."""
    assert nominal_volts(system, legs) == pytest.approx(volts, abs=0.01)


@pytest.mark.parametrize(("system", "legs"), [("230", ["L2"]), ("120/240", WYE), ("120/240", []), ("230", ["L1"] * 2)])
def test_legs_that_a_system_has_not(system: System, legs: list[str]) -> None:
    """Legs of another system, none, or one twice are refused."""
    with pytest.raises(ValueError, match="has the legs"):
        nominal_volts(system, legs)


def test_amps_at_power_factor_not_watts_over_100() -> None:
    """Currents of differing power factor add as phasors: 1200 W at 1 and 1200 W at 0.6 are 24.0 A, not 26.7."""
    both = circuit("A", ("L1",), [(1200, 1.0), (1200, 0.6)])
    assert planned_amps(both, "120/240") == pytest.approx(abs(20 - 1j * 10 * 0.8 / 0.6))
    assert planned_watts(both) == 2400
    assert paper_amps(both, "120/240") == 24
    assert planned_amps(circuit("A", ("L1",)), "120/240") == 0


def test_three_legs_share_and_two_carry_the_same() -> None:
    """6.9 kW on three legs of 230 V are 10 A each; 2.4 kW across 240 V are 10 A in both."""
    assert planned_amps(circuit("A", WYE, [(6900, 1.0)]), "400Y/230") == pytest.approx(10)
    assert planned_amps(circuit("A", ("L1", "L2"), [(2400, 1.0)]), "120/240") == pytest.approx(10)
    assert paper_amps(circuit("A", ("L1", "L2"), [(2400, 1.0)]), "120/240") == pytest.approx(12)
    assert paper_amps(circuit("A", ("L1",), [(2000, 1.0)]), "230") == pytest.approx(10)


def test_one_motor_starts_while_the_rest_runs() -> None:
    """The hardest single start counts, one piece of it, on top of everything that runs."""
    fridge = Load("Cooler", 240, 0.8, count=2, kind="motor", start_multiple=6)
    light = Load("Lamp", 600)
    each = Circuit("A", "A", "source", ("L1",), Breaker(20), load=(fridge, light))
    running = planned_amps(each, "120/240")
    assert start_amps(each, "120/240") == pytest.approx(running + 5 * 2.5, rel=0.02)
    assert start_amps(circuit("B", ("L1",), [(600, 1)]), "120/240") == pytest.approx(5)


@given(st.sampled_from(["120/240", "208Y/120", "400Y/230"]), st.floats(0.1, 100), st.floats(0.1, 1))
def test_leg_to_leg_loads_add_nothing_to_the_neutral(system: System, amps: float, factor: float) -> None:
    """Two hots: same amps in both, none in the neutral; balanced on every leg: none either."""
    pair = on_legs(system, SYSTEM_LEGS[system][:2], lagging(amps, factor))
    assert [abs(current) for current in pair.values()] == pytest.approx([amps, amps])
    assert abs(neutral(pair)) == pytest.approx(0, abs=1e-9)
    every = on_legs(system, SYSTEM_LEGS[system], lagging(amps, factor))
    assert abs(neutral(every)) == pytest.approx(0, abs=1e-9)


@given(st.permutations(WYE), st.lists(st.floats(0.1, 80), min_size=3, max_size=3), st.floats(0.1, 20))
def test_renaming_legs_renames_results(order: list[str], amps: list[float], scale: float) -> None:
    """Permuting loads over legs permutes the leg currents, keeps the neutral; scaling scales both."""
    plain = total(WYE, (on_legs("208Y/120", (leg,), lagging(a)) for leg, a in zip(WYE, amps, strict=True)))
    other = total(WYE, (on_legs("208Y/120", (leg,), lagging(a * scale)) for leg, a in zip(order, amps, strict=True)))
    for leg, to in zip(WYE, order, strict=True):
        assert abs(other[to]) == pytest.approx(abs(plain[leg]) * scale)
    assert abs(neutral(other)) == pytest.approx(abs(neutral(plain)) * scale, abs=1e-6)


def test_tree() -> None:
    """Circuits under a place come through every level; the way up ends at the source."""
    circuits = [
        circuit("A", ("L1",), [(1200, 1)], fed_from="inner"),
        circuit("B", ("L2",), [(600, 1)], fed_from="outer"),
        circuit("C", ("L1",), [(240, 1)]),
    ]
    feeders = [feeder("outer", ("L1", "L2")), feeder("inner", ("L1",), fed_from="outer")]
    set_ = show(source("120/240"), circuits, feeders)
    assert [c.id for c in circuits_under(set_, "outer")] == ["A", "B"]
    assert [c.id for c in circuits_under(set_, "inner")] == ["A"]
    assert len(circuits_under(set_, "source")) == 3
    assert path_up(set_, "inner") == ("inner", "outer", "source")
    assert {leg: abs(i) for leg, i in planned_legs(set_, "inner").items()} == {"L1": pytest.approx(10)}
    assert {leg: abs(i) for leg, i in planned_legs(set_, "source").items()} == {
        "L1": pytest.approx(12),
        "L2": pytest.approx(5),
    }


def test_remainder_keeps_its_sign() -> None:
    """More than the children: load without a meter. Less: wiring or ratio. Within the meters' error: nothing said."""
    rows = remainder({"L1": 40.0, "L2": 12.0, "L3": 10.2}, {"L1": 31 + 0j, "L2": -20 + 0j, "L3": 10 + 0j})
    assert [row.amps for row in rows] == pytest.approx([9, -8, 0.2])
    assert "without a meter" in rows[0].text
    assert "another leg" in rows[1].text
    assert rows[2].text == ""


def test_what_is_no_unbalance() -> None:
    """No volts, a mean of 0 and volts that no triangle has are refused."""
    for values in ((), (0.0, 0.0)):
        with pytest.raises(ValueError, match="above 0"):
            unbalance(values)
    with pytest.raises(ValueError, match="three wires"):
        true_unbalance(400, 100, 100)
    with pytest.raises(ValueError, match="above 0"):
        true_unbalance(0, 0, 0)
    assert true_unbalance(208, 208, 208) == pytest.approx(0, abs=1e-4)
    assert abs(sequences(1, 1, 1)[0]) == pytest.approx(1)
