"""The dashboard under a pilot: keys, mouse, resizing, and one redraw for each change."""

from __future__ import annotations

from dataclasses import replace

import pytest
from textual.events import MouseScrollDown

from monitor.dashboard.alarmscreen import AlarmsScreen
from monitor.dashboard.app import LegwatchApp
from monitor.dashboard.keys import Keys
from monitor.dashboard.panel import Panel
from monitor.dashboard.screens import CircuitsScreen, GuideScreen
from tests.monitor.dashboard import snapshots
from tests.monitor.dashboard.seat import Desk, Feed, click_key, drawn, shown_keys


async def test_help_opens_and_closes() -> None:
    """``?`` lays help over the circuits and takes it away; Escape does too; what is wrong stays on top."""
    app = LegwatchApp(Feed(snapshots.troubled()))
    async with app.run_test(size=(80, 24)) as pilot:
        before = drawn(app, "strip")
        for closing in ("question_mark", "escape"):
            await pilot.press("question_mark")
            assert isinstance(app.screen, GuideScreen)
            assert drawn(app, "strip") == before
            await pilot.press(closing)
            assert isinstance(app.screen, CircuitsScreen)


async def test_one_screen_replaces_another() -> None:
    """From help, ``a`` goes to the alarms, and one Escape leads back to the circuits."""
    app = LegwatchApp(Feed(snapshots.troubled()))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("question_mark", "a")
        assert isinstance(app.screen, AlarmsScreen)
        await pilot.press("escape")
        assert isinstance(app.screen, CircuitsScreen)


@pytest.mark.parametrize("key", ["q", "ctrl+c"])
async def test_quit(key: str) -> None:
    """``q`` and Ctrl+C leave the dashboard."""
    app = LegwatchApp(Feed(snapshots.quiet()))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press(key)
    assert app.return_code == 0


async def test_keys_are_shown_and_can_be_clicked() -> None:
    """The keys stand in the last lines, and a click on one does what it says."""
    app = LegwatchApp(Feed(snapshots.quiet()), Desk())
    async with app.run_test(size=(80, 24)) as pilot:
        assert shown_keys(app) == ["▲▼ PgUp PgDn", "a", "n", "b", "@", "?", "q"]
        await click_key(pilot, "?")
        assert isinstance(app.screen, GuideScreen)


@pytest.mark.parametrize("width", [60, 80, 120])
async def test_no_key_is_lost_at_any_width(width: int) -> None:
    """Where one line does not hold the keys, they take more; the line of keys ends within the screen."""
    app = LegwatchApp(Feed(snapshots.alarmed()), Desk(), quitting="quit and stop logging")
    async with app.run_test(size=(width, 20)) as pilot:
        await pilot.press("a")
        keys = app.screen.query_one(Keys)
        text = " ".join(" ".join(keys.render_line(y).text for y in range(keys.size.height)).split())
        for hint in keys.hints:
            assert f"{hint.shown} {hint.does}" in text
        assert keys.region.bottom == 20


async def test_scrolling_by_keys() -> None:
    """Every key moves the circuits; the head stays and counts what is out of sight."""
    app = LegwatchApp(Feed(snapshots.many(48)))
    async with app.run_test(size=(80, 24)) as pilot:
        head = drawn(app)[2:4]
        assert drawn(app)[4].split()[0] == "boxA"
        assert drawn(app)[1].startswith("▼35 ")
        await pilot.press("down")
        assert drawn(app)[4].split()[0] == "A1"
        assert drawn(app)[1].startswith("▲1 ▼34 ")
        await pilot.press("end")
        assert drawn(app)[-1].split()[0] == "B48"
        assert drawn(app)[1].startswith("▲35 ")
        await pilot.press("down", "pagedown")
        assert drawn(app)[-1].split()[0] == "B48"
        await pilot.press("pageup", "up")
        assert drawn(app)[1].startswith("▲20 ▼15 ")
        await pilot.press("home")
        assert drawn(app)[4].split()[0] == "boxA"
        assert drawn(app)[2:4] == head


async def test_scrolling_by_mouse() -> None:
    """The wheel moves the circuits."""
    app = LegwatchApp(Feed(snapshots.many(48)))
    async with app.run_test(size=(80, 24)) as pilot:
        body = app.screen.query_one("#body", Panel)
        event = MouseScrollDown(body, 5, 5, 0, 0, 0, shift=False, meta=False, ctrl=False)
        body.post_message(event)
        await pilot.pause()
        assert drawn(app)[1].startswith("▲3 ")


async def test_resizing() -> None:
    """Any size from a phone's upward is laid out anew; smaller ones only lose their ends; the end stays."""
    app = LegwatchApp(Feed(snapshots.many(48)))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("end")
        for size in ((120, 40), (60, 20), (20, 6), (3, 2), (300, 90), (80, 24)):
            await pilot.resize_terminal(*size)
            await pilot.pause()
            assert all(len(line) == size[0] for line in (*drawn(app), *drawn(app, "strip")))
            if size == (120, 40):
                assert drawn(app)[-1].split()[0] == "B48"


async def test_a_shorter_show_leaves_no_hole() -> None:
    """When lines go away while scrolled to the end, the end is still at the bottom."""
    feed = Feed(snapshots.many(48))
    app = LegwatchApp(feed)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("end")
        feed.now = snapshots.many(24)
        app.look()
        await pilot.pause()
        assert drawn(app)[-1].split()[0] == "B24"


async def test_redraws_on_change_alone() -> None:
    """The same Snapshot leaves the drawn page as it is; another one replaces it."""
    feed = Feed(snapshots.quiet())
    app = LegwatchApp(feed)
    async with app.run_test(size=(80, 24)) as pilot:
        page = app.screen.query_one("#body", Panel).page
        feed.now = snapshots.quiet()
        app.look()
        assert app.screen.query_one("#body", Panel).page is page
        feed.now = snapshots.troubled()
        app.look()
        await pilot.pause()
        assert app.screen.query_one("#body", Panel).page is not page
        assert drawn(app, "strip")[1].startswith("▲AMPS")


async def test_looks_by_itself() -> None:
    """A change appears without a key being pressed."""
    feed = Feed(snapshots.quiet())
    app = LegwatchApp(feed)
    async with app.run_test(size=(80, 24)) as pilot:
        feed.now = snapshots.stopped()
        for _ in range(50):
            await pilot.pause(0.1)
            if drawn(app, "strip")[0].startswith(" LOGGER STOPPED"):
                break
        assert drawn(app, "strip")[0].startswith(" LOGGER STOPPED")


async def test_a_screen_on_top_and_the_one_below_stay_live() -> None:
    """The list of alarms follows the feed while it is open, and so do the circuits below it."""
    feed = Feed(snapshots.troubled())
    app = LegwatchApp(feed)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("a")
        feed.now = replace(snapshots.quiet(), time_ms=snapshots.NOW_MS + 5000)
        app.look()
        await pilot.pause()
        assert "No alarm stands. Nothing outside limits" in drawn(app)[1]
        await pilot.press("escape")
        assert "22:03:12" in drawn(app, "strip")[0]
        assert not any(line.startswith("▲AMPS") for line in drawn(app))
