"""The dashboard under a pilot: keys, mouse, resizing, and one redraw for each change."""

from __future__ import annotations

from dataclasses import replace

import pytest
from textual.command import CommandPalette
from textual.events import MouseScrollDown

from monitor.dashboard.alarmpast import AlarmHistoryScreen
from monitor.dashboard.alarmscreen import AlarmsScreen
from monitor.dashboard.app import LegwatchApp
from monitor.dashboard.circuitscreen import CircuitsScreen
from monitor.dashboard.keys import Keys
from monitor.dashboard.onecircuitscreen import OneCircuitScreen
from monitor.dashboard.panel import Panel
from monitor.dashboard.screens import GuideScreen
from tests.monitor.dashboard import snapshots
from tests.monitor.dashboard.seat import Desk, Feed, click_key, drawn, said, shown_keys, type_line


@pytest.mark.parametrize(("key", "first"), [("p", "Power source (p)"), ("a", "Alarms (a)"), ("m", "Meters (m)")])
async def test_help_begins_with_the_screen_that_it_was_asked_on(key: str, first: str) -> None:
    """Nobody has to look for the lines about the screen in front; all the others follow."""
    app = LegwatchApp(Feed(snapshots.troubled()))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press(key, "question_mark")
        assert drawn(app)[1].strip().startswith(first)
        await pilot.press("escape", "escape", "question_mark")
        assert drawn(app)[1].strip().startswith("legwatch only observes")


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


async def test_escape_leads_back_to_where_help_was_called() -> None:
    """From one circuit over help to the alarms, and Escape by Escape the same way back; no screen lies there twice."""
    app = LegwatchApp(Feed(snapshots.troubled()))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("down", "enter", "question_mark", "a", "y")
        assert isinstance(app.screen, AlarmHistoryScreen)
        for kind in (AlarmsScreen, GuideScreen, OneCircuitScreen, CircuitsScreen):
            await pilot.press("escape")
            assert isinstance(app.screen, kind)
        await pilot.press("a", "l", "question_mark", "a")
        assert isinstance(app.screen, AlarmsScreen)
        await pilot.press("a")
        assert isinstance(app.screen, CircuitsScreen)


async def test_commands_press_keys_and_open_circuits() -> None:
    """What is typed finds a key's command or a circuit; Escape takes the list away, and it lies there once."""
    app = LegwatchApp(Feed(snapshots.troubled()))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("c", "ctrl+p")
        assert isinstance(app.screen, CommandPalette)
        await pilot.press("escape")
        assert isinstance(app.screen, CircuitsScreen)
        for typed, kind in (("alarms", AlarmsScreen), ("circuit B2", OneCircuitScreen)):
            await pilot.press("ctrl+p", *typed)
            await app.workers.wait_for_complete()
            await pilot.pause(0.3)
            await pilot.press("enter")
            await pilot.pause(0.3)
            assert isinstance(app.screen, kind)
        assert isinstance(app.screen, OneCircuitScreen)
        assert app.screen.place == "B2"
        await pilot.press("escape")
        assert isinstance(app.screen, CircuitsScreen)
        assert app.screen.place == "B2"


async def test_a_finger_on_either_arrow_means_that_arrow() -> None:
    """On a phone there are no arrow keys: a click on the upper one chooses upwards."""
    app = LegwatchApp(Feed(snapshots.troubled()))
    async with app.run_test(size=(45, 30)) as pilot:
        await pilot.press("down", "down")
        assert isinstance(app.screen, CircuitsScreen)
        for cell, place in ((1, "A3"), (0, "A2"), (0, "A1"), (5, "A2")):
            await pilot.click(Keys, offset=(cell, 0))
            await pilot.pause()
            assert app.screen.place == place


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
        assert shown_keys(app) == ["▲▼", "Enter", "s", "f", "g", "a", "p", "m", "h", "l", "n", "b", "@", "c", "?", "q"]
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


def chosen_line(app: LegwatchApp) -> str:
    """Give the line of the chosen circuit, from its id; empty where none is in sight."""
    return next((line.split("→")[1] for line in drawn(app) if "→" in line[:8]), "")


async def test_choosing_by_keys() -> None:
    """Every key moves the cursor over the circuits and keeps it in sight; the head counts what is out of sight."""
    app = LegwatchApp(Feed(snapshots.many(48)))
    async with app.run_test(size=(80, 24)) as pilot:
        head = drawn(app)[2:4]
        assert chosen_line(app) == ""
        await pilot.press("down")
        assert chosen_line(app).startswith("A1 ")
        await pilot.press("up")
        assert chosen_line(app).startswith("A1 ")
        assert drawn(app)[4].split()[0] == "boxA"
        await pilot.press("down", "down")
        assert chosen_line(app).startswith("A3 ")
        await pilot.press("end")
        assert chosen_line(app).startswith("B48 ")
        assert "▲" in drawn(app)[1][:8]
        await pilot.press("down", "pagedown", "pageup")
        assert not chosen_line(app).startswith("B48 ")
        await pilot.press("home")
        assert drawn(app)[4].split()[0] == "boxA"
        assert drawn(app)[2:4] == head
        await pilot.press("escape")
        assert chosen_line(app) == ""


async def test_a_page_is_the_lines_in_sight_but_one() -> None:
    """Turning pages leaves no circuit unseen."""
    app = LegwatchApp(Feed(snapshots.many(48)))
    seen: set[str] = set()
    async with app.run_test(size=(80, 24)) as pilot:
        for _ in range(6):
            seen |= {line[8:].split()[0] for line in drawn(app)[4:] if line[8:].strip() and line[8] != " "}
            await pilot.press("pagedown")
    assert {view.id for view in snapshots.many(48).circuits} <= seen


async def test_choosing_by_mouse() -> None:
    """A click chooses its circuit; one on a box chooses none."""
    app = LegwatchApp(Feed(snapshots.quiet()))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.click("#body", offset=(20, 4))
        assert chosen_line(app) == ""
        await pilot.click("#body", offset=(20, 6))
        assert chosen_line(app).startswith("A2 ")


async def test_order_keeps_the_chosen_circuit() -> None:
    """``s`` puts the circuit nearest to its limit first and back; the chosen one stays chosen wherever it stands."""
    app = LegwatchApp(Feed(snapshots.troubled()))
    async with app.run_test(size=(120, 30)) as pilot:
        await pilot.press("down", "s")
        assert "nearest to its limit first, 4 without live amps last" in drawn(app)[4]
        assert [line[8:10] for line in drawn(app)[5:8]] == ["A3", "B1", "B2"]
        assert chosen_line(app).startswith("A1 ")
        await pilot.press("s")
        assert drawn(app)[4].split()[0] == "boxA"
        assert chosen_line(app).startswith("A1 ")


async def test_filter() -> None:
    """``f`` asks for a box or leg, refuses others, says what is left out, and an empty answer brings all back."""
    app = LegwatchApp(Feed(snapshots.quiet()))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("f")
        await type_line(pilot, "boxC")
        assert said(app) == "One of boxA, boxB, L1, L2, or nothing:"
        await pilot.press("escape", "f")
        await type_line(pilot, "boxb")
        assert drawn(app)[4].strip() == "6 of 12 circuits: boxB"
        assert [line.split()[0] for line in drawn(app)[5:12]] == ["boxB", *(f"B{n}" for n in range(1, 7))]
        await pilot.press("f", *("backspace" for _ in "boxB"), "enter")
        await pilot.pause()
        assert drawn(app)[4].split()[0] == "boxA"


async def test_large() -> None:
    """``g`` draws big figures and back; what only rows have is not offered meanwhile."""
    app = LegwatchApp(Feed(snapshots.troubled()))
    async with app.run_test(size=(80, 24)) as pilot:
        before = drawn(app)
        await pilot.press("g")
        assert "Nearest to its limit first" in drawn(app)[6]
        assert "s" not in shown_keys(app)
        await pilot.press("down")
        for closing in ("g", "escape"):
            await pilot.press(closing)
            assert drawn(app) == before
            await pilot.press("g")


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
                assert drawn(app)[-1].split()[0] == "→B48"


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
        assert "No alarm stands" in drawn(app)[1]
        await pilot.press("escape")
        assert "22:03:12" in drawn(app, "strip")[0]
        assert not any(line.startswith("▲AMPS") for line in drawn(app))
