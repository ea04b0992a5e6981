"""Asking the logger from the screen, key by key: what reaches the desk, what is said, and what is never pretended."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from textual.widgets import Input

from monitor.dashboard import asking
from monitor.dashboard.alarmscreen import AlarmsScreen
from monitor.dashboard.keys import Keys
from tests.monitor.dashboard import snapshots
from tests.monitor.dashboard.ringing import FIRST, SECOND, SIZE, seated
from tests.monitor.dashboard.seat import drawn, said, shown_keys, type_line

if TYPE_CHECKING:
    from monitor.engine.snapshot import AlarmView


async def test_acknowledging_asks_for_the_name_once() -> None:
    """The first request asks for a name, later ones take the same; the request is about the chosen alarm."""
    _, desk, app = seated()
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("a", "k")
        assert said(app) == "Your name, for the log:"
        assert not desk.asked
        await type_line(pilot, " Noor ")
        await pilot.press("down", "k")
        await pilot.pause()
        asked = [(r.kind, r.who, r.code, r.where) for r in desk.asked]
        assert asked == [("acknowledge", "Noor", a.code, a.where) for a in (FIRST, SECOND)]
        assert app.who == "Noor"
        assert "@ name: Noor" in " ".join(line.text for line in map(app.screen.query_one(Keys).render_line, (0, 1)))


async def test_nothing_is_pretended() -> None:
    """A request is said to be waiting, and the list stays as it is until a Snapshot shows the effect."""
    feed, _, app = seated()
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("a", "k")
        before = drawn(app)
        await type_line(pilot, "Noor")
        waits = "asked: acknowledge far-above-rating at A3, as Noor; waiting for the logger"
        assert said(app) == waits
        feed.now = replace(feed.now, time_ms=feed.now.time_ms + 1000)
        app.look()
        await pilot.pause()
        assert said(app) == waits
        assert drawn(app) == before
        done = replace(FIRST, state="acknowledged", who="Noor")
        feed.now = replace(feed.now, alarms=(done, *feed.now.alarms[1:]))
        app.look()
        await pilot.pause()
        assert said(app) == ""
        assert any(line.startswith("→ ▲AMPS") and line.rstrip().endswith("ack. Noor") for line in drawn(app))


async def test_no_answer_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where no effect shows in time, that is said, with what to do."""
    monkeypatch.setattr(asking, "ANSWER_S", 0.05)
    _, _, app = seated()
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("a", "k")
        await type_line(pilot, "Noor")
        for _ in range(100):
            if said(app).startswith("No effect seen"):
                break
            await pilot.pause(0.05)
        assert "acknowledge far-above-rating at A3" in said(app)
        assert "then ask again" in said(app)


async def test_an_empty_name_is_refused_and_esc_leaves() -> None:
    """Enter without a name asks on; Esc leaves the question, asks nothing and stays on the screen."""
    _, desk, app = seated()
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("a", "k", "space", "enter")
        await pilot.pause()
        assert said(app) == "A name is needed, for the log:"
        assert shown_keys(app) == ["Enter", "Esc"]
        await pilot.press("escape")
        await pilot.pause()
        assert said(app) == ""
        assert isinstance(app.screen, AlarmsScreen)
        assert not desk.asked
        assert app.who == ""
        await pilot.press("k")
        assert said(app) == "Your name, for the log:"


async def test_what_is_typed_is_no_key() -> None:
    """While a question is put, letters go into the line, even after a click elsewhere."""
    _, desk, app = seated()
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("a", "k", "q", "b")
        await pilot.click("#body", offset=(30, 3))
        await pilot.pause()
        await pilot.press("a", "at", "K")
        assert isinstance(app.screen, AlarmsScreen)
        assert app.screen.query_one(Input).value == "qba@K"
        await pilot.press("enter")
        await pilot.pause()
        assert [request.where for request in desk.asked] == ["A3"]


async def test_acknowledge_all_asks_once_more() -> None:
    """``K`` names how many, Esc leaves it, Enter asks for each that nobody has acknowledged."""
    _, desk, app = seated()
    async with app.run_test(size=SIZE) as pilot:
        app.who = "Noor"
        await pilot.press("a", "K")
        await pilot.pause()
        assert said(app) == "Acknowledge all 4 as Noor?"
        await pilot.press("escape", "K")
        await pilot.pause()
        assert not desk.asked
        await pilot.press("enter")
        await pilot.pause()
        assert {request.where for request in desk.asked} == {"A3", "B2", "B1", "source"}
        assert said(app) == "asked: acknowledge 4 alarms, as Noor; waiting for the logger"


async def test_nothing_left_to_acknowledge() -> None:
    """``K`` with everything acknowledged says so."""
    _, desk, app = seated(snapshots.NOTED)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("a", "K")
        await pilot.pause()
        assert said(app) == "Every alarm has been acknowledged."
        assert not desk.asked


async def test_shelving_needs_why_and_how_long() -> None:
    """``v`` asks for the reason and the minutes, refuses what is neither, and hands in both."""
    _, desk, app = seated()
    async with app.run_test(size=SIZE) as pilot:
        app.who = "Noor"
        await pilot.press("a", "v", "enter")
        await pilot.pause()
        assert said(app) == "A few words are needed:"
        await type_line(pilot, "heater agreed")
        assert said(app) == "For how many minutes?"
        await type_line(pilot, "for ever")
        assert said(app) == "Whole minutes from 1 to 1440:"
        assert not desk.asked
        await pilot.press(*["backspace"] * 8)
        await type_line(pilot, "45")
        (request,) = desk.asked
        assert (request.kind, request.text, request.minutes, request.where) == ("shelve", "heater agreed", 45.0, "A3")


async def test_shelving_left_half_way_asks_nothing() -> None:
    """Esc at the minutes leaves the whole request."""
    _, desk, app = seated()
    async with app.run_test(size=SIZE) as pilot:
        app.who = "Noor"
        await pilot.press("a", "v")
        await type_line(pilot, "agreed")
        await pilot.press("escape")
        await pilot.pause()
        assert not desk.asked
        assert said(app) == ""


@pytest.mark.parametrize(
    ("alarm", "key", "kind"),
    [(snapshots.SHELVED, "V", "unshelve"), (snapshots.LATCHED, "x", "reset"), (snapshots.RETURNED, "k", "acknowledge")],
)
async def test_keys_of_the_other_states(alarm: AlarmView, key: str, kind: str) -> None:
    """Each state's own key is shown and asks for its own."""
    _, desk, app = seated(alarm)
    async with app.run_test(size=SIZE) as pilot:
        app.who = "Noor"
        await pilot.press("a")
        assert key in shown_keys(app)
        await pilot.press(key)
        await pilot.pause()
        assert [(r.kind, r.code, r.where) for r in desk.asked] == [(kind, alarm.code, alarm.where)]


@pytest.mark.parametrize(
    ("alarm", "key", "reason"),
    [
        (snapshots.NOTED, "k", "Noor has acknowledged it already."),
        (snapshots.FAR_ABOVE, "x", "Only an alarm that latches is reset."),
        (snapshots.FAR_ABOVE, "V", "It is not on the shelf."),
        (snapshots.LATCHED, "v", "This alarm latches and can't be shelved: acknowledge it."),
    ],
)
async def test_a_key_without_use_says_why(alarm: AlarmView, key: str, reason: str) -> None:
    """A key that the chosen alarm has no use for is not shown, and answers in a sentence."""
    _, desk, app = seated(alarm)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("a")
        assert key not in shown_keys(app)
        await pilot.press(key)
        await pilot.pause()
        assert said(app) == reason
        assert not desk.asked


async def test_a_note_on_the_chosen_place() -> None:
    """On the alarms a note is about the chosen alarm's place."""
    _, desk, app = seated()
    async with app.run_test(size=SIZE) as pilot:
        app.who = "Noor"
        await pilot.press("a", "down", "n")
        await pilot.pause()
        assert said(app) == "Note on B2:"
        await type_line(pilot, "second panel moved")
        (request,) = desk.asked
        assert (request.kind, request.where, request.text) == ("note", "B2", "second panel moved")
        assert said(app) == "asked: note on B2, as Noor; only the log shows whether it was kept"


async def test_a_note_from_the_circuits_asks_for_the_place() -> None:
    """Elsewhere the place is asked for; a place that isn't there is refused, none is the whole show."""
    _, desk, app = seated()
    async with app.run_test(size=SIZE) as pilot:
        app.who = "Noor"
        await pilot.press("n")
        await type_line(pilot, "A33")
        assert said(app) == "No such circuit, box or source:"
        await pilot.press("backspace")
        await type_line(pilot, "")
        await type_line(pilot, "kettle")
        await pilot.press("n")
        await type_line(pilot, "")
        await type_line(pilot, "dinner")
        assert [(request.where, request.text) for request in desk.asked] == [("A3", "kettle"), ("", "dinner")]


async def test_the_name_can_be_changed() -> None:
    """``@`` gives the name to change, and Esc keeps it."""
    _, desk, app = seated()
    async with app.run_test(size=SIZE) as pilot:
        app.who = "Noor"
        await pilot.press("at", "escape")
        await pilot.pause()
        assert app.who == "Noor"
        await pilot.press("at", *["backspace"] * 4)
        await type_line(pilot, "Ilse")
        await pilot.press("a", "k")
        await pilot.pause()
        assert [request.who for request in desk.asked] == ["Ilse"]


async def test_the_bell_rings_once_for_a_new_alarm() -> None:
    """No bell for what stands at the start, one for what is new, none for the same again."""
    feed, _, app = seated(FIRST)
    async with app.run_test(size=SIZE):
        assert app.bells == 0
        for seconds in (1, 2):
            feed.now = replace(feed.now, alarms=(FIRST, SECOND), time_ms=snapshots.NOW_MS + 1000 * seconds)
            app.look()
            assert app.bells == 1


async def test_muting_the_bell() -> None:
    """``b`` asks for the name and the minutes, says so in the head and the log, and new alarms are quiet; 0 ends it."""
    feed, desk, app = seated(FIRST)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("b")
        await type_line(pilot, "Noor")
        await type_line(pilot, "20")
        assert drawn(app, "strip")[0].rstrip().endswith("bell muted until 22:23 by Noor")
        assert [(r.kind, r.who, r.text) for r in desk.asked] == [
            ("note", "Noor", "bell muted for 20 minutes on one screen")
        ]
        feed.now = replace(feed.now, alarms=(FIRST, SECOND), time_ms=snapshots.NOW_MS + 1000)
        app.look()
        assert app.bells == 0
        await pilot.press("b")
        await type_line(pilot, "0")
        assert "muted" not in drawn(app, "strip")[0]
        assert desk.asked[-1].text == "bell rings on one screen again"


async def test_a_mute_ends_by_itself() -> None:
    """Once its time has come the head says nothing of it any more."""
    feed, _, app = seated(FIRST)
    async with app.run_test(size=SIZE) as pilot:
        app.who = "Noor"
        await pilot.press("b")
        await type_line(pilot, "1")
        feed.now = replace(feed.now, time_ms=snapshots.NOW_MS + 60_000)
        app.look()
        await pilot.pause()
        assert "muted" not in drawn(app, "strip")[0]
