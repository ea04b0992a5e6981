"""Loads against published laws."""

from __future__ import annotations

from cmath import phase
from math import acos

import pytest

from monitor.demo.appliances import Appliance, decayed
from monitor.show.model import Load


def lamp(kind: str = "tungsten", **more: float) -> Appliance:
    """Make a 1000 W load for 120 V."""
    return Appliance(Load("lamp", 1000, kind=kind, **more), 120.0)  # type: ignore[arg-type]  # the parametrised kind


@pytest.mark.parametrize("volts", [60.0, 100.0, 114.0, 126.0])
def test_tungsten_follows_the_published_exponents(volts: float) -> None:
    """I ~ V^0.53 and W ~ V^1.53 (SPIE Field Guide FG11, page 21)."""
    amps = lamp().current(volts)
    assert abs(amps) == pytest.approx(1000 / 120 * (volts / 120) ** 0.53)
    assert volts * amps.real == pytest.approx(1000 * (volts / 120) ** 1.53)


def test_tungsten_at_114_volts() -> None:
    """120 to 114 V costs 7.5 % of the watts (worked from the published exponent in the trade notes)."""
    assert 1 - 114 * lamp().current(114).real / 1000 == pytest.approx(0.075, abs=0.001)


def test_cold_filament() -> None:
    """A cold filament begins at 14 times its current (10 to 15 are published) and is hot in half a second."""
    hot = abs(lamp().current(120))
    assert 10 <= abs(lamp().current(120, on_s=0)) / hot <= 15
    assert abs(lamp().current(120, on_s=0.5)) / hot == pytest.approx(1, abs=0.01)


def test_resistance_follows_ohm() -> None:
    """A 1000 W, 120 V resistance is 14.4 ohm at any volts (Ohm's law)."""
    assert lamp("resistive").current(100) == pytest.approx(100 / 14.4)


def test_constant_power_draws_more_as_volts_sag() -> None:
    """Watts stay, amps rise: 120 to 114 to 108 V takes 11.1 A to 11.7 and 12.3 A (worked as I = P / V)."""
    bank = Appliance(Load("bank", 1332), 120.0)
    assert [abs(bank.current(volts)) for volts in (120, 114, 108)] == pytest.approx([11.1, 11.68, 12.33], abs=0.01)


def test_electronic_load_without_volts_draws_nothing() -> None:
    """Far below its volts it no longer holds its power, down to nothing at none, without a jump."""
    load = lamp("electronic")
    assert load.current(0) == 0
    assert abs(load.current(40)) < abs(load.current(83.9))
    assert abs(load.current(83.99)) == pytest.approx(abs(load.current(84.01)), rel=1e-3)


@pytest.mark.parametrize("kind", ["electronic", "resistive"])
def test_power_factor_lags(kind: str) -> None:
    """At nominal volts the watts are those planned, the amps W / (V pf), and the current lags by acos(pf)."""
    amps = lamp(kind, power_factor=0.8).current(120)
    assert abs(amps) == pytest.approx(1000 / 120 / 0.8)
    assert 120 * amps.real == pytest.approx(1000)
    assert phase(amps) == pytest.approx(-acos(0.8))


def test_several_pieces() -> None:
    """Three pieces draw three times one."""
    assert Appliance(Load("x", 100, count=3), 120.0).current(120) == pytest.approx(2.5)


def test_motor_start() -> None:
    """A motor begins at its start multiple and settles at its running current."""
    motor = lamp("motor", power_factor=0.8, start_multiple=6.0)
    running = 1000 / 120 / 0.8
    assert abs(motor.current(120, on_s=0)) == pytest.approx(6 * running)
    assert abs(motor.current(120)) == pytest.approx(running)


def test_mean_of_a_decay() -> None:
    """The mean over a step is that of a fine sum."""
    fine = [decayed(0.06, 0.1 + 0.2 * (i + 0.5) / 2000, 0) for i in range(2000)]
    assert decayed(0.06, 0.1, 0.2) == pytest.approx(sum(fine) / len(fine), rel=1e-5)
