"""Flows, neutral and drop against an independent nodal solution, symmetrical components against a matrix, with NumPy.

The nodal side knows nothing of legs or loops: it solves the conductance matrix of every conductor for given load
currents, from Kirchhoff's current law alone.
"""

from __future__ import annotations

from math import acos, pi

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from numpy.typing import NDArray

from monitor.electrical.cable import conductor_ohms, drop, far_end_drop, feeder_drop
from monitor.electrical.legs import neutral, neutral_wye, planned_legs, sequences, true_unbalance
from monitor.show.model import SYSTEM_LEGS, Cable, Circuit, Feeder, System
from tests.monitor.electrical.sets import circuit, feeder, show, source

ANGLES = {"120/240": (0, 180), "208Y/120": (0, -120, 120), "400Y/230": (0, -120, 120), "230": (0,)}
VOLTS = {"120/240": 120.0, "208Y/120": 120.0, "400Y/230": 230.0, "230": 230.0}
Ac = NDArray[np.complex128]


def source_volts(system: System) -> Ac:
    """Give the volts of every hot conductor at the source, and of the neutral."""
    hots = VOLTS[system] * np.exp(1j * np.radians(np.array(ANGLES[system], dtype=float)))
    return np.append(hots, 0.0)


def solve(system: System, ohms: float, circuits: list[Circuit]) -> tuple[Ac, Ac]:
    """Solve one feeder for loads of constant current: volts at its far end, and the current of each conductor.

    A load draws conj(S) / |V| along the nominal volts between its two conductors, as a plan takes it.
    """
    legs, sent = SYSTEM_LEGS[system], source_volts(system)
    size = len(sent)
    drawn = np.zeros(size, dtype=complex)
    for each in circuits:
        watts = sum(load.watts * load.count for load in each.load)
        pairs = [(legs.index(leg), size - 1) for leg in each.legs]
        if len(each.legs) == 2:
            pairs = [(legs.index(each.legs[0]), legs.index(each.legs[1]))]
        for out, back in pairs:
            across = sent[out] - sent[back]
            power = watts / len(pairs) * (1 + 1j * np.tan(acos(each.load[0].power_factor)))
            current = np.conj(power / across)
            drawn[out] += current
            drawn[back] -= current
    conductance = np.eye(size, dtype=complex) / ohms
    far: Ac = np.linalg.solve(conductance, conductance @ sent - drawn).astype(np.complex128)
    currents: Ac = (sent - far) / ohms
    return far, currents


SYSTEMS: st.SearchStrategy[System] = st.sampled_from(["120/240", "208Y/120"])


@st.composite
def sets(draw: st.DrawFn) -> tuple[System, list[Circuit]]:
    """Draw a system and circuits of one, two and three legs at any power factor."""
    system: System = draw(SYSTEMS)
    legs = SYSTEM_LEGS[system]
    circuits = []
    for number in range(draw(st.integers(1, 7))):
        count = draw(st.integers(1, len(legs)))
        chosen = draw(st.permutations(legs))[:count]
        load = (draw(st.floats(50, 5000)), draw(st.floats(0.5, 1.0)))
        circuits.append(circuit(f"C{number}", chosen, [load], fed_from="box"))
    return system, circuits


@given(sets(), st.floats(1, 200), st.sampled_from(["12", "6", "2", "4/0"]))
def test_flows_neutral_and_feeder_drop(case: tuple[System, list[Circuit]], metres: float, awg: str) -> None:
    """Leg currents, neutral and the volts lost on each leg are those of the nodal solution."""
    system, circuits = case
    legs = SYSTEM_LEGS[system]
    cable = Cable(metres, awg=awg)
    set_ = show(source(system), circuits, [feeder("box", legs, cable=cable)])
    by_leg = planned_legs(set_, "box")
    far, currents = solve(system, conductor_ohms(cable), circuits)
    assert [by_leg[leg] for leg in legs] == pytest.approx(list(currents[:-1]), abs=1e-6)
    assert abs(neutral(by_leg)) == pytest.approx(abs(currents[-1]), abs=1e-6)
    drops = feeder_drop(system, cable, by_leg)
    for index, leg in enumerate(legs):
        assert drops[leg].volts == pytest.approx(VOLTS[system] - abs(far[index] - far[-1]), abs=1e-6)


@pytest.mark.parametrize(
    ("system", "legs"),
    [("230", ("L1",)), ("120/240", ("L2",)), ("120/240", ("L1", "L2")), ("208Y/120", ("L3", "L1"))],
)
def test_drop_of_a_circuit(system: System, legs: tuple[str, ...]) -> None:
    """2 L R I is the nodal loss across the load at power factor 1, for one leg and leg to leg."""
    cable = Cable(40, awg="10")
    each = circuit("A", legs, [(2000, 1.0)])
    far, currents = solve(system, conductor_ohms(cable), [each])
    names = SYSTEM_LEGS[system]
    out = names.index(legs[0])
    back = names.index(legs[1]) if len(legs) == 2 else -1
    sent = source_volts(system)
    found = drop(system, legs, cable, float(abs(currents[out])))
    assert found is not None
    assert found.volts == pytest.approx(abs(sent[out] - sent[back]) - abs(far[out] - far[back]), rel=1e-9)


def test_drop_at_the_far_end_adds_every_run() -> None:
    """A two-hot load behind two feeders: the sum of the nodal losses across its own volts."""
    runs = (Cable(60, awg="2"), Cable(20, awg="6"))
    circuits = [
        circuit("A", ("L1", "L3"), [(3000, 1.0)], fed_from="inner"),
        circuit("B", ("L1",), [(1500, 0.8)], fed_from="inner"),
        circuit("C", ("L2",), [(900, 0.95)], fed_from="outer"),
    ]
    feeders: list[Feeder] = [
        feeder("outer", SYSTEM_LEGS["208Y/120"], cable=runs[0]),
        feeder("inner", SYSTEM_LEGS["208Y/120"], fed_from="outer", cable=runs[1]),
    ]
    sent = source_volts("208Y/120")
    expected = 0.0
    for cable, inside in ((runs[0], circuits), (runs[1], circuits[:2])):
        far, _ = solve("208Y/120", conductor_ohms(cable), inside)
        expected += abs(sent[0] - sent[2]) - abs(far[0] - far[2])
    found = far_end_drop(show(source("208Y/120"), circuits, feeders), circuits[0])
    assert found is not None
    assert found.base == "L-L"
    assert found.volts == pytest.approx(expected, abs=1e-9)


PHASOR = st.complex_numbers(min_magnitude=0.1, max_magnitude=500)


@given(PHASOR, PHASOR, PHASOR)
def test_symmetrical_components(first: complex, second: complex, third: complex) -> None:
    """Zero, positive and negative sequence are those of the Fortescue matrix, inverted by NumPy."""
    turn = np.exp(2j * pi / 3)
    synthesis = np.array([[1, 1, 1], [1, turn**2, turn], [1, turn, turn**2]])
    expected = np.linalg.inv(synthesis) @ np.array([first, second, third])
    assert list(sequences(first, second, third)) == pytest.approx(list(expected), abs=1e-9)


@given(PHASOR, PHASOR, PHASOR)
def test_unbalance_from_magnitudes(first: complex, second: complex, third: complex) -> None:
    """The formula from three line-to-line magnitudes gives |U2| / |U1| of the phasors behind them."""
    lines = (first - second, second - third, third - first)
    assume(min(map(abs, lines)) > 1e-3)
    _, one, two = sequences(*lines)
    ratio = sorted((abs(one), abs(two)))
    assume(ratio[0] > 1e-3 * ratio[1])  # nearer to balance the formula's own rounding shows
    found = true_unbalance(*map(abs, lines))
    assert found == pytest.approx(100 * ratio[0] / ratio[1], rel=1e-5)


@given(st.floats(0, 400), st.floats(0, 400), st.floats(0, 400))
def test_wye_neutral_formula(first: float, second: float, third: float) -> None:
    """The wye formula is the magnitude of the phasor sum."""
    turned = np.exp(2j * pi / 3 * np.arange(3)) @ np.array([first, second, third])
    assert neutral_wye(first, second, third) == pytest.approx(abs(turned), abs=1e-4)
