"""Steps against published laws of loads and the arithmetic of the trade's own examples.

Filament: I ~ V^0.53 and W ~ V^1.53, exponents of the SPIE Field Guide FG11, page 21, "Tungsten lamps".
Constant power: I = P / V. Amps of the examples follow from these and from Ohm's law (computed); that a motor's start is
three times its settled amps and back within ten seconds is common practice, no source.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.electrical.steps import Step, StepFinder
from monitor.show.model import Breaker, Circuit, Load

if TYPE_CHECKING:
    from collections.abc import Iterable


def found(loads: Iterable[Load], samples: Iterable[tuple[float, float]]) -> list[Step]:
    """Find steps in (volts, amps) once a second."""
    finder = StepFinder(Circuit("A1", "A1", "source", ("L1",), Breaker(20), load=tuple(loads)), "120/240")
    return [step for t, (volts, amps) in enumerate(samples) for step in finder.add(float(t), volts, amps, None)]


def test_a_constant_power_bank_under_sag() -> None:
    """120, 114 and 108 V give 11.1, 11.7 and 12.4 A: the amps rise, nothing came on."""
    bank = [Load("Bank", 1335, 1.0)]
    volts = [v for v in (120, 117, 114, 111, 108) for _ in range(40)]
    samples = [(120.0, 0.0)] * 30 + [(float(v), round(1335 / v, 1)) for v in volts]
    assert round(1335 / 114, 1) == 11.7
    assert round(1335 / 108, 1) == 12.4
    assert [(step.kind, step.match) for step in found(bank, samples)] == [("on", ("Bank",))]


def test_a_filament_under_sag() -> None:
    """120, 114 and 108 V give 10.0, 9.7 and 9.5 A by I ~ V^0.53: the amps fall, nothing went off."""
    lamp = [Load("Lamp", 1200, kind="tungsten")]
    amps = {v: round(10.0 * (v / 120) ** 0.53, 1) for v in (120, 114, 108)}
    assert amps == {120: 10.0, 114: 9.7, 108: 9.5}
    samples = [(120.0, 0.0)] * 30 + [(float(v), amps[v]) for v in (120, 114, 108) for _ in range(60)]
    assert [(step.kind, step.match) for step in found(lamp, samples)] == [("on", ("Lamp",))]


def test_a_heater_joins_two_lamps() -> None:
    """118.9 V 15.3 A becomes 118.1 V 27.6 A: about 12.3 A came on, and of 1200 and 650 W nothing is left that does."""
    plan = [Load("Lamp 1.2k", 1200, kind="tungsten"), Load("Lamp 650", 650, kind="tungsten")]
    samples = [(119.6, 0.0)] * 30 + [(118.9, 15.3)] * 60 + [(118.1, 27.6)] * 140
    first, second = found(plan, samples)
    assert (first.kind, first.match) == ("on", ("Lamp 1.2k", "Lamp 650"))
    assert (second.kind, second.match) == ("on", ())
    assert second.amps is not None
    assert abs(second.amps - 12.3) < 0.3


def test_a_motor_start() -> None:
    """0, 41, 19, 8.2, 8.1 A with a dip from 119.6 to 113.9 V is one step of 8.1 A, called a motor's start."""
    samples = [(119.6, 0.0)] * 30 + [(113.9, 41.0), (117.0, 19.0), (118.8, 8.2)] + [(118.8, 8.1)] * 30
    for plan, match in (([Load("Compressor", 720, 0.75, kind="motor")], ("Compressor",)), ([], ())):
        (step,) = found(plan, samples)
        assert (step.kind, step.behaviour, step.match, step.time_s) == ("on", "motor start", match, 30.0)
        assert step.amps is not None
        assert abs(step.amps - 8.1) < 0.1
