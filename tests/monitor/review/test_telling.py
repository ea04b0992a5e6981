"""Incidents in words: what is said, and what must never be."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from monitor.incidents.model import Kind
from monitor.log.reader import LogReader
from monitor.review.past import found_between, places_of, window
from monitor.review.telling import detail_lines, list_lines
from monitor.review.then import glance_at, show_at
from monitor.review.wording import WHAT, plain, sure
from monitor.show.model import Point
from tests.monitor.log.findings import incident
from tests.monitor.log.logs import BEGIN_MS
from tests.monitor.review.logs import SHOW, TRIP, evening

if TYPE_CHECKING:
    from pathlib import Path

NEVER = re.compile(r"\b(safe|dead|isolated|nuisance|OK to|faulty|blame|caused by|because)\b", re.IGNORECASE)


@pytest.fixture
def log(tmp_path: Path) -> Path:
    """Give the log of the evening."""
    return evening(tmp_path)


def detail(log: Path) -> str:
    """Tell the first incident."""
    with LogReader(log) as reader:
        return "\n".join(detail_lines(reader, reader.incidents()[0], SHOW))


def test_the_list_says_where_what_how_sure_and_what_came_on_last(log: Path) -> None:
    """In the show's zone; gaps are counted and called unknown."""
    with LogReader(log) as reader:
        text = "\n".join(list_lines(found_between(reader, 0, 1 << 52), reader.count_steps(), glance_at(reader, "x")))
    assert "2026-09-21 11:24:00 -03:00  A1 (Key side)" in text
    assert "likely (overload-trip)" in text
    assert "Fan heater, not in the plan" in text
    assert "Loads on and off: 2; 1 came on that fit no planned load." in text
    assert re.search(r"Gaps in the readings: 4, the longest 41 s; what happened in them is not known", text)


def test_one_in_detail_has_both_sides_and_what_is_not_shown(log: Path) -> None:
    """For, against, beside; alternatives; steps, alarms with who, plan against measured, gaps."""
    text = detail(log)
    assert "2026-09-21, after 11:23:59 and by 11:24:00 -03:00" in text
    assert "for it: 27.6 A on a 20 A breaker" in text
    assert "against it: no other place fell" in text
    assert "opened-cause-not-shown (0.20)" in text
    assert "who or what opened the circuit" in text
    assert "+1494 W, +12.5 A: no planned load of that size" in text
    assert "acknowledged, by Ada" in text
    assert "A1: 22.5 A at 119.5 V, 10.0 A planned (+12.5 A against the plan), breaker 20 A" in text
    assert "not-logging" in text


def test_nothing_is_called_safe_and_no_cause_is_a_fact(log: Path) -> None:
    """Neither in the words for kinds nor in what is printed."""
    text = detail(log)
    assert NEVER.search(text + " ".join(WHAT.values())) is None
    assert "not a finding of cause" in text
    assert set(WHAT) == set(Kind)


def test_confidence_becomes_a_word() -> None:
    """Higher is never a weaker word, and even 1 is no certainty."""
    said = [sure(n / 100) for n in range(101)]
    order = ["weakly supported", "possible", "likely", "very likely"]
    assert sorted(said, key=order.index) == said
    assert set(said) == set(order)


def test_places_take_in_what_they_feed() -> None:
    """A feeder's incident is about its circuits too."""
    assert places_of(incident(points=(Point("boxA"),)), SHOW) == ("boxA", "A1", "A2")
    assert places_of(incident(points=(Point("source", "L1"),)), SHOW) == ("source", "A1", "A2")
    assert places_of(incident(), SHOW) == ("A1",)


def test_the_window_is_bounded() -> None:
    """Ten minutes before to two after, and never more than a part of a long incident."""
    begin_ms, end_ms = window(incident(second=TRIP, end_s=TRIP + 30))
    assert (begin_ms, end_ms) == (BEGIN_MS - 1000, BEGIN_MS + (TRIP + 150) * 1000)
    begin_ms, end_ms = window(incident(second=TRIP, end_s=TRIP + 36_000))
    assert end_ms - begin_ms < 3_600_000
    after_a_night = replace(incident(second=86_400), earliest_ms=BEGIN_MS)  # nothing was read all night
    begin_ms, end_ms = window(after_a_night)
    assert end_ms - begin_ms < 3_600_000


def test_found_between_keeps_what_touches_the_stretch(log: Path) -> None:
    """Incidents that begin or end in it, of the kinds asked for."""
    with LogReader(log) as reader:
        late = found_between(reader, BEGIN_MS + (TRIP + 10) * 1000, 1 << 52)
        assert [one.number for one in late.incidents] == [1, 2]
        assert late.steps == ()
        silent = found_between(reader, 0, 1 << 52, ("meter-silent",))
        assert [one.number for one in silent.incidents] == [2]
        assert found_between(reader, 0, BEGIN_MS).incidents == ()


def test_the_show_is_the_one_in_force(log: Path) -> None:
    """Also for a time before the first version."""
    with LogReader(log) as reader:
        assert show_at(reader, 0, "x").version.number == 1
        assert show_at(reader, None, "x").show.name == SHOW.name


def test_names_can_not_steer_a_terminal() -> None:
    """Escape sequences of a name become blanks."""
    assert plain("Key\x1b[2J side\r\n") == "Key [2J side  "
