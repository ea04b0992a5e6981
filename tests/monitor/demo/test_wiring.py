"""Runs against published conductor tables; a show turned into wires."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from monitor.demo.network import solve
from monitor.demo.wiring import awg_mm2, leg_turns, network, run_ohms
from monitor.show.model import Cable

if TYPE_CHECKING:
    from monitor.show.model import Show

# NEC chapter 9 table 8, ohm per 1000 ft at 75 degrees Celsius, copper: 12 and 10 AWG solid, larger ones stranded
# (seen in public repository text; strands are up to 3 % above what the cross-section gives).
TABLE_8 = {"12": 1.93, "10": 1.21, "6": 0.491, "4": 0.308, "2": 0.194, "2/0": 0.0967, "4/0": 0.0608}
# IEC 60228 class 5, greatest ohm per km at 20 degrees Celsius (seen at mycableengineering.com).
CLASS_5 = {2.5: 7.98, 16.0: 1.21, 35.0: 0.554}


@pytest.mark.parametrize(("awg", "ohms"), TABLE_8.items())
def test_ohms_of_awg_sizes(awg: str, ohms: float) -> None:
    """Resistance from the gauge's formula agrees with table 8 to 3 %."""
    assert run_ohms(Cable(304.8, awg=awg), 75.0) == pytest.approx(ohms, rel=0.03)


@pytest.mark.parametrize(("mm2", "ohms"), CLASS_5.items())
def test_ohms_of_metric_sizes(mm2: float, ohms: float) -> None:
    """A metric run is at most, and not far below, IEC 60228's greatest resistance for flexible cable."""
    assert 0.85 * ohms <= run_ohms(Cable(1000, mm2=mm2), 20.0) <= ohms


def test_parallel_sets_share() -> None:
    """Two sets have half the resistance; 4/0 is 107.2 mm2 (ASTM B258, from memory)."""
    assert run_ohms(Cable(10, awg="4", parallel=2)) == pytest.approx(run_ohms(Cable(10, awg="4")) / 2)
    assert awg_mm2("4/0") == pytest.approx(107.2, abs=0.1)


def test_two_hot_circuits_hang_between_the_legs(show: Show) -> None:
    """Single-leg circuits see 120 V, two-hot ones 240 V, and nothing flows where nothing is on."""
    wires = network(show)
    emf = [120 * turn for turn in leg_turns(wires.legs)]
    solution = solve(wires, emf, [None] * len(wires.branches), [0j] * len(wires.branches))
    for circuit, branch in zip(show.circuits, wires.branches, strict=True):
        assert abs(solution.volts_at_box(branch)) == pytest.approx(120 * len(circuit.legs))


def test_a_circuit_on_three_legs_is_refused(show: Show) -> None:
    """The model says so rather than leaving a leg out."""
    three = replace(show.circuits[0], legs=("L1", "L2", "L3"))
    wye = replace(show, source=replace(show.source, system="208Y/120"), circuits=(three,))
    with pytest.raises(ValueError, match="A1"):
        network(wye)


def test_wye_two_hot_circuits(show: Show) -> None:
    """On a wye a two-hot circuit sees 120 x sqrt(3) = 207.8 V."""
    wye = replace(show, source=replace(show.source, system="208Y/120"))
    wires = network(wye)
    emf = [120 * turn for turn in leg_turns(wires.legs)]
    solution = solve(wires, emf, [None] * len(wires.branches), [0j] * len(wires.branches))
    two_hot = wires.branches[[circuit.id for circuit in wye.circuits].index("A7")]
    assert abs(solution.volts_at_box(two_hot)) == pytest.approx(207.85, abs=0.01)
