"""The wires against an independent nodal solution by NumPy, closed forms and published neutral currents."""

from __future__ import annotations

from cmath import exp, pi
from functools import partial
from math import sqrt
from random import Random
from typing import TYPE_CHECKING

import numpy as np
import pytest

from monitor.demo.network import Box, Branch, Network, Solution, solve

if TYPE_CHECKING:
    from collections.abc import Sequence

    from monitor.demo.network import Draw

SPLIT = (120.0 + 0j, -120.0 + 0j)
WYE = tuple(120.0 * exp(1j * pi * degrees / 180) for degrees in (0, -120, 120))


def ohm(impedance: complex, volts: complex) -> complex:
    """Ohm's law."""
    return volts / impedance


def solved(network: Network, emf: Sequence[complex], impedances: Sequence[complex | None]) -> Solution:
    """Solve with a constant impedance [ohm] on each branch; None is open."""
    draws: list[Draw | None] = [None if z is None else partial(ohm, z) for z in impedances]
    return solve(network, emf, draws, [0j] * len(draws))


def nodal(network: Network, emf: Sequence[complex], impedances: Sequence[complex | None]) -> list[complex]:
    """Give the branch currents from one complex admittance matrix of all nodes (node voltage method)."""
    wires = network.legs + 1
    first_load = len(network.boxes) * wires
    size = first_load + 2 * len(network.branches)
    matrix = np.zeros((size, size), dtype=complex)
    injected = np.zeros(size, dtype=complex)

    def join(one: int, two: int, ohms: complex) -> None:
        for a, b in ((one, two), (two, one)):
            matrix[a, a] += 1 / ohms
            matrix[a, b] -= 1 / ohms

    for index, box in enumerate(network.boxes):
        for wire in range(wires):
            node = index * wires + wire
            neutral = wire == network.legs
            if box.parent is not None:
                join(node, box.parent * wires + wire, box.neutral_ohms if neutral else box.ohms)
            elif neutral:
                matrix[node, node] += 1e12  # the star point, held at the reference
            else:
                matrix[node, node] += 1 / box.ohms
                injected[node] += emf[wire] / box.ohms
    for index, (branch, impedance) in enumerate(zip(network.branches, impedances, strict=True)):
        hot, back = first_load + 2 * index, first_load + 2 * index + 1
        join(hot, branch.box * wires + branch.hot, branch.ohms)
        join(back, branch.box * wires + branch.back, branch.ohms)
        join(hot, back, impedance if impedance is not None else 1e12)
    volts = np.linalg.solve(matrix, injected)
    return [
        complex(volts[first_load + 2 * i] - volts[first_load + 2 * i + 1]) / (z if z is not None else 1e12)
        for i, z in enumerate(impedances)
    ]


def random_set(seed: int, legs: int) -> tuple[Network, list[complex | None]]:
    """Make a tree of boxes and circuits with runs and loads as they are on a set, and worse."""
    random = Random(seed)
    boxes = [Box("source", None, complex(random.uniform(0.01, 0.1), random.uniform(0.0, 0.2)), 0.0)]
    for index in range(1, random.randint(2, 6)):
        ohms = random.uniform(0.005, 0.2)
        boxes.append(Box(f"box{index}", random.randrange(index), ohms, ohms * random.uniform(0.5, 4)))
    branches, impedances = [], []
    for index in range(random.randint(1, 20)):
        hot, back = random.sample(range(legs + 1), 2)
        branches.append(Branch(f"c{index}", random.randrange(len(boxes)), hot, back, random.uniform(0.01, 0.4)))
        load = complex(random.uniform(4, 100), random.uniform(0, 30))
        impedances.append(None if random.random() < 0.1 else load)
    return Network(legs, tuple(boxes), tuple(branches)), impedances


@pytest.mark.parametrize("seed", range(30))
@pytest.mark.parametrize("legs", [2, 3])
def test_currents_agree_with_the_nodal_solution(seed: int, legs: int) -> None:
    """Random trees on split-phase and wye: every branch current as NumPy's linear solver has it, to 0.1 mA."""
    network, impedances = random_set(seed, legs)
    emf = SPLIT if legs == 2 else WYE
    assert solved(network, emf, impedances).amps == pytest.approx(nodal(network, emf, impedances), abs=1e-4)


@pytest.mark.parametrize("seed", range(10))
def test_power_balances(seed: int) -> None:
    """What the windings give is what loads take and runs lose (conservation of energy), in watts and vars."""
    network, impedances = random_set(seed, 2)
    solution = solved(network, SPLIT, impedances)
    given = sum(e * i.conjugate() for e, i in zip(SPLIT, solution.box_amps[0], strict=False))
    taken = sum(abs(i) ** 2 * (z or 0) for i, z in zip(solution.amps, impedances, strict=True))
    lost: complex = sum(2 * b.ohms * abs(i) ** 2 for b, i in zip(network.branches, solution.amps, strict=True))
    for box, amps in zip(network.boxes, solution.box_amps, strict=True):
        lost += box.ohms * sum(abs(i) ** 2 for i in amps[:-1]) + box.neutral_ohms * abs(amps[-1]) ** 2
    assert given == pytest.approx(taken + lost, abs=0.01)


def one_box(legs: int, hots: Sequence[int], ohms: float = 0.0) -> Network:
    """One source with a circuit from each of ``hots`` to the neutral."""
    branches = tuple(Branch(f"c{i}", 0, hot, legs, ohms) for i, hot in enumerate(hots))
    return Network(legs, (Box("source", None, 0j, 0.0),), branches)


@pytest.mark.parametrize(
    ("amps", "neutral"),
    [
        ((5, 8, 10), 4.3589),  # ehow.com/how_7871256, prints 4.36
        ((10, 15, 20), sqrt(75)),  # bit1024.com/tool/Neutral-Current-Calculator
        ((10, 10, 5), 5.0),  # iee-business.com/electrical-calculator/neutral-current-9-hi_IN
        ((5, 5, 5), 0.0),  # forums.mikeholt.com/threads/3-hots-one-not.7651
        ((5, 5, 0), 5.0),  # the same thread: two legs of a wye and neutral
        ((10, 23, 3), 17.58),  # where a published calculator omits the root and prints 309
    ],
)
def test_published_neutral_currents_of_a_wye(amps: tuple[float, ...], neutral: float) -> None:
    """Resistive loads on a wye give the published neutral currents."""
    network = one_box(3, range(3))
    solution = solved(network, WYE, [120 / a if a else None for a in amps])
    assert abs(solution.box_amps[0][-1]) == pytest.approx(neutral, abs=0.005)


def test_equal_legs_of_a_split_phase_leave_the_neutral_empty() -> None:
    """Two equal legs give 0 A in the neutral, 40 A and 15 A give their difference of 25 A (split-phase: |L1 - L2|)."""
    network = one_box(2, (0, 1))
    assert abs(solved(network, SPLIT, [3.0, 3.0]).box_amps[0][-1]) == pytest.approx(0, abs=1e-6)
    assert abs(solved(network, SPLIT, [3.0, 8.0]).box_amps[0][-1]) == pytest.approx(25)


def test_published_drop() -> None:
    """16 AWG stranded, 4.99 ohm per 1000 ft, 100 ft one way, 4 A: 3.992 V (electrician2.com, prints 4.0)."""
    network = one_box(2, [0], 0.499)
    solution = solve(network, SPLIT, [lambda _: 4 + 0j], [0j])
    assert 2 * network.branches[0].ohms * abs(solution.amps[0]) == pytest.approx(3.992)


def test_constant_power_behind_a_run() -> None:
    """2000 W behind 2 x 0.3 ohm at 120 V: the quadratic's upper root, (E + sqrt(E^2 - 4 R P)) / 2."""
    solution = solve(one_box(2, [0], 0.3), SPLIT, [lambda volts: (2000 / volts).conjugate()], [0j])
    across = (120 + sqrt(120**2 - 4 * 0.6 * 2000)) / 2
    assert abs(solution.amps[0]) == pytest.approx(2000 / across)


def test_a_one_sided_load_lifts_the_other_leg() -> None:
    """With a shared neutral the idle leg rises by the neutral's drop; with V1 - V2 = -(R + 2 Rn)(I1 - I2) (derived)."""
    network = Network(
        2,
        (Box("source", None, 0j, 0.0), Box("box", 0, 0.05, 0.05)),
        (Branch("c", 1, 0, 2, 0.0), Branch("d", 1, 1, 2, 0)),
    )
    solution = solved(network, SPLIT, [3.0, None])
    amps = abs(solution.amps[0])
    legs = [abs(solution.volts_at_box(branch)) for branch in network.branches]
    assert legs[1] > 120 > legs[0]
    assert legs[0] - legs[1] == pytest.approx(-(0.05 + 2 * 0.05) * amps)
