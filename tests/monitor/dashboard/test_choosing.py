"""Choosing an alarm by keys and mouse, and reading on in it."""

from __future__ import annotations

from dataclasses import replace

from textual.widgets import Input

from monitor.dashboard.circuitscreen import CircuitsScreen
from monitor.dashboard.panel import Panel
from tests.monitor.dashboard import snapshots
from tests.monitor.dashboard.ringing import FIRST, SECOND, SIZE, chosen, seated
from tests.monitor.dashboard.seat import click_key, drawn, said


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
