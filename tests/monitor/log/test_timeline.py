"""The log's clock, whatever the wall clock does."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from drivers.clock import Instant
from monitor.log.timeline import SLEW, Timeline

NOW_MS = 1_790_000_000_000
YEAR_MS = 365 * 86_400_000

passed_s = st.floats(0.0, 3600.0)
jumps_ms = st.one_of(st.just(0), st.integers(-1500, 1500), st.integers(-2 * YEAR_MS, 2 * YEAR_MS))


def test_follows_a_steady_clock_exactly() -> None:
    """With both clocks in step the log's time is the wall clock."""
    line = Timeline()
    times = [line.stamp(Instant(NOW_MS + 1000 * k, 7.0 + k)) for k in range(100)]
    assert times == [(NOW_MS + 1000 * k, None) for k in range(100)]


@given(st.lists(st.tuples(passed_s, jumps_ms), min_size=1, max_size=40), st.none() | st.integers(0, 2 * NOW_MS))
def test_order_is_never_broken(moves: list[tuple[float, int]], last_ms: int | None) -> None:
    """Every time is later than the one before and than the end of the log, whatever the wall clock does."""
    line = Timeline(last_ms)
    wall_ms, mono_s = float(NOW_MS), 0.0
    before = -1 if last_ms is None else last_ms
    for passed, jump in moves:
        mono_s += passed
        wall_ms += passed * 1000 + jump
        time_ms, _ = line.stamp(Instant(round(wall_ms), mono_s))
        assert time_ms > before
        before = time_ms


@given(st.lists(st.tuples(st.floats(0.05, 100.0), jumps_ms), min_size=1, max_size=40))
def test_time_passes_as_it_does(moves: list[tuple[float, int]]) -> None:
    """Between stamps without a told step the log's time passes as the monotonic clock does, within the slew."""
    line = Timeline()
    wall_ms, mono_s = float(NOW_MS), 0.0
    before, _ = line.stamp(Instant(NOW_MS, mono_s))
    for passed, jump in moves:
        mono_s += passed
        wall_ms += passed * 1000 + jump
        time_ms, step = line.stamp(Instant(round(wall_ms), mono_s))
        if step is None or step.seconds < 0:
            assert abs(time_ms - before - passed * 1000) <= SLEW * passed * 1000 + 2
        else:
            assert time_ms - before >= passed * 1000 - 2
        before = time_ms


@given(st.lists(st.tuples(st.floats(0.5, 2.0), st.integers(-30, 30)), min_size=1, max_size=40))
def test_drift_is_worked_off_without_a_word(moves: list[tuple[float, int]]) -> None:
    """A clock that wanders a little is followed: no step is told, and the two come together when it stops."""
    line = Timeline()
    wall_ms, mono_s = float(NOW_MS), 0.0
    line.stamp(Instant(NOW_MS, mono_s))
    for passed, jump in [*moves, (60.0, 0)]:  # a whole second is worked off in 20 s
        mono_s += passed
        wall_ms += passed * 1000 + jump
        time_ms, step = line.stamp(Instant(round(wall_ms), mono_s))
        assert step is None
    assert abs(time_ms - wall_ms) <= 2


def test_late_network_time_is_told_and_taken() -> None:
    """A computer that starts in 1970 and gets its time later jumps forward once, with the size of the step."""
    line = Timeline()
    assert line.stamp(Instant(60_000, 60.0)) == (60_000, None)
    time_ms, step = line.stamp(Instant(NOW_MS, 61.0))
    assert time_ms == NOW_MS
    assert step is not None
    assert step.seconds == (NOW_MS - 61_000) / 1000
    assert step.ahead_s == 0.0
    assert line.stamp(Instant(NOW_MS + 1000, 62.0)) == (NOW_MS + 1000, None)


def test_a_step_back_is_told_and_time_goes_on() -> None:
    """After a step back the log stays ahead of the wall clock by the step, and each second is a second."""
    line = Timeline()
    line.stamp(Instant(NOW_MS, 10.0))
    time_ms, step = line.stamp(Instant(NOW_MS + 1000 - 3_600_000, 11.0))
    assert (time_ms, step and step.seconds, step and step.ahead_s) == (NOW_MS + 1000, -3600.0, 3600.0)
    assert "set back by 3600.0 s" in str(step)
    assert "3600.0 s ahead" in str(step)
    assert line.offset_ms == 3_600_000
    assert line.stamp(Instant(NOW_MS + 2000 - 3_600_000, 12.0)) == (NOW_MS + 2000, None)


def test_a_step_forward_uses_up_the_lead_first() -> None:
    """Back by an hour and forward by an hour: the log's time never jumped."""
    line = Timeline()
    line.stamp(Instant(NOW_MS, 10.0))
    line.stamp(Instant(NOW_MS + 1000 - 3_600_000, 11.0))
    time_ms, step = line.stamp(Instant(NOW_MS + 2000, 12.0))
    assert time_ms == NOW_MS + 2000
    assert step is not None
    assert (step.seconds, step.ahead_s, line.offset_ms) == (3600.0, 0.0, 0)


def test_a_restart_goes_on_after_the_log() -> None:
    """With the wall clock before the end of the log, the log's time goes on just after it and the lead is told."""
    line = Timeline(NOW_MS)
    time_ms, step = line.stamp(Instant(NOW_MS - 50_000, 3.0))
    assert time_ms == NOW_MS + 1
    assert step is not None
    assert step.ahead_s == 50.001


def test_instants_out_of_order_stay_in_order() -> None:
    """An instant that is older than one stamped before comes just after it, and leaves no trace in what follows."""
    line = Timeline()
    line.stamp(Instant(NOW_MS, 10.0))
    assert line.stamp(Instant(NOW_MS - 40, 9.96)) == (NOW_MS + 1, None)
    assert line.stamp(Instant(NOW_MS + 500, 10.5)) == (NOW_MS + 500, None)
