"""The alarms: the list, one of them chosen, and below it the chosen one in full at a fixed place."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType

from monitor.dashboard.alarmdetail import detail_page
from monitor.dashboard.alarmlist import alarms_page
from monitor.dashboard.needs import Key, asks, find, in_order, key_of, listing, why_not
from monitor.dashboard.panel import Panel
from monitor.dashboard.screens import OverScreen

if TYPE_CHECKING:
    from collections.abc import Mapping

    from rich.style import Style
    from textual.app import ComposeResult

    from monitor.dashboard.pieces import Cells, Page, Tone
    from monitor.dashboard.session import Session
    from monitor.engine.history import History
    from monitor.engine.requests import Kind
    from monitor.engine.snapshot import AlarmView, Snapshot

_KINDS: Mapping[str, Kind] = MappingProxyType(
    {"app.acknowledge": "acknowledge", "app.shelve": "shelve", "app.unshelve": "unshelve", "app.reset": "reset"}
)


class AlarmsScreen(OverScreen):
    """Every alarm that is not normal.

    The chosen one is kept by code and place, wherever it moves in the list. Where it goes, none is chosen until
    somebody chooses: a key must never meet an alarm that its user did not mean.
    """

    TOPIC = "alarms"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("down", "move(1)", "choose", key_display="▲▼"),
        Binding("pagedown", "turn(1)", "read on", key_display="PgDn"),
        Binding("k", "app.acknowledge", "acknowledge"),
        Binding("K", "app.acknowledge_all", "ack. all"),
        Binding("v", "app.shelve", "shelve"),
        Binding("V", "app.unshelve", "off the shelf"),
        Binding("x", "app.reset", "reset"),
        Binding("y", "app.over('history')", "history"),
    ]
    DEFAULT_CSS = """
    AlarmsScreen {
        #detail { height: 1fr; max-height: 14; }
        Foot { display: block; }
    }
    """

    def __init__(
        self, snapshot: Snapshot, palette: Mapping[Tone, Style], session: Session, history: History | None = None
    ) -> None:
        super().__init__(snapshot, palette, session, history)
        alarms = in_order(snapshot)
        self._chosen: Key | None = key_of(alarms[0]) if alarms else None
        self._index = 0

    @property
    def chosen(self) -> AlarmView | None:
        """The chosen alarm; None where none is, or where it has gone."""
        return find(self.snapshot, self._chosen)

    @property
    def place(self) -> str:
        """The place of the chosen alarm, or empty."""
        return "" if self.chosen is None else self.chosen.where

    def view(self, snapshot: Snapshot, size: Cells) -> Page:
        """Give the list."""
        return alarms_page(snapshot, size, self._chosen)

    def offers(self, action: str) -> bool:
        """Leave out what can't be asked about the chosen alarm, and the key that opened this screen: Esc is shown."""
        if action in _KINDS:
            return self.chosen is not None and not why_not(_KINDS[action], self.chosen)
        if action == "app.acknowledge_all":
            return sum(map(asks, self.snapshot.alarms)) > 1
        return action != "over('alarms')"

    def compose(self) -> ComposeResult:
        """Give the list, then the chosen one, then what every screen has below."""
        strip, body, *below = super().compose()
        yield from (strip, body, Panel(self._detail, self.snapshot, self._palette, "detail"), *below)

    def show(self, snapshot: Snapshot, session: Session) -> None:
        """Draw another Snapshot."""
        keys = [key_of(alarm) for alarm in in_order(snapshot)]
        if self._chosen in keys:
            self._index = keys.index(self._chosen)
        else:
            self._chosen = None
        super().show(snapshot, session)
        self.show_keys()

    def action_move(self, lines: int) -> None:
        """Choose another alarm; where none was chosen, the one where the last one stood."""
        alarms = in_order(self.snapshot)
        if alarms:
            index = self._index + (lines if self._chosen else 0)
            self.choose(alarms[min(max(index, 0), len(alarms) - 1)])

    def action_turn(self, pages: int) -> None:
        """Read on in the chosen alarm."""
        self.query_one("#detail", Panel).turn(pages)

    def choose(self, alarm: AlarmView) -> None:
        """Choose an alarm."""
        self._chosen = key_of(alarm)
        self.query_one("#detail", Panel).top()
        self.show(self.snapshot, self.session)

    def on_panel_pressed(self, message: Panel.Pressed) -> None:
        """Choose the alarm that was clicked."""
        rows = listing(self.snapshot)
        if message.panel == "body" and message.line < len(rows):
            row = rows[message.line]
            if not isinstance(row, str):
                self.choose(row)

    def _detail(self, snapshot: Snapshot, size: Cells) -> Page:
        return detail_page(snapshot, size, find(snapshot, self._chosen))
