"""The past as screens show it: planned loads by their steps, times that alarms stood, what a breaker may do, trends."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.alarms.lifecycle import ACTIVE
from monitor.alarms.model import AlarmChange
from monitor.engine.fold import Engine
from monitor.engine.history import Switching
from monitor.engine.past import allowed_at, fixed_of, planned_of, spells_of
from monitor.show.model import Breaker, Load, Show
from tests.monitor.engine.test_fold import look, reading
from tests.support.moments import Run
from tests.support.shows import circuit, show

if TYPE_CHECKING:
    from collections.abc import Sequence

CODE = "above-rating"
MANY = 90  # seconds: longer than its delays


def switched(second: int, *loads: str, on: bool = True) -> Switching:
    """Give a step that was taken for some loads."""
    return Switching(second * 1000, on, None, 5.0 if on else -5.0, loads, 0.9)


def planned(*steps: Switching) -> dict[str, tuple[int, int | None, int | None]]:
    """Give (how many, how many on, since) of each load of a circuit with two panels and a kettle."""
    loads = (Load("panel", 600.0, 0.97, count=2), Load("kettle", 1200.0))
    found = planned_of(show(circuit("A1")), replace(circuit("A1"), load=loads), steps)
    return {load.name: (load.count, load.on, load.since_ms) for load in found}


def test_planned_loads_are_counted_by_their_steps() -> None:
    """What never switched is not known; two of a kind are counted; a load that nobody planned changes nothing."""
    assert planned() == {"panel": (2, None, None), "kettle": (1, None, None)}
    steps = [switched(1, "panel"), switched(2, "panel"), switched(3), switched(4, "panel", on=False)]
    assert planned(*steps) == {"panel": (2, 1, 4000), "kettle": (1, None, None)}
    assert planned(switched(1, "panel", "panel", "kettle"))["panel"] == (2, 2, 1000)


@given(st.lists(st.tuples(st.sampled_from(["panel", "kettle", "urn"]), st.booleans())))
def test_never_more_on_than_planned_and_never_fewer_than_none(told: list[tuple[str, bool]]) -> None:
    """Whatever steps were found, in whatever order."""
    steps = [switched(n, name, on=on) for n, (name, on) in enumerate(told)]
    assert all(on is None or 0 <= on <= count for count, on, _ in planned(*steps).values())


def test_one_piece_has_its_own_amps() -> None:
    """600 W at power factor 0.97 on 120 V: 600 / 0.97 / 120 = 5.155 A, whatever their number."""
    loads = (Load("panel", 600.0, 0.97, count=2),)
    found = planned_of(show(circuit("A1")), replace(circuit("A1"), load=loads), ())
    assert found[0].amps == pytest.approx(5.155, abs=0.001)


def test_what_a_breaker_may_do() -> None:
    """UL 489 at 135 % of the rating of 20 A: it may open at once, and must by an hour (as tests/outside checks it)."""
    found = allowed_at(circuit("A1"), 27.0)
    assert found is not None
    assert found.multiple == pytest.approx(1.35)
    assert (found.soonest, found.latest_s) == ("not-set", 3600.0)
    holds = allowed_at(circuit("A1"), 12.0)
    assert holds is not None
    assert (holds.soonest, holds.latest_s) == ("holds", None)
    assert allowed_at(replace(circuit("A1"), breaker=Breaker(20.0, standard="custom")), 27.0) is None


def test_limits_of_volts_follow_the_meter() -> None:
    """Leg to leg 240 V where one channel measures both hots, leg to neutral 120 V where each leg has its own."""
    given = show(circuit("A1", ("L1", "L2")))
    whole, each = (fixed_of(given, given.circuits[0], by_leg=by_leg) for by_leg in (False, True))
    assert [whole.volts_low, whole.volts_high] == pytest.approx([228.0, 252.0])
    assert [each.volts_low, each.volts_high] == pytest.approx([114.0, 126.0])
    assert whole.breaker == "20 A UL 489"


def test_times_that_an_alarm_stood() -> None:
    """Raised, acknowledged, gone, raised again: two times, each with its own end and name."""
    run = Run()
    run.values(CODE, [150.0] * MANY)
    run.acknowledge(CODE)
    run.values(CODE, [20.0] * MANY)
    run.values(CODE, [150.0] * MANY)
    first, second = spells_of(run.changes)
    assert (first.who, first.end_ms is None, second.who, second.end_ms) == ("Mara", False, "", None)
    assert first.noted_ms == (MANY - 1) * 1000
    assert first.end_ms is not None
    assert first.begin_ms < first.end_ms < second.begin_ms


def test_of_a_time_that_began_before_its_changes_the_end_is_known() -> None:
    """Read from the middle of the log, it is there once, with the begin that the alarm itself tells."""
    run = Run()
    run.values(CODE, [150.0] * MANY)
    seen = len(run.changes)
    run.values(CODE, [20.0] * MANY)
    (spell,) = spells_of(run.changes[seen:])
    assert spell.begin_ms < MANY * 1000 < (spell.end_ms or 0)


@given(st.lists(st.sampled_from([20.0, 150.0, None]), max_size=12))
def test_a_time_ends_exactly_when_its_alarm_is_active_no_more(levels: list[float | None]) -> None:
    """The last time stands open if and only if the alarm's condition holds at the end."""
    run = Run()
    for level in levels:
        run.values(CODE, [level] * MANY)
    spells = spells_of(run.changes)
    active = run.state(CODE) in ACTIVE
    assert (
        [spell.end_ms is None for spell in spells] == [False] * (len(spells) - 1) + [active] if spells else not active
    )
    assert [spell.begin_ms for spell in spells] == sorted(spell.begin_ms for spell in spells)


def test_changes_that_make_no_sense_break_nothing() -> None:
    """A log that begins with a return gives a time that has ended."""
    run = Run()
    run.values(CODE, [150.0] * MANY)
    alarm = replace(run.changes[-1].alarm, state="normal", changed_ms=5)
    (spell,) = spells_of([AlarmChange(5, alarm, "unacknowledged")])
    assert spell.end_ms == 5


def over_minute(amps: Sequence[float | None], given: Show | None = None) -> float | None:
    """Give the trend after one reading a second."""
    engine = Engine(given or show(circuit("A1")))
    for second, value in enumerate(amps):
        read = reading("A1", second) if value is None else reading("A1", second, volts=120.0, amps=value)
        look(engine, second, read)
    return look(engine, len(amps)).circuits[0].over_minute_amps


def test_what_has_come_on_within_the_minute_shows_and_what_is_steady_does_not() -> None:
    """Nothing is said before most of a minute is known; one odd reading is no trend; a step is one for a minute."""
    assert over_minute([5.0] * 30) is None
    assert over_minute([5.0] * 70) == 0.0
    assert over_minute([5.0] * 60 + [15.0] + [5.0] * 5) == 0.0
    assert over_minute([5.0] * 60 + [15.0] * 20) == pytest.approx(10.0)
    assert over_minute([15.0] * 60 + [5.0] * 20) == pytest.approx(-10.0)
    assert over_minute([5.0] * 60 + [15.0] * 80) == 0.0
    assert over_minute([28.0] * 50 + [0.0] * 20 + [15.0]) == pytest.approx(-13.0)
    assert over_minute([5.0] * 60 + [0.0] * 15 + [12.0]) == 0.0


def test_no_trend_without_live_amps_or_across_a_long_gap() -> None:
    """What is old says nothing of the present, and what lies behind a gap of a minute nothing of the last minute."""
    assert over_minute([5.0] * 70 + [None] * 10) is None
    assert over_minute([5.0] * 70 + [None] * 70 + [15.0] * 20) is None
