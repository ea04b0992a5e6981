"""Figures to draw: runs that never cross a gap, thinned without losing what stands out."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from drivers.reading import Quality, Values
from monitor.engine.reading import Reading
from monitor.log.records import Minute
from monitor.review.series import Sample, of_minutes, of_readings, thinned
from monitor.show.model import Point

POINT = Point("A1")


def reading(second: float, amps: float | None) -> Reading:
    """Give a reading."""
    quality = Quality.GOOD if amps is not None else Quality.SILENT
    return Reading(POINT, round(1000 * second), second, quality, Values(amps=amps))


def minute(number: int, amps: tuple[float, float, float] | None) -> Minute:
    """Give a minute."""
    return Minute(number * 60_000, None, amps, None, None, None, None, 60, 0)


def test_a_missing_value_ends_a_run() -> None:
    """Nothing is drawn from before it to after it."""
    series = of_readings([reading(0, 5.0), reading(1, 5.0), reading(2, None), reading(3, 6.0)], "amps")
    assert [[s.value for s in run] for run in series.runs] == [[5.0, 5.0], [6.0]]


def test_missing_time_ends_a_run() -> None:
    """As measured by the recording's own pace."""
    fast = of_readings([reading(n, 5.0) for n in (0, 1, 2, 3, 10, 11)], "amps")
    slow = of_readings([reading(n, 5.0) for n in (0, 10, 20, 30, 70, 80)], "amps")
    assert [len(run) for run in fast.runs] == [4, 2]
    assert [len(run) for run in slow.runs] == [4, 2]


def test_a_missing_minute_ends_a_run() -> None:
    """And a minute without the quantity does too."""
    series = of_minutes([minute(0, (1, 2, 3)), minute(1, (1, 2, 3)), minute(3, (1, 2, 3)), minute(4, None)], "amps")
    assert [len(run) for run in series.runs] == [2, 1]
    assert series.step_ms == 60_000


@given(st.lists(st.floats(0, 100), min_size=1, max_size=400), st.integers(1, 60))
def test_thinning_keeps_the_extremes(values: list[float], most: int) -> None:
    """Lowest and highest of a run are still drawn, in few enough samples, in order."""
    run = [Sample(1000 * n, value, value, value) for n, value in enumerate(values)]
    thin = thinned(run, most)
    assert len(thin) <= most
    assert min(s.low for s in thin) == min(values)
    assert max(s.high for s in thin) == max(values)
    assert [s.time_ms for s in thin] == sorted(s.time_ms for s in thin)
