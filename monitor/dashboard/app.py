"""The dashboard: once a second the newest Snapshot of a feed, drawn."""

from __future__ import annotations

import os
from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar

from textual.app import App
from textual.binding import Binding, BindingType
from textual.theme import BUILTIN_THEMES, Theme

from monitor.dashboard.palette import BACKGROUND, PALETTES
from monitor.dashboard.screens import CircuitsScreen, GuideScreen, OverScreen, PowerScreen, WrongScreen
from monitor.dashboard.shown import as_shown
from monitor.dashboard.terminal import Colours, colours

if TYPE_CHECKING:
    from textual.screen import Screen

    from monitor.engine.feed import Feed

PERIOD_S = 1.0
_GREY = Theme(
    name="quiet",
    primary="#8d969c",
    foreground="#b4b8bb",
    background=BACKGROUND,
    surface=BACKGROUND,
    panel=BACKGROUND,
    variables={
        "footer-background": "#24282b",
        "footer-key-foreground": "#e6e8e9",
        "footer-description-foreground": "#a6abaf",
    },
)
_ANSI = BUILTIN_THEMES["ansi-dark"]
_TERMINALS_OWN = replace(
    _ANSI,
    name="terminal",
    variables={**_ANSI.variables, "footer-key-foreground": "ansi_default"},
)


class LegwatchApp(App[None]):
    """The dashboard.

    Args:
        feed: gives Snapshots; asked once at the start and then once every ``PERIOD_S``, from this app's thread.
        shades: how many colours the terminal is given.
        quitting: what the key that quits does, for the line of keys.

    """

    TITLE = "legwatch"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("w", "over('wrong')", "all that is wrong"),
        Binding("question_mark", "over('guide')", "help", key_display="?"),
        Binding("ctrl+c", "quit", show=False, priority=True),
    ]
    OVER: ClassVar[dict[str, type[OverScreen]]] = {"wrong": WrongScreen, "guide": GuideScreen}

    def __init__(self, feed: Feed, shades: Colours = Colours.FULL, quitting: str = "quit") -> None:
        super().__init__(ansi_color=shades is not Colours.FULL)
        self.bind("q", "quit", description=quitting)
        self._feed = feed
        self._palette = PALETTES[shades]
        self._snapshot = feed.snapshot()
        self.animation_level = "none"
        theme = _GREY if shades is Colours.FULL else _TERMINALS_OWN
        self.register_theme(theme)
        self.theme = theme.name

    def get_default_screen(self) -> Screen[None]:
        """Begin with the circuits."""
        return CircuitsScreen(as_shown(self._snapshot), self._palette)

    def on_mount(self) -> None:
        """Look once every period."""
        self.set_interval(PERIOD_S, self.look)

    def look(self) -> None:
        """Draw the newest Snapshot where it is another."""
        snapshot = self._feed.snapshot()
        if snapshot == self._snapshot:
            return
        self._snapshot = snapshot
        shown = as_shown(snapshot)
        for screen in self.screen_stack:
            if isinstance(screen, PowerScreen):
                screen.show(shown)

    def action_over(self, name: str) -> None:
        """Lay a screen over the circuits, or take it away where it already lies there."""
        wanted = self.OVER[name]
        there = isinstance(self.screen, wanted)
        if isinstance(self.screen, OverScreen):
            self.pop_screen()
        if not there:
            self.push_screen(wanted(as_shown(self._snapshot), self._palette))


def run_dashboard(feed: Feed, quitting: str = "quit") -> None:
    """Show the dashboard until it is left; ask ``terminal.why_no_screen`` first.

    Args:
        feed: gives Snapshots.
        quitting: what leaving does, for the line of keys: "quit and stop logging" where it does.

    """
    LegwatchApp(feed, colours(os.environ), quitting).run()
