"""The log and the room for a load: every line whole, nothing stale told as present, no permission given."""

from __future__ import annotations

from dataclasses import replace

import pytest

from monitor.dashboard.app import LegwatchApp
from monitor.dashboard.entries import load_in, why_no_load
from monitor.dashboard.logpage import NO_LOG, Pages, log_page
from monitor.dashboard.logscreen import LogScreen
from monitor.dashboard.pieces import Cells, text_of, width_of
from monitor.dashboard.roompage import STOPPED, Answer, room_page
from monitor.dashboard.roomscreen import RoomScreen
from monitor.engine.history import Entry
from tests.monitor.dashboard import snapshots
from tests.monitor.dashboard.past import LINES, Past
from tests.monitor.dashboard.seat import Desk, Feed, drawn, said, shown_keys, type_line
from tests.monitor.dashboard.test_rows import GLYPHS

SIZE = (80, 24)
ZONE = "America/Halifax"
NOW = snapshots.NOW_MS


def seated() -> tuple[Feed, Past, LegwatchApp]:
    """Give a dashboard with a past."""
    feed, past = Feed(snapshots.troubled()), Past()
    return feed, past, LegwatchApp(feed, Desk(), history=past)


def log_lines(pages: Pages | None, width: int = 80) -> list[str]:
    """Give the lines of the log's page."""
    page = log_page(pages, ZONE, Cells(width, 20))
    assert {width_of(line) for line in (*page.head, *page.body)} == {width}
    return [text_of(line).rstrip() for line in (*page.head, *page.body)]


def room_lines(width: int = 80, watts: float = 700.0, *, running: bool = True) -> list[str]:
    """Give the lines of an answer."""
    shown = snapshots.troubled() if running else snapshots.stopped()
    page = room_page(shown, Cells(width, 18), Answer(watts, 1.0, NOW, Past().room(watts, 1.0)), can_answer=True)
    assert {width_of(line) for line in (*page.head, *page.body)} == {width}
    return [text_of(line).rstrip() for line in (*page.head, *page.body)]


def test_an_entry_says_when_what_where_who_and_the_sentence() -> None:
    """Times stand in the show's zone; another day's has its date."""
    yesterday = Entry(NOW - 86_400_000, "event", "B5", "", "its meter fell silent")
    lines = log_lines(Pages((*LINES, yesterday), NOW))
    assert lines[0].strip() == "Log, 6 entries   newest first, read at 22:03:07"
    assert "22:01:32    note  A3     Noor: kettle stays, the urn goes" in lines
    assert lines[-1] == "01-07 22:03 event B5     its meter fell silent"


@pytest.mark.parametrize("width", [40, 60, 80, 120])
def test_no_word_of_a_sentence_is_lost(width: int) -> None:
    """Long sentences go on below."""
    text = "one two three " * 20
    lines = log_lines(Pages((Entry(NOW, "note", "a-long-place-name", "Noor", text),), NOW), width)
    assert " ".join(" ".join(line[19:] for line in lines[2:]).split()).endswith(text.strip())


def test_a_search_says_how_many_it_found() -> None:
    """Words, places, kinds and names are searched, whatever their case."""
    for search, found in (("NOOR", 1), ("a3", 2), ("refuel", 1), ("nothing like it", 0)):
        lines = log_lines(Pages(LINES, NOW, search))
        assert lines[0].strip().startswith(f"Log, {found} of 5 entries: {search}")
        assert len(lines) == 2 + found or found > 1


def test_what_people_wrote_cannot_steer_the_terminal() -> None:
    """Control characters arrive as question marks."""
    evil = Entry(NOW, "note", "\x1b[2J", "\x07", "\x1b]0;x")
    assert all(line.isprintable() for line in log_lines(Pages((evil,), NOW, "\x1b")))


def test_without_a_log_it_is_said() -> None:
    """No empty list that could be taken for a quiet night."""
    assert log_lines(None)[0].strip() == NO_LOG


async def test_log_searches_by_keys() -> None:
    """``l`` opens the log, ``/`` searches it, an empty search shows all again."""
    _, _, app = seated()
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("l")
        assert isinstance(app.screen, LogScreen)
        await pilot.press("end", "slash")
        await type_line(pilot, "urn")
        assert "1 of 45 entries: urn" in drawn(app)[0]
        assert "the urn goes" in drawn(app)[2]
        await pilot.press("slash", *("backspace" for _ in "urn"), "enter")
        await pilot.pause()
        assert "Log, 45 entries" in drawn(app)[0]
        assert "l" not in shown_keys(app)


async def test_log_reads_on_at_its_top_and_keeps_still_below() -> None:
    """New lines appear by themselves, but never push away what somebody reads."""
    feed, _, app = seated()
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("l")
        feed.now = replace(feed.now, time_ms=NOW + 3_000)
        app.look()
        await pilot.pause()
        assert "read at 22:03:10" in drawn(app)[0]
        await pilot.press("down")
        feed.now = replace(feed.now, time_ms=NOW + 9_000)
        app.look()
        await pilot.pause()
        assert "read at 22:03:10" in drawn(app)[0]


@pytest.mark.parametrize(
    ("text", "load"),
    [
        ("1200", (1200.0, 1.0)),
        (" 1200 @ 0.9 ", (1200.0, 0.9)),
        ("1200W@.9", (1200.0, 0.9)),
        ("1.2 kW", (1200.0, 1.0)),
        ("", None),
        ("0", None),
        ("-5", None),
        ("1200@0", None),
        ("1200@90", None),
        ("1,200", None),
        ("1e9", None),
        ("9999999", None),
        ("watts", None),
    ],
)
def test_loads_as_people_type_them(text: str, load: tuple[float, float] | None) -> None:
    """What could be misread is refused rather than guessed."""
    assert load_in(text) == load
    assert bool(why_no_load(text)) == (load is None)


def test_every_circuit_has_its_answer_and_what_limits_it() -> None:
    """Fits, fits as far as it was checked, does not fit, not checked: four different things."""
    lines = room_lines()
    assert lines[0].strip() == "Room for 700 W at power factor 1, at 22:03:07"
    assert lines[-5].split() == ["fits", "A6", "L1", "16.0", "A6"]
    assert lines[-4].endswith("fits where checked A2      L2       6.3 A2  not checked: boxA/L2")
    assert lines[-3].split() == ["does", "not", "fit", "A1", "L1", "5.2", "A1"]
    assert lines[-2].split() == ["▲near", "does", "not", "fit", "B1", "L1", "-1.3", "B1"]
    assert lines[-1].endswith("not checked        A4      L2         -   not checked: A4, boxA/L2")


def test_a_circuit_without_volts_never_fits() -> None:
    """Behind an open breaker there are no amps and much room: that is not told as a fit."""
    opened = snapshots.changed(snapshots.quiet(), {"A6": snapshots.live(0.0, 0.0), "A2": snapshots.live(9.7, 59.0)})
    page = room_page(opened, Cells(80, 18), Answer(700.0, 1.0, NOW, Past().room(700.0, 1.0)), can_answer=True)
    lines = [text_of(line).split() for line in page.body]
    assert lines[0][:3] == ["volts", "gone", "A6"]
    assert lines[1][:3] == ["volts", "gone", "A2"]


@pytest.mark.parametrize("width", [40, 60, 80, 120])
def test_it_says_that_it_is_no_permission(width: int) -> None:
    """At every width, in the glyphs of a Linux console."""
    text = " ".join(" ".join(room_lines(width)).split())
    assert "By measured values and the site's continuous policy. No permission: a qualified person decides." in text
    assert {char for char in text if not char.isascii()} <= GLYPHS


def test_places_not_checked_are_counted_where_their_names_have_no_room() -> None:
    """They are never silently left out."""
    assert room_lines(60)[-4].endswith("1 not checked")


def test_after_the_logger_stopped_no_room_is_told() -> None:
    """An answer from before goes away."""
    text = " ".join(" ".join(room_lines(running=False)).split())
    assert STOPPED in text
    assert "fits" not in text


async def test_room_is_asked_from_any_screen_and_answered_anew() -> None:
    """``h`` asks at once, refuses what is no load, and works the answer out again as time goes on."""
    feed, past, app = seated()
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("a", "h")
        await pilot.pause()
        assert isinstance(app.screen, RoomScreen)
        assert said(app) == "Room for how many watts (1200 or 1200@0.9)?"
        await type_line(pilot, "much")
        assert said(app).startswith("Watts, then @")
        await pilot.press(*("backspace" for _ in "much"))
        await type_line(pilot, "700@0.9")
        assert past.loads == [(700.0, 0.9)]
        assert "Room for 700 W at power factor 0.9, at 22:03:07" in drawn(app)[0]
        feed.now = replace(feed.now, time_ms=NOW + 5_000)
        app.look()
        await pilot.pause()
        assert past.loads == [(700.0, 0.9)] * 2
        assert ", at 22:03:12" in drawn(app)[0]


async def test_room_is_not_worked_out_once_the_logger_has_stopped() -> None:
    """Nothing is asked of values that are not live."""
    feed, past, app = seated()
    feed.now = snapshots.stopped()
    app = LegwatchApp(feed, Desk(), history=past)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("h")
        await type_line(pilot, "700")
        assert not past.loads
        assert "The logger has stopped" in drawn(app)[0]


async def test_without_a_history_nothing_is_asked() -> None:
    """The screen says what it lacks."""
    app = LegwatchApp(Feed(snapshots.troubled()))
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("h")
        await pilot.pause()
        assert said(app) == ""
        assert "can't work out room" in drawn(app)[0]
        await pilot.press("l")
        assert NO_LOG in drawn(app)[0]
