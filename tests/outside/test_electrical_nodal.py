"""Flows, neutral and drop against an independent nodal solution, symmetrical components against a matrix, with NumPy.

The nodal side knows nothing of legs or loops: it solves the conductance matrix of every conductor, of one feeder or of
a whole tree, for given load currents, from Kirchhoff's current law alone.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from math import acos, pi

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from monitor.electrical.cable import conductor_ohms, drop, far_end_drop, feeder_drop, feeder_end_drop, loop_ohms
from monitor.electrical.legs import neutral, neutral_wye, planned_legs, sequences, true_unbalance
from monitor.electrical.loads import leg_current
from monitor.show.model import SYSTEM_LEGS, Cable, Circuit, Feeder, Show, System
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


@st.composite
def trees(draw: st.DrawFn) -> Show:
    """Draw a system, up to three boxes in any order below each other, and circuits anywhere, with and without cable."""
    system: System = draw(st.sampled_from(["230", "120/240", "208Y/120"]))
    legs = SYSTEM_LEGS[system]
    cable = st.builds(Cable, st.floats(1, 150), awg=st.sampled_from(["16", "12", "6", "2", "4/0"]))
    places: dict[str, tuple[str, ...]] = {"source": legs}
    feeders = []
    for name in ("f", "g", "h")[: draw(st.integers(0, 3))]:
        above = draw(st.sampled_from(sorted(places)))
        some = draw(st.integers(1, len(places[above])))
        places[name] = places[above][:some]
        feeders.append(feeder(name, places[name], above, cable=draw(st.one_of(st.none(), cable))))
    circuits = []
    for number in range(draw(st.integers(1, 6))):
        place = draw(st.sampled_from(sorted(places)))
        hots = draw(st.permutations(places[place]))[: draw(st.integers(1, len(places[place])))]
        each = circuit(f"C{number}", hots, [(draw(st.floats(20, 4000)), draw(st.floats(0.4, 1)))], place)
        circuits.append(replace(each, cable=draw(st.one_of(st.none(), cable))))
    return show(source(system), circuits, feeders)


def whole(set_: Show) -> dict[tuple[str, str], complex]:
    """Solve the whole tree by Kirchhoff's current law: volts of every conductor at every place's far end.

    One equation for each conductor (three hots and a neutral) of each place; what has no cable is a thick bar.
    """
    system = set_.source.system
    wires = [*SYSTEM_LEGS[system], "N"]
    every: list[Feeder | Circuit] = [*set_.feeders, *set_.circuits]
    index = {(each.id, wire): n for n, (each, wire) in enumerate(product(every, wires))}
    held = dict(zip(wires, source_volts(system), strict=True))
    matrix, known = np.zeros((len(index), len(index)), dtype=complex), np.zeros(len(index), dtype=complex)
    for each, wire in product(every, wires):
        at = index[each.id, wire]
        mho = 1 / conductor_ohms(each.cable) if each.cable else 1e7
        matrix[at, at] += mho
        if each.fed_from == "source":
            known[at] += mho * held[wire]
        else:
            up = index[each.fed_from, wire]
            matrix[at, up] -= mho
            matrix[up, at] -= mho
            matrix[up, up] += mho
    for each in set_.circuits:
        pairs = [(leg, "N") for leg in each.legs] if len(each.legs) != 2 else [(each.legs[0], each.legs[1])]
        power = sum(load.watts * (1 + 1j * np.tan(acos(load.power_factor))) for load in each.load) / len(pairs)
        for out, back in pairs:
            current = np.conj(power / (held[out] - held[back]))
            known[index[each.id, out]] -= current
            known[index[each.id, back]] += current
    found = np.linalg.solve(matrix, known)
    return {key: complex(found[at]) for key, at in index.items()}


@settings(deadline=None)
@given(trees())
def test_drop_from_the_source_to_every_far_end(set_: Show) -> None:
    """The drop of every circuit and every feeder's leg is that of the nodal solution of the whole tree."""
    system = set_.source.system
    held = dict(zip([*SYSTEM_LEGS[system], "N"], source_volts(system), strict=True))
    far = whole(set_)

    def lost(name: str, out: str, back: str) -> float:
        return float(abs(held[out] - held[back]) - abs(far[name, out] - far[name, back]))

    for each in set_.circuits:
        found = far_end_drop(set_, each)
        two = len(each.legs) == 2
        expected = lost(each.id, *each.legs) if two else max(lost(each.id, leg, "N") for leg in each.legs)
        assert (found.volts if found else 0.0) == pytest.approx(expected, abs=1e-3)  # the bars drop a little too
        if found:
            nominal = abs(held[each.legs[0]] - (held[each.legs[1]] if two else 0))
            assert found.base == ("L-L" if two else "L-N")
            assert found.base_volts == pytest.approx(nominal)
    for box in set_.feeders:
        for leg, drop_ in feeder_end_drop(set_, box).items():
            assert drop_.volts == pytest.approx(lost(box.id, leg, "N"), abs=1e-3)


@pytest.mark.parametrize("power_factor", [1.0, 0.8, 0.5])
@pytest.mark.parametrize(
    ("system", "legs"),
    [("230", ("L1",)), ("120/240", ("L2",)), ("120/240", ("L1", "L2")), ("208Y/120", ("L3", "L1"))],
)
def test_drop_of_a_circuit(system: System, legs: tuple[str, ...], power_factor: float) -> None:
    """The drop over a circuit's own cable is the nodal loss across the load; 2 L R I bounds it and is it at 1."""
    cable = Cable(40, awg="10")
    each = circuit("A", legs, [(2000, power_factor)])
    far, currents = solve(system, conductor_ohms(cable), [each])
    names = SYSTEM_LEGS[system]
    out = names.index(legs[0])
    back = names.index(legs[1]) if len(legs) == 2 else -1
    sent = source_volts(system)
    found = drop(system, legs, cable, leg_current(each, system))
    assert found is not None
    assert found.volts == pytest.approx(abs(sent[out] - sent[back]) - abs(far[out] - far[back]), rel=1e-9)
    bound = loop_ohms(cable, legs) * float(abs(currents[out]))
    assert found.volts == (pytest.approx(bound) if power_factor == 1 else pytest.approx(bound * power_factor, rel=0.1))


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
