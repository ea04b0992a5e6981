"""Whose turn it is, on a clock of the test's own."""

from __future__ import annotations

import itertools

from hypothesis import given
from hypothesis import strategies as st

from drivers.bus.schedule import FIRST_BACKOFF_S, LONGEST_BACKOFF_S, Schedule

Turns = list[tuple[float, int]]


def run(
    units: range,
    interval_s: float,
    seconds: float,
    cost_s: dict[int, float],
    dark: dict[int, float],
    urgent: frozenset[int] = frozenset(),
) -> Turns:
    """Play ``seconds`` of a bus: a poll costs ``cost_s`` of its unit; ``dark`` units answer only from then on."""
    schedule = Schedule(tuple(units), interval_s, 0.0)
    now_s, turns = 0.0, []
    while now_s < seconds:
        unit, wait_s = schedule.next(now_s, urgent)
        now_s += wait_s
        turns.append((now_s, unit))
        begun_s, now_s = now_s, now_s + cost_s[unit]
        schedule.done(unit, begun_s, now_s, answered=begun_s >= dark.get(unit, 0.0))
    return turns


@given(st.integers(1, 12), st.floats(0.0, 5.0), st.floats(0.001, 0.2))
def test_everyone_has_the_same_share(meters: int, interval_s: float, cost_s: float) -> None:
    """Whether the interval or the line is the limit: no meter is ever two polls ahead of another."""
    turns = run(range(meters), interval_s, 20.0, dict.fromkeys(range(meters), cost_s), {})
    counts = dict.fromkeys(range(meters), 0)
    for _, unit in turns:
        counts[unit] += 1
        assert max(counts.values()) - min(counts.values()) <= 1


@given(st.integers(1, 12), st.floats(0.5, 5.0), st.floats(0.001, 0.04))
def test_the_interval_is_kept_without_drift(meters: int, interval_s: float, cost_s: float) -> None:
    """Where the line has room, poll n of a meter comes n intervals after the start, or within one round."""
    turns = run(range(meters), interval_s, 20.0, dict.fromkeys(range(meters), cost_s), {})
    for number, (at_s, _) in enumerate(turn for turn in turns if turn[1] == 0):
        assert number * interval_s - 1e-6 <= at_s <= number * interval_s + meters * cost_s + 1e-6


@given(st.integers(1, 11), st.floats(0.02, 0.2), st.floats(0.2, 2.0), st.sampled_from([0.0, 0.5, 1.0]))
def test_dark_meters_leave_the_others_half_their_rate(
    dark: int, cost_s: float, timeout_s: float, interval_s: float
) -> None:
    """However many of twelve are dark, after the first round the others keep half of what they had before."""
    units, lit = range(12), range(dark, 12)
    costs = {unit: timeout_s if unit < dark else cost_s for unit in units}
    first_round_s, seconds = 12 * timeout_s + 1.0, 60.0

    def rate(turns: Turns) -> float:
        return sum(unit in lit and at_s >= first_round_s for at_s, unit in turns) / (seconds - first_round_s)

    alone = rate(run(lit, interval_s, seconds, costs, {}))
    assert rate(run(units, interval_s, seconds, costs, dict.fromkeys(range(dark), 1e9))) >= 0.45 * alone


def longest_wait(turns: Turns, unit: int, after_s: float = 5.0) -> float:
    """Give the longest time between two polls of a unit [s]."""
    times = [at_s for at_s, one in turns if one == unit and at_s >= after_s]
    return max((later - earlier for earlier, later in itertools.pairwise(times)), default=float("inf"))


@given(st.integers(2, 40), st.floats(0.0, 2.0), st.floats(0.01, 0.2), st.data())
def test_nobody_waits_more_than_twice_as_long_for_urgent_ones(
    meters: int, interval_s: float, cost_s: float, data: st.DataObject
) -> None:
    """Any number of urgent meters, any load of the line: two rounds and two intervals are the bound for everyone."""
    urgent = frozenset(data.draw(st.sets(st.integers(0, meters - 1), max_size=meters)))
    turns = run(range(meters), interval_s, 60.0, dict.fromkeys(range(meters), cost_s), {}, urgent)
    bound = 2 * max(meters * cost_s, interval_s) + 3 * cost_s
    assert all(longest_wait(turns, unit) <= bound for unit in range(meters))


def test_an_urgent_meter_on_a_full_line_is_read_several_times_a_round() -> None:
    """24 meters of 62 ms want a poll a second and get one in 1.5 s; an urgent one is read every quarter of a second."""
    costs = dict.fromkeys(range(24), 0.062)
    plain = run(range(24), 1.0, 60.0, costs, {})
    helped = run(range(24), 1.0, 60.0, costs, {}, frozenset({7}))
    assert longest_wait(plain, 7) > 1.4
    assert longest_wait(helped, 7) < 0.4
    assert longest_wait(helped, 8) < 2.2


def test_a_line_with_room_reads_everybody_as_wanted() -> None:
    """Where every meter has its interval, urgency changes nothing."""
    costs = dict.fromkeys(range(4), 0.05)
    assert run(range(4), 1.0, 20.0, costs, {}, frozenset({1})) == run(range(4), 1.0, 20.0, costs, {})


def test_a_silent_meter_is_not_urgent() -> None:
    """One that does not answer keeps to its waits, whatever it read before."""
    costs = dict.fromkeys(range(12), 0.1)
    dark = {3: 1e9}
    asked = [unit for _, unit in run(range(12), 1.0, 30.0, costs, dark, frozenset({3}))]
    plain = [unit for _, unit in run(range(12), 1.0, 30.0, costs, dark)]
    assert abs(asked.count(3) - plain.count(3)) <= 1


@given(st.floats(5.0, 40.0), st.integers(0, 11), st.floats(0.0, 1.0))
def test_a_meter_that_is_back_is_asked_within_five_seconds(back_s: float, others: int, interval_s: float) -> None:
    """One dark meter among others that answer."""
    costs = {0: 0.5, **dict.fromkeys(range(1, others + 1), 0.06)}
    turns = run(range(others + 1), interval_s, 60.0, costs, {0: back_s})
    asked_s = min(at_s for at_s, unit in turns if unit == 0 and at_s >= back_s)
    assert asked_s - back_s <= 5.0


def test_the_wait_grows_and_starts_over() -> None:
    """1, 2, 3.5, 3.5 seconds between the polls of a dark meter; one answer brings the interval back."""
    turns = run(range(1), 0.5, 30.0, {0: 0.0}, {0: 13.0})
    waits = [round(later - earlier, 6) for (earlier, _), (later, _) in itertools.pairwise(turns)]
    assert waits[:4] == [FIRST_BACKOFF_S, 2.0, LONGEST_BACKOFF_S, LONGEST_BACKOFF_S]
    assert set(waits[5:]) == {0.5}


def test_a_port_that_came_back_makes_everyone_due() -> None:
    """Backing off is forgotten."""
    schedule = Schedule((1, 2), 10.0, 0.0)
    schedule.done(1, 0.0, 1.0, answered=False)
    schedule.done(2, 1.0, 1.0, answered=True)
    schedule.begin(3.0)
    assert schedule.next(3.0) == (1, 0.0)
