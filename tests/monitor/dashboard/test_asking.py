"""Asking the logger from the screen, key by key: what reaches the desk, what is said, and what is never pretended."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from textual.widgets import Input

from monitor.dashboard import asking
from monitor.dashboard.alarmscreen import AlarmsScreen
from monitor.dashboard.app import LegwatchApp
from monitor.dashboard.circuitscreen import CircuitsScreen
from monitor.dashboard.keys import Keys
from monitor.dashboard.panel import Panel
from monitor.recorder.inbox import collect, post
from tests.monitor.dashboard import snapshots
from tests.monitor.dashboard.seat import Desk, Feed, click_key, drawn, said, shown_keys, type_line

if TYPE_CHECKING:
    from pathlib import Path

    from monitor.engine.requests import Request
    from monitor.engine.snapshot import AlarmView

SIZE = (80, 24)
FIRST, SECOND = snapshots.FAR_ABOVE, snapshots.LOW_VOLTS


class Ringing(LegwatchApp):
    """A dashboard that counts its bells: under test there is no terminal to ring."""

    bells = 0

    def bell(self) -> None:
        """Count."""
        self.bells += 1


def seated(*alarms: AlarmView) -> tuple[Feed, Desk, Ringing]:
    """Give a dashboard with these alarms, or one of every state."""
    now = replace(snapshots.quiet(), alarms=alarms) if alarms else snapshots.alarmed()
    feed, desk = Feed(now), Desk()
    return feed, desk, Ringing(feed, desk)


def chosen(app: LegwatchApp) -> AlarmView | None:
    """Give the chosen alarm."""
    assert isinstance(app.screen, AlarmsScreen)
    return app.screen.chosen


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


async def test_without_a_desk_the_keys_say_so() -> None:
    """A screen that can only watch shows no keys that ask, says so among them and when one is pressed; it can mute."""
    app = LegwatchApp(Feed(snapshots.alarmed()))
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("a")
        assert not set(shown_keys(app)) & set("kKvVxn")
        assert app.screen.query_one(Keys).hints[-1].does == "(watching)"
        for key in ("k", "K", "v", "n"):
            await pilot.press(key)
            await pilot.pause()
            assert said(app) == "This screen can only watch: it can ask nothing of the logger."
        await pilot.press("b")
        await type_line(pilot, "Noor")
        await type_line(pilot, "5")
        assert said(app) == "bell muted for 5 minutes on one screen; this is not in the log"


async def test_nothing_is_asked_of_a_stopped_logger() -> None:
    """With the logger stopped the list says that it is past, and a request is refused instead of lying in wait."""
    desk = Desk()
    app = LegwatchApp(Feed(replace(snapshots.alarmed(), logger=snapshots.stopped().logger)), desk)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("a", "k")
        await pilot.pause()
        assert said(app).startswith("The logger has stopped")
        assert "Alarms as they stood when the logger stopped" in drawn(app)[0]
        assert not desk.asked


async def test_the_logger_stops_while_a_question_is_put() -> None:
    """A request that was typed while the logger stopped is refused in the end."""
    feed, desk, app = seated()
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("a", "k")
        feed.now = replace(feed.now, logger=snapshots.stopped().logger)
        app.look()
        await type_line(pilot, "Noor")
        assert said(app).startswith("The logger has stopped")
        assert not desk.asked


async def test_a_folder_that_cannot_be_written_is_said() -> None:
    """An error of the desk is a sentence with the reason and whom to ask, whole at 60 columns."""
    app = LegwatchApp(Feed(snapshots.alarmed()), Desk(PermissionError(13, "Permission denied")))
    async with app.run_test(size=(60, 20)) as pilot:
        app.who = "Noor"
        await pilot.press("a", "k")
        await pilot.pause()
        assert said(app).startswith("Not handed in, the log's folder can't be written: Permission denied.")
        assert app.screen.query_one("#said").region.height == 2


async def test_a_request_reaches_the_folder_beside_the_log(tmp_path: Path) -> None:
    """Through the real inbox the logger finds the request, whole and only once."""
    log = tmp_path / "set.sqlite"

    class Inbox:
        def ask(self, request: Request) -> None:
            post(log, request)

    app = LegwatchApp(Feed(snapshots.alarmed()), Inbox())
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("a", "k")
        await type_line(pilot, "Zoë")
    (request,) = collect(log)
    assert not isinstance(request, str)
    assert (request.kind, request.who, request.code, request.where) == ("acknowledge", "Zoë", FIRST.code, "A3")
    assert list(collect(log)) == []


async def test_the_cursor_stays_with_its_alarm() -> None:
    """The chosen alarm stays chosen wherever it moves in the list, and what is below it follows."""
    feed, _, app = seated()
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("a", "down")
        assert chosen(app) == SECOND
        seen = replace(SECOND, state="acknowledged", who="Ilse")
        feed.now = replace(feed.now, alarms=tuple(seen if alarm == SECOND else alarm for alarm in feed.now.alarms))
        app.look()
        await pilot.pause()
        assert chosen(app) == seen
        assert "106.8 V" in drawn(app, "detail")[1]


async def test_an_alarm_that_goes_leaves_none_chosen() -> None:
    """No key may meet another alarm than the one that was meant; the arrow takes up where the list was left."""
    feed, desk, app = seated(FIRST, SECOND, snapshots.LONG)
    async with app.run_test(size=SIZE) as pilot:
        app.who = "Noor"
        await pilot.press("a", "down")
        feed.now = replace(feed.now, alarms=(FIRST, snapshots.LONG))
        app.look()
        await pilot.press("k")
        await pilot.pause()
        assert said(app) == "No alarm is chosen: ▲▼ choose one."
        assert "None chosen" in drawn(app, "detail")[1]
        assert not desk.asked
        await pilot.press("down")
        assert chosen(app) == snapshots.LONG


async def test_choosing_with_keys_and_mouse() -> None:
    """Arrows, Home, End and a click choose; the list scrolls with the chosen one, a click on a title does nothing."""
    _, _, app = seated()
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("a", "end")
        assert chosen(app) == snapshots.SHELVED
        assert any(line.startswith("→ ▲plan") for line in drawn(app))
        await pilot.press("home")
        assert chosen(app) == FIRST
        rows = drawn(app)
        await pilot.click("#body", offset=(20, next(y for y, row in enumerate(rows) if "▲near" in row)))
        await pilot.pause()
        assert chosen(app) == snapshots.LONG
        await pilot.click("#body", offset=(20, next(y for y, row in enumerate(rows) if "Not acknowledged" in row)))
        await pilot.pause()
        assert chosen(app) == snapshots.LONG


async def test_reading_on_in_a_long_alarm() -> None:
    """On a small screen the chosen alarm is read on with PgDn; another one begins at its start."""
    _, _, app = seated()
    async with app.run_test(size=(60, 20)) as pilot:
        await pilot.press("a")
        assert "do now" in "".join(drawn(app, "detail"))
        assert "folded" not in (first := drawn(app, "detail"))
        await pilot.press("pagedown", "pagedown", "pagedown")
        assert "state   urgent; unacknowledged" in drawn(app, "detail")[-1]
        await pilot.press("down", "up")
        assert drawn(app, "detail") == first


async def test_clicking_a_key_asks() -> None:
    """The keys of the alarms can be clicked, and so can Esc in a question."""
    _, desk, app = seated()
    async with app.run_test(size=SIZE) as pilot:
        await click_key(pilot, "a")
        await click_key(pilot, "k")
        assert said(app) == "Your name, for the log:"
        await click_key(pilot, "Esc")
        assert said(app) == ""
        await click_key(pilot, "Esc")
        assert isinstance(app.screen, CircuitsScreen)
        assert not desk.asked


async def test_every_size_with_a_question_put() -> None:
    """Resizing while a question is put keeps what was typed, and every line its width."""
    _, _, app = seated()
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("a", "k", "N", "o")
        for size in ((120, 40), (60, 20), (20, 6), (3, 2), (300, 90), SIZE):
            await pilot.resize_terminal(*size)
            await pilot.pause()
            for panel in app.screen.query(Panel):
                assert all(panel.render_line(y).cell_length == size[0] for y in range(panel.size.height))
        assert app.screen.query_one(Input).value == "No"
