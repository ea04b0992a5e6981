"""The dashboard: once a second the newest Snapshot of a feed, drawn."""

from __future__ import annotations

import asyncio
import os
import signal
from typing import TYPE_CHECKING, ClassVar, TypeVar

from textual.binding import Binding, BindingType
from textual.command import CommandPalette

from monitor.dashboard.alarmpast import AlarmHistoryScreen
from monitor.dashboard.alarmscreen import AlarmsScreen
from monitor.dashboard.asking import AskingApp
from monitor.dashboard.circuitscreen import CircuitsScreen
from monitor.dashboard.commands import ASKED, commands
from monitor.dashboard.logscreen import LogScreen
from monitor.dashboard.meterscreen import MetersScreen
from monitor.dashboard.onecircuitscreen import OneCircuitScreen
from monitor.dashboard.palette import PALETTES
from monitor.dashboard.roomscreen import RoomScreen
from monitor.dashboard.screens import GuideScreen, OverScreen, PowerScreen
from monitor.dashboard.shown import as_shown
from monitor.dashboard.sourcescreen import SourceScreen
from monitor.dashboard.terminal import Colours, colours
from monitor.dashboard.themes import dress

if TYPE_CHECKING:
    from collections.abc import Iterable

    from textual.app import SystemCommand
    from textual.screen import Screen

    from monitor.engine.feed import Feed
    from monitor.engine.history import History
    from monitor.engine.requests import Desk

Made = TypeVar("Made", bound=PowerScreen)
PERIOD_S = 1.0


class LegwatchApp(AskingApp):
    """The dashboard.

    Args:
        feed: gives Snapshots; asked once at the start and then once every ``PERIOD_S``, from this app's thread.
        desk: where requests go; None where this screen can only watch.
        shades: how many colours the terminal is given.
        quitting: what the key that quits does, for the line of keys.
        history: what screens may ask of the past; None where there is nothing to ask.

    """

    TITLE = "legwatch"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("a", "over('alarms')", "alarms"),
        Binding("p", "over('source')", "power source"),
        Binding("m", "over('meters')", "meters"),
        Binding("h", "over('room')", "room for"),
        Binding("l", "over('log')", "log"),
        Binding("n", "note", "note"),
        Binding("b", "mute", "mute bell"),
        Binding("at", "name", "name", key_display="@"),
        Binding("c", "command_palette", "commands"),
        Binding("ctrl+p", "command_palette", show=False, priority=True),
        Binding("question_mark", "over('guide')", "help", key_display="?"),
        Binding("ctrl+c", "quit", show=False, priority=True),
    ]
    CSS = """
    CommandPalette SearchIcon { display: none; }
    CommandPalette #--input, CommandPalette CommandList, CommandPalette CommandList:focus { border: none; }
    CommandPalette CommandList { scrollbar-size: 0 0; }
    """  # no glyphs that a Linux console lacks
    OVER: ClassVar[dict[str, type[OverScreen]]] = {
        "alarms": AlarmsScreen,
        "guide": GuideScreen,
        "history": AlarmHistoryScreen,
        "log": LogScreen,
        "meters": MetersScreen,
        "room": RoomScreen,
        "source": SourceScreen,
    }

    def __init__(
        self,
        feed: Feed,
        desk: Desk | None = None,
        shades: Colours = Colours.FULL,
        quitting: str = "quit",
        history: History | None = None,
    ) -> None:
        super().__init__(feed.snapshot(), desk, ansi_color=shades is not Colours.FULL)
        self.bind("q", "quit", description=quitting)
        self.history = history
        self._feed = feed
        self._palette = PALETTES[shades]
        dress(self, shades)

    def get_default_screen(self) -> Screen[None]:
        """Begin with the circuits."""
        return self._made(CircuitsScreen)

    def on_mount(self) -> None:
        """Look once every period; end as ``q`` does when asked to end, or when the line to this screen drops."""
        self.set_interval(PERIOD_S, self.look)
        for number in (signal.SIGTERM, signal.SIGHUP):
            asyncio.get_running_loop().add_signal_handler(number, self.exit)

    def look(self) -> None:
        """Draw the newest Snapshot where it is another; ring for what is new in it."""
        snapshot = self._feed.snapshot()
        if snapshot == self.snapshot:
            return
        self.snapshot = snapshot
        if self.ringer.rings(snapshot):
            self.bell()
        self.redraw()
        self.follow()

    def redraw(self) -> None:
        """Draw every screen anew."""
        shown, session = as_shown(self.snapshot), self.session
        for screen in self.screen_stack:
            if isinstance(screen, PowerScreen):
                screen.show(shown, session)

    def action_over(self, name: str) -> None:
        """Lay a screen over the one in front, so that Esc leads back there; take it away where it lies in front.

        Where it lies further down, what lies on it is taken away: each screen is there once.
        """
        wanted = self.OVER[name]
        if isinstance(self.screen, wanted):
            self.pop_screen()
        elif any(isinstance(screen, wanted) for screen in self.screen_stack):
            while not isinstance(self.screen, wanted):
                self.pop_screen()
        else:
            self.push_screen(self._made(wanted))

    def action_circuit(self) -> None:
        """Open the chosen circuit."""
        below = self.screen
        if isinstance(below, CircuitsScreen) and not below.place:
            self.say("No circuit is chosen: ▲▼ choose one.")
        elif isinstance(below, CircuitsScreen):
            self._open_circuit(below.place, below)

    def show_circuit(self, circuit: str) -> None:
        """Open a circuit from whatever screen is in front: Esc leads back to the circuits."""
        while not isinstance(self.screen, CircuitsScreen):
            self.pop_screen()
        self.screen.choose(circuit)
        self._open_circuit(circuit, self.screen)

    def _open_circuit(self, circuit: str, below: CircuitsScreen) -> None:
        over = self._made(OneCircuitScreen)
        over.begin(circuit, below.circuits, below.choose)
        self.push_screen(over)

    def action_command_palette(self) -> None:
        """List what can be done here, to be typed at."""
        if not isinstance(self.screen, CommandPalette):
            self.push_screen(CommandPalette(placeholder=ASKED, id="--command-palette"))

    def get_system_commands(self, screen: Screen[object]) -> Iterable[SystemCommand]:
        """Give what the list of commands holds."""
        return commands(screen, self.simulate_key, self.show_circuit)

    def _made(self, kind: type[Made]) -> Made:
        return kind(as_shown(self.snapshot), self._palette, self.session, self.history)


def run_dashboard(feed: Feed, desk: Desk | None = None, history: History | None = None, quitting: str = "quit") -> None:
    """Show the dashboard until it is left; ask ``terminal.why_no_screen`` first.

    SIGTERM and SIGHUP leave it as a key does, so that what follows the call is done.

    Args:
        feed: gives Snapshots.
        desk: where requests go; None where this screen can only watch.
        history: what screens may ask of the past; None where there is nothing to ask: the screens that need it say so.
        quitting: what leaving does, for the line of keys: "quit and stop logging" where it does.

    """
    LegwatchApp(feed, desk, colours(os.environ), quitting, history).run()
