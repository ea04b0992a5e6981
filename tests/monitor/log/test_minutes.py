"""Minutes against the readings they come from, worked out a second time in plain Python, and energy against NumPy."""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.reading import Quality, Values
from monitor.log.reader import LogReader
from tests.monitor.log.logs import A1, A2, BEGIN_MS, keep, opened, reading

if TYPE_CHECKING:
    from monitor.engine.reading import Reading
    from monitor.show.model import Point

HOLD_S = 5
GOOD, SILENT, IMPLAUSIBLE = Quality.GOOD, Quality.SILENT, Quality.IMPLAUSIBLE
VIEW_COLUMNS = (
    "volts_min, volts_mean, volts_max, amps_min, amps_mean, amps_max, hertz_min, hertz_mean, hertz_max,"
    " watts_mean, watt_hours, samples"
)

# One step of a log: seconds since the last reading, whether the logger was started anew before it, and the reading.
steps = st.lists(
    st.tuples(
        st.sampled_from([1, 1, 1, 2, HOLD_S, HOLD_S + 1, 45, 130]),
        st.sampled_from([False] * 9 + [True]),
        st.sampled_from([GOOD, GOOD, GOOD, SILENT, IMPLAUSIBLE]),
        st.sampled_from([A1, A2]),
        st.one_of(st.none(), st.integers(0, 300_000)),  # mV
        st.one_of(st.none(), st.integers(-30_000, 300_000)),  # 0.1 W
    ),
    min_size=1,
    max_size=60,
)


class Expected:
    """The minutes of a run of readings, worked out one reading at a time, without SQL."""

    def __init__(self) -> None:
        self.good: defaultdict[tuple[int, Point], int] = defaultdict(int)
        self.volts: defaultdict[tuple[int, Point], list[float]] = defaultdict(list)
        self.watts: defaultdict[tuple[int, Point], list[float]] = defaultdict(list)
        self.joules: dict[tuple[int, Point], float] = {}
        self._before: dict[Point, tuple[float, float | None]] = {}

    def restart(self) -> None:
        """Forget what came before: nobody looked in between."""
        self._before.clear()

    def add(self, item: Reading) -> None:
        """Take one more reading."""
        at = item.time_ms / 1000
        key = (item.time_ms // 60_000, item.point)
        self.good[key] += item.quality is GOOD
        if item.values.volts is not None:
            self.volts[key].append(item.values.volts)
        watts = item.values.watts
        if watts is not None:
            self.watts[key].append(watts)
        if item.point in self._before and watts is not None:
            then, watts_then = self._before[item.point]
            if watts_then is not None and at - then <= HOLD_S:
                self.joules[key] = self.joules.get(key, 0.0) + (watts + watts_then) / 2 * (at - then)
        self._before[item.point] = (at, watts)


def write(path: Path, given_steps: list[tuple[int, bool, Quality, Point, int | None, int | None]]) -> Expected:
    """Write the steps to a log, with restarts, and work out what its minutes should be."""
    expected = Expected()
    second = 0
    writer = opened(path)
    for passed, restart, quality, point, volts, watts in given_steps:
        second += passed
        if restart:
            writer.close()
            writer = opened(path, second - 0.5)
            expected.restart()
        values = Values(volts=None if volts is None else volts / 1000, watts=None if watts is None else watts / 10)
        item = reading(second, point, quality, Values() if quality is SILENT else values)
        keep(writer, item)
        expected.add(item)
    writer.close()
    return expected


@settings(max_examples=40, deadline=None)
@given(steps)
def test_minutes_equal_a_second_computation(
    given_steps: list[tuple[int, bool, Quality, Point, int | None, int | None]],
) -> None:
    """Finished or not, across gaps, clock and restarts: the view says what plain Python makes of the readings."""
    with TemporaryDirectory() as directory:
        path = Path(directory) / "log.sqlite"
        expected = write(path, given_steps)
        with LogReader(path) as log:
            got = {
                (minute.begin_ms // 60_000, point): minute
                for point in (A1, A2)
                for minute in log.minutes(point, BEGIN_MS, BEGIN_MS + 10**9)
            }
    assert got.keys() == expected.good.keys()
    for key, minute in got.items():
        volts, watts = expected.volts.get(key), expected.watts.get(key)
        assert minute.samples == expected.good[key]
        assert minute.volts == (pytest.approx((min(volts), np.mean(volts), max(volts))) if volts else None)
        assert minute.watts_mean == (pytest.approx(np.mean(watts), abs=1e-9) if watts else None)
        joules = expected.joules.get(key)
        assert minute.watt_hours == (None if joules is None else pytest.approx(joules / 3600, abs=1e-9))
        assert (minute.amps, minute.hertz) == (None, None)


@settings(max_examples=15, deadline=None)
@given(steps)
def test_a_finished_minute_is_what_it_was_unfinished(
    given_steps: list[tuple[int, bool, Quality, Point, int | None, int | None]],
) -> None:
    """Emptying the table of minutes changes nothing that the view shows: both come from the readings alone."""
    with TemporaryDirectory() as directory:
        path = Path(directory) / "log.sqlite"
        write(path, given_steps)
        db = sqlite3.connect(path)
        rows = db.execute("SELECT * FROM minutes").fetchall()
        db.execute("DELETE FROM minute")
        assert sorted(db.execute("SELECT * FROM minutes").fetchall()) == sorted(rows)
        db.close()


def test_energy_is_the_area_under_the_watts(tmp_path: Path) -> None:
    """Over ten unbroken minutes the watt-hours sum up to NumPy's trapezoidal integral of the same readings."""
    chance = np.random.default_rng(4)
    seconds = np.cumsum(chance.uniform(0.8, 1.3, 600)).round(3)
    watts = chance.uniform(0.0, 2400.0, 600).round(1)
    with opened(tmp_path / "log.sqlite") as writer:
        for second, power in zip(seconds, watts, strict=True):
            keep(writer, reading(float(second), values=Values(watts=float(power))))
        with LogReader(tmp_path / "log.sqlite") as log:
            minutes = log.minutes(A1, BEGIN_MS, BEGIN_MS + 10**7)
    assert sum(m.watt_hours or 0.0 for m in minutes) == pytest.approx(np.trapezoid(watts, seconds) / 3600, rel=1e-9)


def test_a_steady_kilowatt_for_a_minute(tmp_path: Path) -> None:
    """1000 W over a whole minute between readings are 1000/60 Wh (the definition of the watt-hour)."""
    with opened(tmp_path / "log.sqlite") as writer:
        keep(writer, *(reading(second, values=Values(watts=1000.0)) for second in range(-1, 120)))
        with LogReader(tmp_path / "log.sqlite") as log:
            energies = [m.watt_hours for m in log.minutes(A1, BEGIN_MS, BEGIN_MS + 120_000)]
    assert energies == pytest.approx([1000 / 60, 1000 / 60])


def test_a_gap_adds_nothing(tmp_path: Path) -> None:
    """Ten silent seconds in a steady minute: only the time between neighbouring good readings counts."""
    with opened(tmp_path / "log.sqlite") as writer:
        for second in range(60):
            silent = 20 <= second < 30
            keep(writer, reading(second, quality=SILENT) if silent else reading(second, values=Values(watts=1000.0)))
        with LogReader(tmp_path / "log.sqlite") as log:
            (minute,) = log.minutes(A1, BEGIN_MS, BEGIN_MS + 60_000)
    assert (minute.samples, minute.bad) == (50, 10)
    assert minute.watt_hours == pytest.approx(1000 * (19 + 29) / 3600)


def test_the_meters_own_counter_is_kept_once_a_minute(tmp_path: Path) -> None:
    """The last value of the meter's energy counter in each finished minute."""
    with opened(tmp_path / "log.sqlite") as writer:
        for second in range(0, 130, 10):
            keep(writer, reading(second, values=Values(watt_hours=5000.0 + second)))
        with LogReader(tmp_path / "log.sqlite") as log:
            counters = [m.counter_watt_hours for m in log.minutes(A1, BEGIN_MS, BEGIN_MS + 180_000)]
    assert counters == [5050.0, 5110.0, None]


def test_one_cycle_may_hold_many_minutes(tmp_path: Path) -> None:
    """Readings that had to wait for the log are rolled up like any others when they come at once."""
    with opened(tmp_path / "one.sqlite") as writer:
        keep(writer, *(reading(second) for second in range(200)))
    with opened(tmp_path / "many.sqlite") as writer:
        for second in range(200):
            keep(writer, reading(second))
    one, many = (sqlite3.connect(tmp_path / name) for name in ("one.sqlite", "many.sqlite"))
    rows = one.execute("SELECT * FROM minute ORDER BY minute").fetchall()
    assert len(rows) == 3
    assert rows == many.execute("SELECT * FROM minute ORDER BY minute").fetchall()
    one.close()
    many.close()
