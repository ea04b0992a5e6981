"""The figures about alarms, counted by hand and by a second way."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.alarms.lifecycle import State
from monitor.alarms.model import Alarm, AlarmChange, Priority
from monitor.alarms.stats import DAY_MS, TEN_MINUTES_MS, Cause, Stats, stats

DAY = DAY_MS // 1000


def change(
    second: int, state: str = "unacknowledged", before: str = "normal", where: str = "A1", since: int | None = None
) -> AlarmChange:
    """Give one change of an over-plan alarm."""
    since_ms = 1000 * (second if since is None else since)
    alarm = Alarm("over-plan", where, Priority.LOW, state, since_ms, second * 1000, "", None, 0.0)
    return AlarmChange(second * 1000, alarm, before)


def values(found: Stats) -> dict[str, float | None]:
    """Give the figures by name."""
    return {figure.name: figure.value for figure in found.figures}


def test_nothing_at_all() -> None:
    """Without alarms the counts are zero and the shares are not known; without time there is no rate."""
    found = stats([], 0, DAY_MS)
    assert values(found) | {"rate": 0.0, "peak": 0.0, "chattering": 0.0, "stale": 0.0, "top": None} == values(found)
    assert values(stats([], 5, 5))["rate"] is None
    assert all(figure.guidance and figure.source and figure.unit for figure in found.figures)


def verdicts(found: Stats) -> dict[str, tuple[bool | None, str]]:
    """Give the verdicts by name."""
    return {figure.name: (figure.within, figure.why_not.partition(":")[0]) for figure in found.figures}


def test_too_little_data_is_not_within() -> None:
    """Ten seconds, ten minutes, an hour, a day: each figure is judged from the time that its guidance counts in."""
    short = (None, "too short to judge")
    judged = ("rate", "peak", "flood", "chattering", "stale")
    for seconds, long_enough in ((10, ()), (600, judged[1:2]), (3600, ("rate", "peak", "chattering")), (DAY, judged)):
        found = verdicts(stats([change(5)], 0, 1000 * seconds))
        assert {name: found[name] for name in judged} == {
            name: (True, "") if name in long_enough else short for name in judged
        }
    assert verdicts(stats([change(5)], 0, DAY_MS))["top"] == (None, "too few alarms to judge")
    assert verdicts(stats([change(5)], 0, DAY_MS))["low"] == (None, "")


def test_what_more_data_cannot_mend_is_outside_at_once() -> None:
    """Eleven alarms in a minute, one of them three times: a peak and chattering; a rate and a flood wait."""
    found = verdicts(stats([change(n, where=f"A{max(n, 3)}") for n in range(11)], 0, 60_000))
    assert found["peak"] == found["chattering"] == (False, "")
    assert found["rate"] == found["flood"] == (None, "too short to judge")


def test_what_counts_as_an_alarm() -> None:
    """Raised, raised again and back from the shelf count; answers, ends and what joins a standing alarm don't."""
    found = stats(
        [
            change(1),
            change(2, "unacknowledged", "unacknowledged"),
            change(3, "acknowledged", "unacknowledged"),
            change(4, "normal", "acknowledged"),
            change(5, "unacknowledged", "returned-unacknowledged"),
            change(6, "shelved", "unacknowledged"),
            change(7, "unacknowledged", "shelved"),
        ],
        0,
        DAY_MS,
    )
    assert found.alarms == 3


def test_a_flood_begins_above_ten_and_ends_below_five() -> None:
    """Twelve in twelve seconds: it begins with the eleventh and ends when fewer than five are within ten minutes."""
    found = stats([change(n, where=f"A{n}") for n in range(12)], 0, DAY_MS)
    (flood,) = found.floods
    assert (flood.begin_ms, flood.end_ms, flood.alarms, flood.over) == (10_000, TEN_MINUTES_MS + 7_000, 12, True)
    assert values(found)["flood"] == pytest.approx(100 * 597 / DAY)


def test_a_flood_at_the_end_of_the_data() -> None:
    """It is told as not over."""
    (flood,) = stats([change(n) for n in range(30)], 0, 60_000).floods
    assert (flood.begin_ms, flood.end_ms, flood.over) == (10_000, 60_000, False)


def test_chattering() -> None:
    """Three times within a minute chatters; three times in more than a minute, or at two places, doesn't."""
    assert stats([change(s) for s in (0, 30, 59)], 0, DAY_MS).chattering == (("over-plan", "A1"),)
    assert stats([change(s) for s in (0, 30, 60)], 0, DAY_MS).chattering == ()
    assert stats([change(0), change(1), change(2, where="A2")], 0, DAY_MS).chattering == ()


def test_stale() -> None:
    """What held for more than 24 h, acknowledged or not, ended or not, begun before the data or not."""
    stale = (("over-plan", "A1"),)
    assert stats([change(0)], 0, DAY_MS).stale == ()
    assert stats([change(0)], 0, DAY_MS + 1).stale == stale
    held = [
        change(0),
        change(9, "acknowledged", "unacknowledged", since=0),
        change(DAY + 1, "normal", "acknowledged", since=0),
    ]
    assert stats(held, 0, 2 * DAY_MS).stale == stale
    assert stats([*held[:2], change(99, "normal", "acknowledged", since=0)], 0, 3 * DAY_MS).stale == ()
    assert stats([change(DAY + 5, "normal", "acknowledged", since=1)], DAY_MS, 2 * DAY_MS).stale == stale


def test_the_most_frequent() -> None:
    """The ten most frequent with their share, ties by name."""
    found = stats(
        [change(s, where=where) for s, where in enumerate(["B", "A", "B", *[f"C{n:02d}" for n in range(17)]])],
        0,
        DAY_MS,
    )
    assert found.top[:2] == (Cause("over-plan", "B", 2, 10.0), Cause("over-plan", "A", 1, 5.0))
    assert len(found.top) == 10
    assert values(found)["top"] == pytest.approx(55.0)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(0, 3000), max_size=60).map(sorted))
def test_the_peak_by_a_second_way(seconds: list[int]) -> None:
    """The worst ten minutes are the most of any ten minutes that end with an alarm."""
    found = stats([change(s) for s in seconds], 0, DAY_MS)
    slow = max((sum(end - 600 < s <= end for s in seconds) for end in seconds), default=0)
    assert values(found)["peak"] == slow
    assert bool(found.floods) == (slow > 10)


def test_words_are_those_of_the_life_cycle() -> None:
    """The states written in these tests exist."""
    assert {"normal", "unacknowledged", "acknowledged", "returned-unacknowledged", "shelved"} <= {
        s.value for s in State
    }
