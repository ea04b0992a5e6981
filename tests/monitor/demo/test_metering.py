"""What the demo's meters show against what is true."""

from __future__ import annotations

from statistics import mean, stdev

import pytest

from drivers.quantities import QUANTITIES
from monitor.demo.metering import Metering
from monitor.demo.observed import Electrical, State
from monitor.show.model import Point

A, B = Point("A1"), Point("A2")
TRUE = Electrical(volts=120.0, amps=10.0, watts=960.0, vars=720.0)
STATE = State(1.0, 60.0, {A: TRUE, B: Electrical(120.0, 0.0, 0.0, 0.0)}, {}, frozenset(), 0.0)


def test_errors_are_small_and_not_nothing() -> None:
    """Over many steps the figures flutter by less than 1 % around a value within 2 % of the truth."""
    metering = Metering([A, B], 1)
    shown = [metering.measure(STATE, 0.2)[A] for _ in range(300)]
    for quantity, true in (("volts", 120.0), ("amps", 10.0), ("hertz", 60.0), ("watts", 960.0), ("vars", 720.0)):
        values = [getattr(one, quantity) for one in shown]
        assert mean(values) == pytest.approx(true, rel=0.02)
        assert 0 < stdev(values) < 0.01 * true
        assert all(QUANTITIES[quantity].plausible(value) for value in values)


def test_a_meter_agrees_with_itself() -> None:
    """VA is volts times amps, power factor is watts over VA (here 0.8)."""
    one = Metering([A], 2).measure(STATE, 0.2)[A]
    assert one.volts is not None
    assert one.amps is not None
    assert one.volt_amperes == pytest.approx(one.volts * one.amps)
    assert one.power_factor == pytest.approx(0.8)


def test_no_current() -> None:
    """Without current a meter shows 0 A and no power factor at all."""
    one = Metering([A, B], 3).measure(STATE, 0.2)[B]
    assert one.amps == 0
    assert one.power_factor is None


def test_energy_is_counted() -> None:
    """960 W for an hour are 960 Wh, within the meter's error."""
    metering = Metering([A], 4)
    for _ in range(3600):
        last = metering.measure(STATE, 1.0)[A]
    assert last.watt_hours == pytest.approx(960, rel=0.02)


def test_the_same_seed_gives_the_same_figures() -> None:
    """Figures are repeatable by seed and differ between seeds."""
    first, again, other = (Metering([A], seed).measure(STATE, 0.2)[A] for seed in (5, 5, 6))
    assert first == again != other


def test_no_hertz_without_volts() -> None:
    """Behind an open breaker there is nothing to count: hertz are missing, not those of the source."""
    dark = State(1.0, 60.0, {A: Electrical(0.0, 0.0, 0.0, 0.0)}, {}, frozenset(), 0.0)
    assert Metering([A], 5).measure(dark, 0.2)[A].hertz is None
