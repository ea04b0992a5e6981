"""Energy, demand and fuel from the log's minutes, against sums worked out by hand."""

from __future__ import annotations

import pytest

from monitor.log.records import Note
from monitor.review.source_power import Power, PowerMinute, burnt, used
from monitor.show.model import Point
from tests.monitor.review.logs import SHOW

MINUTE_MS = 60_000
LEGS = (Point("source", "L1"), Point("source", "L2"))


def stretch(*kilowatts: float | None) -> Power:
    """Give a power of so many minutes from a whole hour on; None is a minute without kilowatts."""
    minutes = tuple(
        PowerMinute(n * MINUTE_MS, kw, None if kw is None else kw / 60, None if kw is None else kw > 0)
        for n, kw in enumerate(kilowatts)
    )
    return Power(LEGS, (), minutes)


def refuel(minute: int, litres: float) -> Note:
    """Give an entry of a refuel."""
    return Note(minute * MINUTE_MS, "Ada", "refuel", "source", litres, "litres", "")


def test_energy_mean_peak_and_demand() -> None:
    """30 min at 6 kW, 15 at 18, 15 at 3: 8.25 kWh, mean 8.25 kW, highest quarter-hour 18 kW."""
    found = used(stretch(*[6.0] * 30, *[18.0] * 15, *[3.0] * 15), 20.0)
    assert found is not None
    assert found.hours == 1.0
    assert found.kilowatt_hours == pytest.approx(8.25)
    assert found.mean_kw == pytest.approx(8.25)
    assert (found.peak_kw, found.demand_kw, found.demand_ms) == (18.0, 18.0, 30 * MINUTE_MS)
    assert (found.low_hours, found.high_hours) == (0.25, 0.25)
    assert found.load_factor == pytest.approx(8.25 / 18)


def test_what_is_missing_is_no_zero() -> None:
    """Minutes without kilowatts count neither as energy nor as time, and their quarter-hour gives no demand."""
    found = used(stretch(*[10.0] * 10, *[None] * 5, *[4.0] * 15), None)
    assert found is not None
    assert found.mean_kw == pytest.approx((100 + 60) / 25)
    assert found.demand_kw == pytest.approx(4.0)
    assert (found.low_hours, found.high_hours) == (None, None)
    assert used(stretch(None, None), 20.0) is None


def test_fuel_at_the_sets_own_points() -> None:
    """An hour at half load burns what the set's point says: 3.4 l; standing still burns nothing."""
    found = burnt(stretch(*[10.0] * 60, *[0.0] * 60), [], SHOW)
    assert found is not None
    assert found.litres == pytest.approx(3.4)
    assert found.calibration.estimate


def test_refuels_calibrate() -> None:
    """Three fills an hour apart, each 20 % over the points: a factor of 1.2, no longer an estimate."""
    fills = [refuel(0, 50.0), refuel(60, 4.08), refuel(120, 4.08)]
    found = burnt(stretch(*[10.0] * 120), fills, SHOW)
    assert found is not None
    assert [since for _, since in found.fills] == [None, pytest.approx(3.4), pytest.approx(3.4)]
    assert found.calibration.applied == pytest.approx(1.2)
    assert not found.calibration.estimate
