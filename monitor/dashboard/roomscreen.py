"""Room for a load, asked from any screen: how large it is, then where it fits, by what is measured as it goes on."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual import work
from textual.binding import Binding, BindingType

from monitor.dashboard.entries import load_in, why_no_load
from monitor.dashboard.roompage import Answer, room_page
from monitor.dashboard.screens import OverScreen

if TYPE_CHECKING:
    from monitor.dashboard.pieces import Cells, Page
    from monitor.dashboard.session import Session
    from monitor.engine.snapshot import Snapshot

_AGAIN_MS = 5_000


class RoomScreen(OverScreen):
    """Room for a load."""

    TOPIC = "others"
    BINDINGS: ClassVar[list[BindingType]] = [Binding("h", "load", "another load")]

    answer: Answer | None = None
    typed = ""

    def view(self, snapshot: Snapshot, size: Cells) -> Page:
        """Give the lines."""
        return room_page(snapshot, size, self.answer, can_answer=self.history is not None)

    def offers(self, action: str) -> bool:
        """Leave out the question where nothing could answer it."""
        return action != "load" or self.history is not None

    def on_mount(self) -> None:
        """Ask at once."""
        self.action_load()

    def show(self, snapshot: Snapshot, session: Session) -> None:
        """Draw another Snapshot; answer anew every few seconds."""
        if self.answer is not None and snapshot.time_ms - self.answer.time_ms >= _AGAIN_MS:
            self._work_out(snapshot)
        super().show(snapshot, session)

    @work
    async def action_load(self) -> None:
        """Ask how large the load is."""
        if self.history is None:
            return
        text = await self.foot.ask("Room for how many watts (1200 or 1200@0.9)?", why_no_load, self.typed)
        if text is not None:
            self.typed = text
            self._work_out(self.snapshot)
            super().show(self.snapshot, self.session)

    def _work_out(self, snapshot: Snapshot) -> None:
        load = load_in(self.typed)
        if self.history is not None and load is not None and snapshot.logger.running:
            self.answer = Answer(*load, snapshot.time_ms, self.history.room(*load))
