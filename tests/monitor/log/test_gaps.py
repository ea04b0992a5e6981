"""Which readings leave a gap."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

from hypothesis import given
from hypothesis import strategies as st

from drivers.reading import Quality
from monitor.log.gaps import CLOCK_STEP, NOT_LOGGING, Gap, Trail, follow
from tests.monitor.log.logs import A1, BEGIN_MS, reading

if TYPE_CHECKING:
    from monitor.engine.reading import Reading

GOOD, SILENT, CORRUPT = Quality.GOOD, Quality.SILENT, Quality.CORRUPT
HOLD_MS = 5_000


def gaps_of(*readings: Reading, before: Trail | None = None) -> list[tuple[float, float | None, str]]:
    """Follow the readings and give what the log ends up with: (begin, end, reason), times in s after the begin."""
    kept: dict[tuple[int, str], Gap] = {}
    for item in readings:
        before, changed = follow(before, item, HOLD_MS)
        kept.update({(gap.begin_ms, gap.reason): gap for gap in changed})
    return [
        ((g.begin_ms - BEGIN_MS) / 1000, None if g.end_ms is None else (g.end_ms - BEGIN_MS) / 1000, g.reason)
        for g in kept.values()
    ]


def test_good_readings_leave_none() -> None:
    """Readings at the usual pace leave no gap, the first one neither."""
    assert gaps_of(reading(0), reading(1), reading(6)) == []


def test_a_run_of_one_reason_is_one_gap() -> None:
    """A gap lasts from the first reading that is not good to the next good one."""
    assert gaps_of(reading(0), reading(1, quality=SILENT), reading(9, quality=SILENT), reading(10)) == [
        (1, 10, "silent")
    ]


def test_another_reason_is_another_gap() -> None:
    """A change of reason ends one gap and begins the next at the same moment."""
    assert gaps_of(reading(0, quality=SILENT), reading(1, quality=CORRUPT), reading(2, quality=CORRUPT)) == [
        (0, 1, "silent"),
        (1, None, "corrupt"),
    ]


def test_detail_is_that_of_the_first() -> None:
    """The gap keeps the words of the reading that began it."""
    _, changed = follow(None, reading(0, quality=SILENT, detail="no reply within 0.5 s"), HOLD_MS)
    assert changed == [Gap(A1, BEGIN_MS, None, "silent", "no reply within 0.5 s")]


def test_time_without_readings_is_a_gap() -> None:
    """Longer than the hold without any reading: a gap from the last reading to the next."""
    assert gaps_of(reading(0), reading(31)) == [(0, 31, NOT_LOGGING)]


def test_a_restart_is_a_gap_however_short() -> None:
    """Between the last reading of an earlier run and the first of this one nobody looked."""
    earlier = Trail(BEGIN_MS, None)
    assert gaps_of(reading(2), reading(3), before=earlier) == [(0, 2, NOT_LOGGING)]


def test_a_clock_step_is_no_silence_but_a_gap() -> None:
    """The log's time jumped while readings came every second."""
    late = replace(reading(3601), mono_s=reading(1).mono_s)
    assert gaps_of(reading(0), late) == [(0, 3601, CLOCK_STEP)]


def test_a_clock_step_cuts_a_gap_in_two() -> None:
    """A meter that is silent across the step is silent before it and after it; between them is no time at all."""
    late = replace(reading(3601, quality=SILENT), mono_s=reading(1).mono_s)
    assert gaps_of(reading(-1), reading(0, quality=SILENT), late) == [
        (0, 0, "silent"),
        (0, 3601, CLOCK_STEP),
        (3601, None, "silent"),
    ]


@given(st.lists(st.tuples(st.integers(1, 12), st.sampled_from([GOOD, GOOD, SILENT, CORRUPT])), min_size=1))
def test_gaps_never_overlap_and_cover_exactly_what_is_not_good(steps: list[tuple[int, Quality]]) -> None:
    """Each reading that is not good lies in one gap with its reason; no good one lies inside any."""
    second = 0
    readings = []
    for passed, quality in steps:
        second += passed
        readings.append(reading(second, quality=quality))
    gaps = sorted(gaps_of(*readings), key=lambda gap: gap[0])
    for gap, later in pairwise(gaps):
        assert gap[1] is not None
        assert gap[1] <= later[0]
    for item in readings:
        at = (item.time_ms - BEGIN_MS) / 1000
        inside = [r for b, e, r in gaps if r != NOT_LOGGING and b <= at and (e is None or at < e)]
        assert inside == ([] if item.quality is GOOD else [item.quality.value])
