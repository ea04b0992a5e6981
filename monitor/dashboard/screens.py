"""The screens: each has the strip on top, one panel of its own, a line to ask and answer in, and the keys below."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual._styles_cache import StylesCache
from textual.binding import Binding, BindingType
from textual.screen import Screen

from monitor.dashboard.foot import Foot
from monitor.dashboard.guide import guide_page
from monitor.dashboard.keys import KeyHint, Keys
from monitor.dashboard.panel import Panel
from monitor.dashboard.pieces import clean
from monitor.dashboard.strip import strip_height, strip_page

if TYPE_CHECKING:
    from collections.abc import Mapping

    from rich.style import Style
    from textual import events
    from textual.app import ComposeResult

    from monitor.dashboard.pieces import Cells, Page, Tone
    from monitor.dashboard.session import Session
    from monitor.engine.history import History
    from monitor.engine.snapshot import Snapshot

_ALL = 1_000_000  # lines: to either end
ASKS_THE_LOGGER = frozenset(
    {"app.acknowledge", "app.acknowledge_all", "app.shelve", "app.unshelve", "app.reset", "app.refuel", "note"}
)
ELSEWHERE = frozenset({"a", "p", "m", "h", "l", "b"})  # keys of the app, shown on the circuits alone
_WHILE_ASKING = (KeyHint("Enter", "accept", "enter"), KeyHint("Esc", "leave", "escape"))
_WATCHING = KeyHint("", "(watching)")


class PowerScreen(Screen[None]):
    """A screen with what is wrong now on top; a subclass says what fills the rest.

    Args:
        snapshot: to begin with, as it may be shown.
        palette: how tones look.
        session: who sits at this screen, and what holds for it.
        history: what may be asked of the past; None where there is nothing to ask.

    """

    AUTO_FOCUS = ""
    TOPIC: ClassVar[str] = ""  # of the help that comes first when it is asked for here
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

    def __init__(
        self, snapshot: Snapshot, palette: Mapping[Tone, Style], session: Session, history: History | None = None
    ) -> None:
        super().__init__()
        self.history = history
        self.snapshot = snapshot
        self._palette = palette
        self.session = session

    @property
    def place(self) -> str:
        """The place that is chosen on this screen, or empty."""
        return ""

    @property
    def foot(self) -> Foot:
        """The line to ask and answer in."""
        return self.query_one(Foot)

    @property
    def at_top(self) -> bool:
        """Whether the body's first line is in sight."""
        return self.query_one("#body", Panel).first == 0

    def view(self, snapshot: Snapshot, size: Cells) -> Page:
        """Give the body's lines."""
        raise NotImplementedError

    def hints(self) -> tuple[KeyHint, ...]:
        """Give the keys to show."""
        return _WHILE_ASKING if self.foot.asking else self.all_hints()

    def all_hints(self) -> tuple[KeyHint, ...]:
        """Give the keys that do something here."""
        can_ask = self.session.can_ask
        hints = [
            KeyHint(self.app.get_key_display(binding), self._does(binding), binding.key)
            for _, binding, _, _ in self.active_bindings.values()
            if binding.show and (can_ask or binding.action not in ASKS_THE_LOGGER) and self.offers(binding.action)
        ]
        return tuple(hints) if can_ask else (*hints, _WATCHING)

    def offers(self, _action: str) -> bool:
        """Say whether a key's action has anything to do at present; others are not shown, but answer when pressed."""
        return True

    def compose(self) -> ComposeResult:
        """Give the strip, the body, the line to ask in and the keys."""
        yield Panel(self._strip, self.snapshot, self._palette, "strip")
        yield Panel(self.view, self.snapshot, self._palette, "body")
        yield Foot(self._palette)
        yield Keys(self._palette)

    def on_resize(self, event: events.Resize) -> None:
        """Give the strip its height."""
        self.query_one("#strip", Panel).styles.height = strip_height(event.size.height)

    def on_screen_resume(self) -> None:
        """Show the keys that hold here."""
        self.show_keys()

    def on_foot_changed(self) -> None:
        """Show the keys that hold while a question is put, or after it."""
        self.show_keys()

    def show_keys(self) -> None:
        """Draw the keys anew."""
        if self.is_mounted:
            self.query_one(Keys).show(self.hints())

    def show(self, snapshot: Snapshot, session: Session) -> None:
        """Draw another Snapshot."""
        same, self.session = session == self.session, session
        self.snapshot = snapshot
        for panel in self.query(Panel):
            panel.show(snapshot)
        if not same:
            self.show_keys()

    def action_move(self, lines: int) -> None:
        """Scroll by lines."""
        self.query_one("#body", Panel).move(lines)

    def action_turn(self, pages: int) -> None:
        """Scroll by screens."""
        self.query_one("#body", Panel).turn(pages)

    def _strip(self, snapshot: Snapshot, size: Cells) -> Page:
        return strip_page(snapshot, size, self.session.mute)

    def _does(self, binding: Binding) -> str:
        who = self.session.who
        return f"{binding.description}: {clean(who)}" if who and binding.action == "name" else binding.description


class OverScreen(PowerScreen):
    """A screen that lies over another until it is closed."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "dismiss", "back", key_display="Esc")]

    def on_unmount(self) -> None:
        """Let go of what was drawn: Textual 8 keeps the caches of a thousand widgets that have gone, lines and all."""
        StylesCache.get_inner_outer.cache_clear()

    def hints(self) -> tuple[KeyHint, ...]:
        """Give the keys to show: not those that lead elsewhere, which hold as everywhere, so that few lines do."""
        return tuple(hint for hint in super().hints() if hint.press not in ELSEWHERE)


class GuideScreen(OverScreen):
    """Help; what concerns the screen below comes first."""

    def view(self, snapshot: Snapshot, size: Cells) -> Page:
        """Give the body's lines."""
        stack = self.app.screen_stack
        below = stack[stack.index(self) - 1] if self in stack else None
        return guide_page(snapshot, size, below.TOPIC if isinstance(below, PowerScreen) else "")
