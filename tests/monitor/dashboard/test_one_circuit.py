"""One circuit under a pilot: opening, zoom, the next one, and what is asked of the log."""

from __future__ import annotations

from dataclasses import replace

from monitor.dashboard.app import LegwatchApp
from monitor.dashboard.circuitscreen import CircuitsScreen
from monitor.dashboard.onecircuitscreen import ZOOMS_MS, OneCircuitScreen
from tests.monitor.dashboard import snapshots
from tests.monitor.dashboard.past import Past
from tests.monitor.dashboard.seat import Desk, Feed, drawn, said, shown_keys

SIZE = (80, 24)


def seated() -> tuple[Feed, Past, LegwatchApp]:
    """Give a dashboard with a past."""
    feed, past = Feed(snapshots.troubled()), Past()
    return feed, past, LegwatchApp(feed, Desk(), history=past)


async def test_enter_opens_the_chosen_circuit_and_escape_leads_back() -> None:
    """Without a choice it is said what to do; the stretch asked for first is twenty minutes."""
    _, past, app = seated()
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("enter")
        assert said(app) == "No circuit is chosen: ▲▼ choose one."
        await pilot.press("down", "down", "enter")
        assert isinstance(app.screen, OneCircuitScreen)
        assert drawn(app)[0].strip().startswith("A2 Fill side")
        assert past.asked == [("A2", snapshots.NOW_MS - 1_200_000, snapshots.NOW_MS)]
        await pilot.press("escape")
        assert isinstance(app.screen, CircuitsScreen)


async def test_two_clicks_open_a_circuit() -> None:
    """One chooses, one more opens."""
    _, _, app = seated()
    async with app.run_test(size=SIZE) as pilot:
        await pilot.click("#body", offset=(20, 6))
        await pilot.click("#body", offset=(20, 6))
        await pilot.pause()
        assert isinstance(app.screen, OneCircuitScreen)


async def test_zoom() -> None:
    """``-`` shows more time, ``+`` less, to either end."""
    _, past, app = seated()
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("down", "enter", *("minus" for _ in range(4)))
        assert past.asked[-1][2] - past.asked[-1][1] == ZOOMS_MS[-1]
        assert "12 h to 22:03:07" in drawn(app)[0]
        await pilot.press("plus", "equals_sign", "plus", "plus")
        assert past.asked[-1][2] - past.asked[-1][1] == ZOOMS_MS[0]
        assert "5 min to 22:03:07" in drawn(app)[0]


async def test_next_and_back_follow_the_order_of_the_list() -> None:
    """Neighbours are those of the list below, which follows the choice."""
    _, _, app = seated()
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("s", "down", "enter")
        assert drawn(app)[0].split()[1] == "A3"
        await pilot.press("right", "right_square_bracket")
        assert drawn(app)[0].split()[1] == "B2"
        await pilot.press("left")
        assert drawn(app)[0].split()[1] == "B1"
        await pilot.press("left_square_bracket", "left")
        assert drawn(app)[0].split()[1] == "A3"
        await pilot.press("right", "escape")
        assert app.screen.sight.chosen == "B1" if isinstance(app.screen, CircuitsScreen) else False


async def test_the_log_is_read_on_about_once_a_column() -> None:
    """A second later the log is not read again, a column's time later it is."""
    feed, past, app = seated()
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("down", "enter")
        for seconds, times in ((1, 1), (11, 1), (12, 2), (13, 2)):
            feed.now = replace(feed.now, time_ms=snapshots.NOW_MS + 1000 * seconds)
            app.look()
            await pilot.pause()
            assert len(past.asked) == times


async def test_without_a_past_there_is_no_zoom() -> None:
    """A dashboard without a history says so, and offers no keys for it."""
    app = LegwatchApp(Feed(snapshots.troubled()))
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("down", "enter", "minus", "right")
        assert "No trend" in drawn(app)[3]
        assert not {"+", "-"} & set(shown_keys(app))


async def test_a_note_is_about_the_circuit_that_is_open() -> None:
    """``n`` asks for no place here."""
    _, _, app = seated()
    app.who = "Noor"
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("down", "enter", "n")
        await pilot.pause()
        assert said(app) == "Note on A1:"
