"""The screens: each has the strip on top, one panel of its own and the keys below."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType
from textual.screen import Screen
from textual.widgets import Footer

from monitor.dashboard.guide import guide_page
from monitor.dashboard.panel import Panel
from monitor.dashboard.rows import circuits_page
from monitor.dashboard.strip import strip_height, strip_page, wrong_page

if TYPE_CHECKING:
    from collections.abc import Mapping

    from rich.style import Style
    from textual import events
    from textual.app import ComposeResult

    from monitor.dashboard.pieces import Cells, Page, Tone
    from monitor.engine.snapshot import Snapshot

_ALL = 1_000_000  # lines: to either end


class PowerScreen(Screen[None]):
    """A screen with what is wrong now on top; a subclass says what fills the rest.

    Args:
        snapshot: to begin with, as it may be shown.
        palette: how tones look.

    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("down", "move(1)", "scroll", key_display="▲▼ PgUp PgDn"),
        Binding("up", "move(-1)", show=False),
        Binding("pagedown,space", "turn(1)", show=False),
        Binding("pageup", "turn(-1)", show=False),
        Binding("home", f"move(-{_ALL})", show=False),
        Binding("end", f"move({_ALL})", show=False),
    ]
    DEFAULT_CSS = """
    PowerScreen {
        overflow: hidden;
        #strip { height: 4; }
        #body { height: 1fr; }
    }
    """

    def __init__(self, snapshot: Snapshot, palette: Mapping[Tone, Style]) -> None:
        super().__init__()
        self._snapshot = snapshot
        self._palette = palette

    def view(self, snapshot: Snapshot, size: Cells) -> Page:
        """Give the body's lines."""
        raise NotImplementedError

    def compose(self) -> ComposeResult:
        """Give the strip, the body and the keys."""
        yield Panel(strip_page, self._snapshot, self._palette, "strip")
        yield Panel(self.view, self._snapshot, self._palette, "body")
        yield Footer(show_command_palette=False)

    def on_resize(self, event: events.Resize) -> None:
        """Give the strip its height."""
        self.query_one("#strip", Panel).styles.height = strip_height(event.size.height)

    def show(self, snapshot: Snapshot) -> None:
        """Draw another Snapshot."""
        for panel in self.query(Panel):
            panel.show(snapshot)

    def action_move(self, lines: int) -> None:
        """Scroll by lines."""
        self.query_one("#body", Panel).move(lines)

    def action_turn(self, pages: int) -> None:
        """Scroll by screens."""
        self.query_one("#body", Panel).turn(pages)


class CircuitsScreen(PowerScreen):
    """The way from the source to the circuits."""

    def view(self, snapshot: Snapshot, size: Cells) -> Page:
        """Give the body's lines."""
        return circuits_page(snapshot, size)


class OverScreen(PowerScreen):
    """A screen that lies over another until it is closed."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "dismiss", "back", key_display="Esc")]


class WrongScreen(OverScreen):
    """Everything that is wrong now."""

    def view(self, snapshot: Snapshot, size: Cells) -> Page:
        """Give the body's lines."""
        return wrong_page(snapshot, size)


class GuideScreen(OverScreen):
    """Help."""

    def view(self, snapshot: Snapshot, size: Cells) -> Page:
        """Give the body's lines."""
        return guide_page(snapshot, size)
