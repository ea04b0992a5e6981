"""Asking where nobody can answer: no desk, a stopped logger, a folder that can't be written; and a real folder."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from monitor.dashboard.app import LegwatchApp
from monitor.dashboard.keys import Keys
from monitor.recorder.inbox import collect, post
from tests.monitor.dashboard import snapshots
from tests.monitor.dashboard.ringing import FIRST, SIZE, seated
from tests.monitor.dashboard.seat import Desk, Feed, drawn, said, shown_keys, type_line

if TYPE_CHECKING:
    from pathlib import Path

    from monitor.engine.requests import Request


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
