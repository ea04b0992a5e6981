"""Heat: adding up, cooling, gaps, clamps and the user's own points."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.electrical.heat import CEILING, HeatState, advance, cold, edges
from monitor.show.model import Breaker, Gate

SMALL = Breaker(16, "IEC 60898-1", "C")


@given(st.lists(st.tuples(st.floats(0, 200), st.floats(0, 500)), max_size=30))
def test_always_within_its_range(load: list[tuple[float, float]]) -> None:
    """Whatever flows, fractions stay between 0 and the ceiling, and the early edge is never behind the late one."""
    drawn = edges(SMALL)
    state = cold(drawn)
    for amps, seconds in load:
        state = advance(state, drawn, amps, seconds)
        assert state.fastest is not None
        assert state.slowest is not None
        assert 0 <= state.slowest <= CEILING
        assert 0 <= state.fastest <= 1


@given(st.floats(0, 200), st.floats(0, 200), st.floats(0.1, 100))
def test_more_current_never_adds_less(a: float, b: float, seconds: float) -> None:
    """From the same state, more current leaves neither fraction lower."""
    drawn, start = edges(SMALL), HeatState(0.5, 0.5)
    less, more = (advance(start, drawn, amps, seconds) for amps in sorted((a, b)))
    assert (less.fastest or 0) <= (more.fastest or 0) + 1e-12
    assert (less.slowest or 0) <= (more.slowest or 0) + 1e-12


@given(st.floats(18, 75), st.floats(0.01, 50), st.integers(2, 20))
def test_cutting_time_changes_nothing(amps: float, seconds: float, parts: int) -> None:
    """A steady load gives the same heat in one stretch or in many."""
    drawn = edges(SMALL)
    whole, state = advance(cold(drawn), drawn, amps, seconds), cold(drawn)
    for _ in range(parts):
        state = advance(state, drawn, amps, seconds / parts)
    assert state.slowest == pytest.approx(whole.slowest, rel=1e-9)
    assert state.fastest == pytest.approx(whole.fastest, rel=1e-9)


def test_past_the_latest_edge_is_a_finding_and_at_it_is_not() -> None:
    """The late edge reached exactly is no finding; a second more is."""
    drawn = edges(SMALL)
    at = advance(cold(drawn), drawn, 1.45 * 16, 3600)
    assert not at.past_latest
    assert advance(at, drawn, 1.45 * 16, 1).past_latest
    assert not HeatState(2.0, None).past_latest


def test_cools_in_the_conventional_time_without_load() -> None:
    """No current: from the edge to cold in the conventional time; at the holding current not at all."""
    drawn = edges(SMALL)
    assert drawn.cooling_s == 3600
    assert advance(HeatState(1.0, 1.0), drawn, 0, 3600) == HeatState(0.0, 0.0)
    assert advance(HeatState(1.0, 1.0), drawn, 0, 1800) == HeatState(0.5, 0.5)
    half = advance(HeatState(1.0, 1.0), drawn, 8, 1800)
    assert 0.5 < (half.fastest or 0) < 1
    assert advance(HeatState(0.4, 0.4), drawn, 16 * 1.1299, 60).fastest == pytest.approx(0.4, abs=1e-4)


def test_a_gap_neither_heats_nor_cools_and_is_remembered() -> None:
    """Unmeasured time changes no fraction; it is counted until it can't matter any more."""
    drawn = edges(SMALL)
    state = advance(HeatState(0.3, 0.2), drawn, None, 40)
    assert (state.fastest, state.slowest, state.unknown_s) == (0.3, 0.2, 40)
    later = advance(state, drawn, 5, 600)
    assert (later.unknown_s, later.since_gap_s) == (40, 600)
    assert advance(later, drawn, 5, 7200).unknown_s == 0


def test_beyond_the_last_points() -> None:
    """Past the last early gate a breaker may open at once; past the last late one no shorter time is required."""
    drawn = edges(SMALL)
    assert advance(cold(drawn), drawn, 16 * 5.1, 0.001).fastest == 1.0
    assert advance(cold(drawn), drawn, 16 * 50, 0.05).slowest == pytest.approx(0.5)
    assert advance(cold(drawn), drawn, 16 * 50, 0.0) == cold(drawn)
    assert advance(cold(edges(Breaker(20))), edges(Breaker(20)), 400, 60).slowest == pytest.approx(0.5)


def test_own_points_replace_the_edges_and_say_so() -> None:
    """A datasheet's points draw the edges, with a standard beside them or without."""
    gates = (Gate(1.2, soonest_s=3000), Gate(2, soonest_s=20, latest_s=80), Gate(6, soonest_s=0.5, latest_s=4))
    for breaker in (Breaker(25, "custom", gates=gates), Breaker(25, "UL 489", gates=gates)):
        drawn = edges(breaker)
        assert drawn.own_points
        assert drawn.late == ((2, 80), (6, 4))
        assert drawn.early == ((1.2, 3000), (2, 20), (6, 0.5))
        assert advance(cold(drawn), drawn, 50, 20).fastest == pytest.approx(1)


@pytest.mark.parametrize(("amps", "seconds"), [(float("nan"), 1.0), (10.0, -1.0), (10.0, float("inf"))])
def test_what_is_no_load(amps: float, seconds: float) -> None:
    """No number, or time that runs back, is refused."""
    with pytest.raises(ValueError, match="0 s or more"):
        advance(cold(edges(SMALL)), edges(SMALL), amps, seconds)
