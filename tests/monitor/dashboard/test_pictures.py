"""Pictures of the screen, kept beside this file: a change of looks is seen before it is shipped.

After looking at the new pictures, keep them with ``pytest tests/monitor/dashboard/test_pictures.py --snapshot-update``.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from textual.widgets import Input

from monitor.dashboard.app import LegwatchApp
from monitor.dashboard.session import Mute
from monitor.dashboard.terminal import Colours
from tests.monitor.dashboard import snapshots, told
from tests.monitor.dashboard.past import Past
from tests.monitor.dashboard.seat import Desk, Feed

if TYPE_CHECKING:
    from collections.abc import Callable

    import pytest
    from textual.pilot import Pilot

    from monitor.engine.snapshot import Snapshot

    Compare = Callable[..., bool]


def screen(snapshot: Snapshot, shades: Colours = Colours.FULL) -> LegwatchApp:
    """Give the dashboard of one Snapshot that never changes."""
    return LegwatchApp(Feed(snapshot), Desk(), shades)


def test_readme_picture(snap_compare: Compare) -> None:
    """The picture that the README shows: a few things wrong, one box silent in part."""
    assert snap_compare(screen(snapshots.troubled()), terminal_size=(120, 30))


def test_small(snap_compare: Compare) -> None:
    """The same on the smallest screen that shows everything."""
    assert snap_compare(screen(snapshots.troubled()), terminal_size=(80, 24))


def test_smallest(snap_compare: Compare) -> None:
    """The same on a phone, scrolled to the end."""
    assert snap_compare(screen(snapshots.troubled()), terminal_size=(60, 20), press=["end"])


def test_large_quiet(snap_compare: Compare) -> None:
    """A large screen with more circuits than lines, nothing wrong."""
    assert snap_compare(screen(snapshots.many(48)), terminal_size=(120, 40), press=["pagedown"])


def test_sixteen_colours(snap_compare: Compare) -> None:
    """Sixteen colours, for a Linux console."""
    assert snap_compare(screen(snapshots.troubled(), Colours.SIXTEEN), terminal_size=(80, 24))


def test_no_colour(snap_compare: Compare, monkeypatch: pytest.MonkeyPatch) -> None:
    """No colour: words, marks and places are enough."""
    monkeypatch.setenv("NO_COLOR", "1")
    assert snap_compare(screen(snapshots.troubled(), Colours.NONE), terminal_size=(80, 24))


def test_logger_stopped(snap_compare: Compare) -> None:
    """A stopped logger is the loudest thing, and no figure looks live."""
    assert snap_compare(screen(snapshots.stopped()), terminal_size=(80, 24))


def test_three_legs_not_kept(snap_compare: Compare) -> None:
    """Three legs, a neutral, and readings that can't be written."""
    snapshot = replace(snapshots.three_legs(), logger=snapshots.not_kept().logger)
    assert snap_compare(screen(snapshot), terminal_size=(100, 24))


def test_wall(snap_compare: Compare) -> None:
    """Few big figures, for a screen on the wall."""
    assert snap_compare(screen(snapshots.troubled()), terminal_size=(80, 24), press=["g"])


def test_nearest_of_a_leg(snap_compare: Compare) -> None:
    """Ordered by nearness to the limit, filtered by a leg, one chosen."""
    keys = ["s", "f", "l", "1", "enter", "down", "down"]
    assert snap_compare(screen(snapshots.troubled()), terminal_size=(80, 24), press=keys)


def test_one_circuit(snap_compare: Compare) -> None:
    """One circuit: its past with a gap, plan, limit and rating drawn in, and what stands on it."""
    app = LegwatchApp(Feed(snapshots.troubled()), Desk(), history=Past())
    assert snap_compare(app, terminal_size=(80, 24), press=["down", "down", "down", "enter"])


def test_one_circuit_smallest(snap_compare: Compare, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same on a phone, without colour, for a circuit that fell silent."""
    monkeypatch.setenv("NO_COLOR", "1")
    app = LegwatchApp(Feed(snapshots.troubled()), Desk(), Colours.NONE, history=Past())
    assert snap_compare(app, terminal_size=(60, 20), press=["end", "enter", "minus"])


def test_log(snap_compare: Compare) -> None:
    """The log on a phone: times, kinds, places, names, sentences over more than one line."""
    app = LegwatchApp(Feed(snapshots.troubled()), Desk(), Colours.SIXTEEN, history=Past())
    assert snap_compare(app, terminal_size=(60, 20), press=["l"])


def test_room(snap_compare: Compare) -> None:
    """Where a load has room: what fits, what does not, and what is not checked."""
    app = LegwatchApp(Feed(snapshots.troubled()), Desk(), history=Past())
    assert snap_compare(app, terminal_size=(80, 24), press=["h", *"700", "enter"])


def test_help(snap_compare: Compare) -> None:
    """The help screen below the strip."""
    assert snap_compare(screen(snapshots.quiet()), terminal_size=(80, 24), press=["question_mark"])


def test_alarms(snap_compare: Compare) -> None:
    """The alarms on the smallest screen that shows everything: groups, the chosen one in full below."""
    assert snap_compare(screen(snapshots.alarmed()), terminal_size=(80, 24), press=["a"])


def test_alarms_smallest(snap_compare: Compare) -> None:
    """The same on a phone, the last one chosen."""
    assert snap_compare(screen(snapshots.alarmed()), terminal_size=(60, 20), press=["a", "end"])


def test_alarms_no_colour(snap_compare: Compare, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without colour the chosen one and what nobody has acknowledged still stand out."""
    monkeypatch.setenv("NO_COLOR", "1")
    assert snap_compare(screen(snapshots.alarmed(), Colours.NONE), terminal_size=(100, 30), press=["a", "down"])


def test_source(snap_compare: Compare) -> None:
    """The source on the smallest whole screen: ratings, fuel, a dip of hertz and volts together, a gap."""
    app = LegwatchApp(Feed(told.told()), Desk(), history=told.SourcePast())
    assert snap_compare(app, terminal_size=(80, 24), press=["p"])


def test_meters(snap_compare: Compare) -> None:
    """Buses and meters in sixteen colours: one silent, one port that is not open."""
    shown = replace(told.told(), wrong=(snapshots.SILENT,))
    assert snap_compare(screen(shown, Colours.SIXTEEN), terminal_size=(80, 24), press=["m"])


def test_question(snap_compare: Compare) -> None:
    """A question above the keys, refused once; its cursor does not blink in the picture."""

    async def ask(pilot: Pilot[None]) -> None:
        await pilot.press("a", "v", "enter")
        await pilot.pause()
        pilot.app.screen.query_one(Input).cursor_blink = False

    app = screen(snapshots.alarmed())
    app.who = "Noor"
    assert snap_compare(app, terminal_size=(80, 24), run_before=ask)


def test_waiting_and_muted(snap_compare: Compare) -> None:
    """A request that waits for the logger, over the circuits; the bell muted in the head."""

    async def ask(pilot: Pilot[None]) -> None:
        await pilot.press("a", "K")
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press("escape")

    app = screen(snapshots.alarmed())
    app.who = "Noor"
    app.ringer.mute = Mute(snapshots.NOW_MS + 1_800_000, "Noor")
    assert snap_compare(app, terminal_size=(120, 30), run_before=ask)


def test_phone(snap_compare: Compare) -> None:
    """The circuits on a phone held upright, with loads that rise and fall and breakers that are warm and hot."""
    assert snap_compare(screen(snapshots.moving()), terminal_size=(45, 36))


def test_one_circuit_in_full(snap_compare: Compare) -> None:
    """One circuit on a large screen: breaker, plan against what is on, steps, meter."""
    snapshot = replace(snapshots.moving(), buses=told.told().buses)
    app = LegwatchApp(Feed(snapshot), Desk(), history=Past())
    assert snap_compare(app, terminal_size=(110, 50), press=["down", "down", "down", "enter"])


def test_alarm_history(snap_compare: Compare) -> None:
    """When alarms stood, on the smallest screen that shows everything."""
    app = LegwatchApp(Feed(snapshots.alarmed()), Desk(), history=Past())
    assert snap_compare(app, terminal_size=(80, 24), press=["a", "y"])
