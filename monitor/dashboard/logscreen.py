"""The log on a screen: what was written last, and a search through it."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual import work
from textual.binding import Binding, BindingType

from monitor.dashboard.entries import anything
from monitor.dashboard.logpage import MOST, Pages, log_page
from monitor.dashboard.panel import Panel
from monitor.dashboard.screens import OverScreen

if TYPE_CHECKING:
    from monitor.dashboard.pieces import Cells, Page
    from monitor.dashboard.session import Session
    from monitor.engine.snapshot import Snapshot

_AGAIN_MS = 3_000


class LogScreen(OverScreen):
    """The log. It is read on while its newest line is in sight; while somebody reads further down, nothing moves."""

    TOPIC = "others"
    BINDINGS: ClassVar[list[BindingType]] = [Binding("slash", "search", "search", key_display="/")]

    pages: Pages | None = None

    def view(self, snapshot: Snapshot, size: Cells) -> Page:
        """Give the lines."""
        return log_page(self.pages, snapshot.timezone, size)

    def offers(self, action: str) -> bool:
        """Leave out the key that opened this screen: Esc is shown."""
        return action != "over('log')"

    def on_mount(self) -> None:
        """Read the log."""
        self._read()

    def show(self, snapshot: Snapshot, session: Session) -> None:
        """Draw another Snapshot."""
        if self.at_top and (self.pages is None or snapshot.time_ms - self.pages.read_ms >= _AGAIN_MS):
            self.snapshot = snapshot
            self._load()
        super().show(snapshot, session)

    @work
    async def action_search(self) -> None:
        """Ask what to search for; an empty answer shows all."""
        given = self.pages.search if self.pages else ""
        text = await self.foot.ask("Search (empty: all):", anything, given)
        if text is not None and self.pages is not None:
            self.pages = self.pages._replace(search=text)
            self.query_one("#body", Panel).top()
            self._read()

    def _read(self) -> None:
        self._load()
        super().show(self.snapshot, self.session)

    def _load(self) -> None:
        if self.history is not None:
            search = self.pages.search if self.pages else ""
            self.pages = Pages(self.history.entries(MOST), self.snapshot.time_ms, search)
