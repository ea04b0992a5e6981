"""The judge: delays, deadbands, gaps, and what people ask of it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.alarms.judge import LONGEST_SHELF_MS, CannotDo, Judge
from monitor.alarms.model import Now, Observation
from tests.support.moments import LIMIT, Run, alarm_show, obs

if TYPE_CHECKING:
    import random

CODES = ("far-above-rating", "above-rating", "near-rating", "volts-low", "lost-neutral", "clock-stepped")
FAST = {
    f"{code.replace('-', '_')}_{what}": seconds
    for code in CODES
    for what, seconds in (("on_seconds", 2.0), ("off_seconds", 3.0))
}
VALUES = st.one_of(st.none(), st.sampled_from([0.0, 90.0, 94.0, 96.0, 99.0, 101.0, 106.0, 130.0]))
ACTIVE = ("unacknowledged", "acknowledged")


def test_raised_after_its_delay_and_not_before() -> None:
    """Ten seconds of on-delay: raised at the eleventh moment, told since the first."""
    run = Run()
    run.values("above-rating", [120.0] * 10)
    assert run.told() == []
    run.values("above-rating", [121.0])
    assert run.told() == [(10, "above-rating", "A1", "normal", "unacknowledged")]
    alarm = run.alarm("above-rating")
    assert alarm is not None
    assert (alarm.since_ms, alarm.changed_ms, alarm.value, alarm.limit) == (0, 10_000, 121.0, LIMIT)
    assert alarm.seen == "A1 shows 121 for above-rating"


def test_a_limit_is_inside() -> None:
    """A value at its limit raises nothing, on either side."""
    run = Run()
    for _ in range(30):
        run.moment(obs("above-rating", LIMIT), obs("volts-low", LIMIT))
    assert run.told() == []


@pytest.mark.parametrize("between", [[99.0], [None]], ids=["inside", "unknown"])
def test_a_break_starts_the_on_delay_anew(between: list[float | None]) -> None:
    """Nine seconds, a moment inside the limit or of nothing known, nine seconds: nothing."""
    run = Run()
    run.values("above-rating", [120.0] * 9 + between + [120.0] * 9)
    assert run.told() == []


def test_a_pause_starts_the_on_delay_anew() -> None:
    """What was seen before a pause doesn't count after it."""
    run = Run()
    run.values("above-rating", [120.0] * 9)
    run.moment(obs("above-rating", 120.0), resumed=True)
    run.values("above-rating", [120.0] * 9)
    assert run.told() == []
    run.values("above-rating", [120.0])
    assert len(run.told()) == 1


def test_the_off_delay_counts_beyond_the_deadband_and_stops_at_the_unknown() -> None:
    """30 s at 5 % under the limit clear; less deadband starts anew, a gap only stops the counting."""
    run = Run()
    run.values("above-rating", [120.0] * 11 + [95.0] * 20 + [96.0] + [95.0] * 20)
    assert run.state("above-rating") == "unacknowledged"
    run.values("above-rating", [None] * 100)
    assert run.state("above-rating") == "unacknowledged"
    run.values("above-rating", [95.0] * 11)
    assert run.state("above-rating") == "unacknowledged"
    run.values("above-rating", [95.0])
    assert run.state("above-rating") == "returned-unacknowledged"


def test_below_its_limit() -> None:
    """A rule on the low side clears above its limit by the deadband."""
    run = Run()
    run.values("volts-low", [99.0] * 11 + [100.9] * 60)
    assert run.state("volts-low") == "unacknowledged"
    run.values("volts-low", [101.0] * 31)
    assert run.state("volts-low") == "returned-unacknowledged"


def test_not_a_number_is_unknown() -> None:
    """A value that is no number neither raises nor clears."""
    run = Run()
    run.values("above-rating", [float("nan")] * 20)
    assert run.told() == []
    run.values("above-rating", [120.0] * 11 + [95.0] * 20 + [float("nan")] * 60)
    alarm = run.alarm("above-rating")
    assert alarm is not None
    assert (alarm.state, alarm.value) == ("unacknowledged", 95.0)
    run.values("above-rating", [95.0] * 12)
    assert run.state("above-rating") == "returned-unacknowledged"


def test_a_circuits_own_delay() -> None:
    """A circuit's own setting goes before the show's, on its legs too."""
    show = alarm_show()
    first = replace(show.circuits[0], settings={"above_rating_on_seconds": 2.0})
    judge = Judge(replace(show, circuits=(first, show.circuits[1])))
    places = ("A1", "A1/L1", "A2")
    told = [
        (second, change.alarm.where)
        for second in range(12)
        for change in judge.judge([obs("above-rating", 120.0, where) for where in places], Now(second * 1000))
    ]
    assert told == [(2, "A1"), (2, "A1/L1"), (10, "A2")]


def test_what_passes_goes_by_itself() -> None:
    """A stepped clock is told at once and goes without anybody, after its time in sight."""
    run = Run(clock_stepped_off_seconds=5)
    run.moment(obs("clock-stepped", 1.0, "log"))
    assert run.state("clock-stepped", "log") == "unacknowledged"
    run.values("clock-stepped", [0.0] * 6, "log")
    assert run.told()[-1] == (6, "clock-stepped", "log", "unacknowledged", "normal")


def test_what_latches_waits_for_a_reset() -> None:
    """Cleared, acknowledged, reset: in this order, each by name."""
    run = Run(lost_neutral_off_seconds=0)
    run.values("lost-neutral", [1.0, 1.0, 0.0])
    assert run.state("lost-neutral") == "latched-unacknowledged"
    with pytest.raises(CannotDo, match="must be acknowledged before"):
        run.judge.reset("lost-neutral", "A1", "Mara", 3000)
    run.acknowledge("lost-neutral")
    run.values("lost-neutral", [0.0] * 50)
    alarm = run.alarm("lost-neutral")
    assert alarm is not None
    assert (alarm.state, alarm.who) == ("latched-acknowledged", "Mara")
    (change,) = run.judge.reset("lost-neutral", "A1", "Ines", 60_000)
    assert (change.before, change.alarm.state, change.alarm.who) == ("latched-acknowledged", "normal", "Ines")
    assert run.judge.alarms() == ()


def test_the_name_stays_on_a_latched_alarm() -> None:
    """Acknowledged while its condition held: the name stands on it until the reset."""
    run = Run(lost_neutral_off_seconds=0)
    run.values("lost-neutral", [1.0, 1.0])
    run.acknowledge("lost-neutral")
    run.values("lost-neutral", [0.0])
    alarm = run.alarm("lost-neutral")
    assert alarm is not None
    assert (alarm.state, alarm.who) == ("latched-acknowledged", "Mara")


def test_a_shelf_that_ends_in_a_pause() -> None:
    """What held before the pause is not known to hold: it is raised again after its on-delay."""
    run = Run(**FAST)
    run.values("above-rating", [120.0] * 4)
    run.judge.shelve("above-rating", "A1", "Mara", "cook's hour", 4000, 3000)
    run.moment(obs("above-rating", 120.0), resumed=True)
    assert run.state("above-rating") == "normal"
    run.values("above-rating", [120.0] * 2)
    assert run.told()[-1] == (6, "above-rating", "A1", "normal", "unacknowledged")


def test_a_shelf_ends_by_the_clock() -> None:
    """It comes back unacknowledged where the condition holds, since when it holds; else it is normal."""
    run = Run(**FAST)
    for where in ("A1", "A2"):
        run.judge.judge([obs("above-rating", 0.0, where)], Now(0))
        run.judge.shelve("above-rating", where, "Mara", "cook's hour", 10_000, 0)
    for _ in range(11):
        run.moment(obs("above-rating", 120.0), obs("above-rating", 50.0, "A2"))
    assert run.told() == [
        (10, "above-rating", "A1", "shelved", "unacknowledged"),
        (10, "above-rating", "A2", "shelved", "normal"),
    ]
    assert run.changes[0].alarm.why == "its shelf has ended"
    assert run.changes[0].alarm.since_ms == 0


def test_a_shelf_ends_by_hand() -> None:
    """Taking it off is told with a name, and works once."""
    run = Run(**FAST)
    run.values("above-rating", [120.0] * 4)
    (put,) = run.judge.shelve("above-rating", "A1", " Mara ", " cook's hour ", 60_000, 3000)
    assert (put.alarm.state, put.alarm.who, put.alarm.why) == ("shelved", "Mara", "cook's hour")
    assert put.alarm.until_ms == 60_000
    (taken,) = run.judge.unshelve("above-rating", "A1", "Ines", 5000)
    assert (taken.before, taken.alarm.state, taken.alarm.who) == ("shelved", "unacknowledged", "Ines")
    assert taken.alarm.until_ms is None
    with pytest.raises(CannotDo, match="is not on the shelf"):
        run.judge.unshelve("above-rating", "A1", "Ines", 6000)


REFUSED = [
    (("near-ratin", "A1", "Mara", "why", 5000), 'did you mean "near-rating"'),
    (("above-rating", "B9", "Mara", "why", 5000), "nothing watches above-rating at B9"),
    (("above-rating", "A1", "  ", "why", 5000), "needs a name"),
    (("above-rating", "A1", "Mara", " ", 5000), "needs a reason"),
    (("above-rating", "A1", "Mara", "why", 1000), "in the future"),
    (("above-rating", "A1", "Mara", "why", 1001 + LONGEST_SHELF_MS), "at most 24 hours"),
    (("lost-neutral", "A1", "Mara", "why", 5000), "can't be shelved"),
]


@pytest.mark.parametrize(("asked", "told"), REFUSED)
def test_shelving_is_refused(asked: tuple[str, str, str, str, int], told: str) -> None:
    """A shelf needs a known alarm and place, a name, a reason, an end within a day; what latches has none."""
    run = Run()
    run.moment(obs("above-rating", 0.0), obs("lost-neutral", 0.0))
    with pytest.raises(CannotDo, match=told):
        run.judge.shelve(*asked, 1000)
    assert run.judge.alarms() == ()


def test_acknowledging_is_refused() -> None:
    """Only what stands unacknowledged can be acknowledged, and by a name; who was first is told."""
    run = Run(**FAST)
    with pytest.raises(CannotDo, match="no alarm above-rating stands at A1"):
        run.judge.acknowledge("above-rating", "A1", "Mara", 0)
    with pytest.raises(CannotDo, match="there is no alarm"):
        run.judge.acknowledge("abve-rating", "A1", "Mara", 0)
    run.values("above-rating", [120.0] * 4)
    with pytest.raises(CannotDo, match="no alarm far-above-rating stands at A1; standing there: above-rating"):
        run.judge.acknowledge("far-above-rating", "A1", "Mara", 3000)
    with pytest.raises(CannotDo, match="needs a name"):
        run.judge.acknowledge("above-rating", "A1", "", 3000)
    run.acknowledge("above-rating")
    with pytest.raises(CannotDo, match="is acknowledged already, by Mara"):
        run.judge.acknowledge("above-rating", "A1", "Ines", 3000)
    run.judge.shelve("above-rating", "A1", "Ines", "cook's hour", 60_000, 3000)
    with pytest.raises(CannotDo, match="on the shelf already; take it off first, by Ines"):
        run.judge.shelve("above-rating", "A1", "Mara", "again", 60_000, 3000)


def test_the_order_of_alarms() -> None:
    """Most urgent first, then unacknowledged, then oldest; shelved last."""
    run = Run(**FAST)
    run.moment(obs("near-rating", 120.0, "A2"))
    for _ in range(5):
        run.moment(
            obs("near-rating", 120.0, "A2"),
            obs("near-rating", 120.0),
            obs("volts-low", 50.0),
            obs("volts-low", 50.0, "A2"),
            obs("lost-neutral", 1.0),
        )
    run.acknowledge("volts-low")
    order = [(alarm.code, alarm.where) for alarm in run.judge.alarms()]
    assert order == [
        ("lost-neutral", "A1"),
        ("volts-low", "A2"),
        ("volts-low", "A1"),
        ("near-rating", "A2"),
        ("near-rating", "A1"),
    ]
    run.judge.shelve("volts-low", "A2", "Mara", "known", 60_000, run.second * 1000)
    assert run.judge.alarms()[-1].where == "A2"


def test_what_a_changed_show_no_longer_watches_is_retired() -> None:
    """Alarms of a place or rule that is gone don't stand for ever; what is unknown does."""
    run = Run(**FAST)
    run.values("above-rating", [120.0] * 4)
    gone = replace(run.judge.alarms()[0], where="Z9")
    old = replace(gone, code="no-such-rule", state="shelved")
    judge = Judge(run.show)
    judge.restore((*run.judge.alarms(), gone, old, replace(gone, where="Y1", state="normal")))
    changes = judge.judge([obs("above-rating", None)], Now(9000, resumed=True))
    assert [(c.alarm.code, c.alarm.where, c.alarm.state) for c in changes] == [
        ("above-rating", "Z9", "normal"),
        ("no-such-rule", "Z9", "normal"),
    ]
    assert [alarm.where for alarm in judge.alarms()] == ["A1"]


@settings(max_examples=60, deadline=None)
@given(st.lists(VALUES, max_size=60), st.sampled_from(CODES))
def test_never_before_its_delay_nor_without_cause(values: list[float | None], code: str) -> None:
    """Whenever an alarm is raised, its on-delay lay full of moments beyond the limit; and it is raised then."""
    run = Run(**FAST)
    run.values(code, values)
    low, state = code == "volts-low", code in ("lost-neutral", "clock-stepped")
    beyond = [v is not None and (v > 0 if state else v < LIMIT if low else v > LIMIT) for v in values]
    for second, _, _, before, after in run.told():
        if after == "unacknowledged" and before != "unacknowledged":
            assert all(beyond[second - 2 : second + 1])
    raised = [second for second, *_, after in run.told() if after == "unacknowledged"]
    full = [second for second in range(2, len(values)) if all(beyond[second - 2 : second + 1])]
    assert raised[:1] == full[:1]


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(95.01, 200.0), max_size=80))
def test_no_flapping_inside_the_deadband(values: list[float]) -> None:
    """However the value moves above limit less deadband, an alarm is raised once and stays."""
    run = Run(**FAST)
    run.values("above-rating", [120.0] * 3 + values)
    assert len(run.told()) == 1


@settings(max_examples=60, deadline=None)
@given(st.lists(VALUES, max_size=60), st.integers(0, 60))
def test_acknowledging_never_clears(values: list[float | None], at: int) -> None:
    """With and without an acknowledgement the condition holds at the same moments."""
    plain, told = Run(**FAST), Run(**FAST)
    for second, value in enumerate([120.0] * 3 + values):
        for run in (plain, told):
            run.moment(obs("above-rating", value))
        if second >= at and told.state("above-rating") == "unacknowledged":
            told.acknowledge("above-rating")
        assert (plain.state("above-rating") in ACTIVE) == (told.state("above-rating") in ACTIVE)


@settings(max_examples=60, deadline=None)
@given(st.lists(VALUES, max_size=30), st.integers(1, 60), st.booleans())
def test_unknown_never_clears_nor_raises(values: list[float | None], gap: int, resumed: bool) -> None:  # noqa: FBT001 - drawn
    """Through a gap of any length, with a pause or not, every alarm stays as it was."""
    run = Run(**FAST)
    run.values("above-rating", values)
    before = run.judge.alarms()
    run.moment(obs("above-rating", None), resumed=resumed)
    run.values("above-rating", [None] * gap)
    assert [alarm.state for alarm in run.judge.alarms()] == [alarm.state for alarm in before]


MOMENTS = st.lists(st.lists(VALUES, min_size=len(CODES), max_size=len(CODES)), min_size=1, max_size=25)


def observations(values: list[float | None]) -> list[Observation]:
    """Give one observation of each code; those about volts are explained by the lost neutral."""
    parents = {"volts-low": (("lost-neutral", "A1"),)}
    return [obs(code, value, parents=parents.get(code, ())) for code, value in zip(CODES, values, strict=True)]


@settings(max_examples=40, deadline=None)
@given(MOMENTS, st.randoms(use_true_random=False))
def test_the_order_within_a_moment_says_nothing(moments: list[list[float | None]], chance: random.Random) -> None:
    """The same observations in any order give the same changes."""
    straight, shuffled = Run(**FAST), Run(**FAST)
    for values in moments:
        mixed = observations(values)
        chance.shuffle(mixed)
        assert straight.moment(*observations(values)) == shuffled.moment(*mixed)


@settings(max_examples=60, deadline=None)
@given(MOMENTS, MOMENTS, st.sampled_from([*CODES, ""]), st.booleans())
def test_a_restart_is_a_pause(
    first: list[list[float | None]],
    then: list[list[float | None]],
    code: str,
    shelve: bool,  # noqa: FBT001 - drawn
) -> None:
    """A judge restored from the alarms as they stood goes on as the one that ran through a pause."""
    run = Run(**FAST)
    for values in first:
        run.moment(*observations(values))
    at_ms = run.second * 1000
    try:
        if shelve:
            run.judge.shelve(code, "A1", "Mara", "known", at_ms + 4000, at_ms)
        else:
            run.judge.acknowledge(code, "A1", "Mara", at_ms)
    except CannotDo:
        pass
    restored = Judge(run.show)
    restored.restore(run.judge.alarms())
    assert restored.alarms() == run.judge.alarms()
    for number, values in enumerate(then, run.second + 10):
        now = Now(number * 1000, resumed=number == run.second + 10)
        assert restored.judge(observations(values), now) == run.judge.judge(observations(values), now)
        assert restored.alarms() == run.judge.alarms()


@settings(max_examples=40, deadline=None)
@given(st.integers(1, LONGEST_SHELF_MS), st.lists(VALUES, max_size=20), st.booleans())
def test_nothing_is_shelved_for_ever(length_ms: int, values: list[float | None], resumed: bool) -> None:  # noqa: FBT001 - drawn
    """At the first moment at or after its end no shelf is left, whatever came before."""
    run = Run(**FAST)
    run.moment(obs("above-rating", 0.0))
    run.judge.shelve("above-rating", "A1", "Mara", "known", length_ms, 0)
    for value in values:
        run.moment(obs("above-rating", value))
    end = Now(max(length_ms, run.second * 1000), resumed=resumed)
    run.judge.judge([obs("above-rating", 120.0)], end)
    assert run.state("above-rating") != "shelved"
