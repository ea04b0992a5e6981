"""Fuel: the widely copied approximate chart, its arithmetic and its known misprints; EIA factors; SciPy's integrals.

Chart: US gal/h at bigrentz.com, l/h at oer.enviraj.com (diesel generator fuel consumption chart), approximate.
"""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import trapezoid
from scipy.interpolate import PchipInterpolator

from monitor.electrical.demand import Running, Window
from monitor.electrical.fuel import Fill, burn, calibrate, carbon_dioxide, faults, time_left
from monitor.show.model import Fuel

LITRES_PER_GALLON = 3.785411784
CHART = {
    20: ((0.6, 0.9, 1.3, 1.6), (2.3, 3.4, 4.9, 6.1)),
    30: ((1.3, 1.8, 2.4, 2.9), (4.9, 6.8, 9.1, 11.0)),
    40: ((1.6, 2.3, 3.2, 4.0), (6.1, 8.7, 12.1, 15.1)),
    60: ((1.8, 2.9, 3.8, 4.8), (6.8, 11.0, 14.4, 18.2)),
    100: ((2.6, 4.1, 5.8, 7.4), (9.8, 15.5, 22.0, 28.0)),
    200: ((4.7, 7.7, 11.0, 14.4), (17.8, 29.1, 41.6, 54.5)),
    500: ((11.0, 18.5, 26.4, 35.7), (41.6, 70.0, 99.9, 135.1)),
}
QUARTERS = (25.0, 50.0, 75.0, 100.0)
RATINGS = pytest.mark.parametrize("rated", CHART)


def chart(rated: int) -> Fuel:
    """Give the fuel of a set by the chart."""
    return Fuel(100.0, tuple(zip(QUARTERS, CHART[rated][1], strict=True)))


@RATINGS
def test_the_chart_passes_and_agrees_with_its_gallons(rated: int) -> None:
    """Every row rises, is physically possible, and says the same in litres and gallons."""
    assert faults(chart(rated), rated) == ()
    for percent, gallons in zip(QUARTERS, CHART[rated][0], strict=True):
        found = burn(chart(rated), rated, rated * percent / 100)
        assert found == pytest.approx(gallons * LITRES_PER_GALLON, abs=0.06)


@RATINGS
def test_between_points_as_scipys_monotone_cubic(rated: int) -> None:
    """Between inner points the burn is near SciPy's PCHIP through the same points, and never falls."""
    fuel = chart(rated)
    known = PchipInterpolator([0, *QUARTERS], [burn(fuel, rated, 0), *CHART[rated][1]])
    loads = [rated * step / 200 for step in range(221)]
    burns = [burn(fuel, rated, load) for load in loads]
    assert all(high > low for low, high in pairwise(burns))
    for load, found in zip(loads, burns, strict=True):
        if 25 <= 100 * load / rated <= 75:
            assert found == pytest.approx(float(known(100 * load / rated)), rel=1e-9)


def test_light_load_of_a_100_kw_set() -> None:
    """At 10 % a 100 kW set burns about 5.5 l/h by a line fitted to the chart; 0.28 l/kWh at full load."""
    assert burn(chart(100), 100, 10) == pytest.approx(5.5, rel=0.2)
    assert burn(chart(100), 100, 100) / 100 == pytest.approx(0.28, abs=0.001)


def test_no_load_never_burns_nothing() -> None:
    """Points whose straight line would burn nothing at no load idle like other sets do."""
    fuel = Fuel(50, ((50, 2.4), (100, 5.2)))
    assert burn(fuel, 10, 0) == pytest.approx(0.3)
    assert burn(fuel, 10, -1) == burn(fuel, 10, 0)


@pytest.mark.parametrize(
    ("points", "rated", "words"),
    [
        (((25, 162.1), (50, 100.0), (75, 150.0), (100, 200.0)), 750, "not above"),  # eventpower.ca, a misprint for 62
        (((25, 0.6), (50, 0.9), (75, 1.3), (100, 1.6)), 20, "gallons"),  # the chart's gallons taken for litres
        (((0.25, 2.3), (0.5, 3.4), (0.75, 4.9), (1.0, 6.1)), 20, "percent"),  # fractions taken for percent
        ((), 20, "no fuel point"),
        (((50, 3.4), (50, 4.9)), 20, "rise in percent"),
        (((50, -3.4), (100, 4.9)), 20, "no fuel point"),
    ],
)
def test_wrong_tables_are_refused(points: tuple[tuple[float, float], ...], rated: float, words: str) -> None:
    """Published misprints and usual slips are refused with their reason."""
    assert any(words in fault for fault in faults(Fuel(100, points), rated))


def test_carbon_dioxide_by_the_eia() -> None:
    """EIA: 22.38 lb a gallon of diesel, 19.64 lb a gallon of petrol; rounded to 2.68 and 2.35 kg/l."""
    for kind, pounds in (("diesel", 22.38), ("petrol", 19.64)):
        fuel = Fuel(10, ((100, 5),), kind=kind)  # type: ignore[arg-type]
        assert carbon_dioxide(fuel, 100) == pytest.approx(100 * pounds * 0.45359237 / LITRES_PER_GALLON, rel=2e-3)


def test_time_left_by_two_measures() -> None:
    """110 l tank, 90 % usable, 61 l in it, 20 kW set: 50 l usable; at 50 and 100 % load 14.7 and 8.2 h."""
    fuel = Fuel(110, tuple(zip(QUARTERS, CHART[20][1], strict=True)))
    left = time_left(fuel, 20, 61, (10, 20))
    assert left.usable_litres == pytest.approx(50)
    assert [left.hours_mean, left.hours_worst] == pytest.approx([50 / 3.4, 50 / 6.1])
    assert left.estimate
    assert time_left(fuel, 20, 5, (None, None)).usable_litres == 0
    assert time_left(fuel, 20, 61, (None, 20)).hours_mean is None


def test_calibration_needs_two_fills_that_can_be_true() -> None:
    """One fill stays an estimate; two give litres over modelled litres; an impossible factor is not applied."""
    fuel = chart(20)
    assert calibrate([]).applied == 1.0
    assert calibrate([Fill(36, 30)]).estimate
    known = calibrate([Fill(36, 30), Fill(12, 10), Fill(5, 0)])
    assert known.factor == pytest.approx(1.2)
    assert (known.fills, known.estimate) == (2, False)
    hours = time_left(fuel, 20, 61, (10, 20), known).hours_mean
    assert hours == pytest.approx((61 - 10) / (3.4 * 1.2))
    wrong = calibrate([Fill(90, 30), Fill(30, 10)])
    assert not wrong.plausible
    assert wrong.applied == 1.0


@given(st.lists(st.tuples(st.floats(0.5, 9.5), st.floats(0, 2e4)), min_size=2, max_size=60))
def test_energy_and_demand_against_scipy(steps: list[tuple[float, float]]) -> None:
    """Energy and demand of samples without gaps are SciPy's trapezoid integral."""
    times, watts, now = [], [], 100.0
    running, window = Running(2e4), Window(length_s=1e6)
    for wait, load in steps:
        now += wait
        times.append(now)
        watts.append(load)
        running, window = running.add(now, load), window.add(now, load)
    joules = trapezoid(watts, times)
    assert running.joules == pytest.approx(joules, abs=1e-3)
    demand = window.demand(now)
    assert demand is not None
    assert demand.watts == pytest.approx(joules / (times[-1] - times[0]), abs=1e-3)
