"""The source on a screen of its own: zoom through hertz and volts, enter a refuel."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType

from monitor.dashboard.screens import OverScreen
from monitor.dashboard.sourcepage import SOURCE_ID, source_page
from monitor.dashboard.sourcetrend import Trace
from monitor.dashboard.stretch import Stretch

if TYPE_CHECKING:
    from monitor.dashboard.pieces import Cells, Page
    from monitor.dashboard.session import Session
    from monitor.engine.snapshot import Snapshot

_MINUTE_MS = 60_000
ZOOMS_MS = (5 * _MINUTE_MS, 20 * _MINUTE_MS, 120 * _MINUTE_MS, 720 * _MINUTE_MS)
_LOOKS = 100  # the log is read anew so many times while a stretch passes: about once for each column


class SourceScreen(OverScreen):
    """The source."""

    TOPIC = "source"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("r", "app.refuel", "refuel"),
        Binding("plus", "zoom(-1)", "shorter", key_display="+"),
        Binding("equals_sign", "zoom(-1)", show=False),
        Binding("minus", "zoom(1)", "longer", key_display="-"),
    ]

    _zoom = 0
    _trace: Trace | None = None

    @property
    def place(self) -> str:
        """The source: a note written here is about it."""
        return SOURCE_ID

    def view(self, snapshot: Snapshot, size: Cells) -> Page:
        """Give the body's lines."""
        return source_page(snapshot, size, self._trace)

    def offers(self, action: str) -> bool:
        """Leave out the trend's keys where there is none, refuelling where there is no fuel, and what opened this."""
        if action == "app.refuel":
            return self.snapshot.source.fuel is not None
        if action in {"zoom(-1)", "zoom(1)"}:
            return self.history is not None
        return action != "over('source')"

    def on_mount(self) -> None:
        """Read the past."""
        self._read()

    def show(self, snapshot: Snapshot, session: Session) -> None:
        """Draw another Snapshot; read on in the log where something new would show."""
        read_ms = self._trace.stretch.end_ms if self._trace is not None else 0
        if snapshot.time_ms - read_ms >= ZOOMS_MS[self._zoom] / _LOOKS:
            self.snapshot = snapshot
            self._load()
        super().show(snapshot, session)

    def action_zoom(self, step: int) -> None:
        """Show a longer stretch, or a shorter one."""
        self._zoom = min(max(self._zoom + step, 0), len(ZOOMS_MS) - 1)
        self._read()

    def _read(self) -> None:
        self._load()
        super().show(self.snapshot, self.session)

    def _load(self) -> None:
        if self.history is not None:
            end_ms = self.snapshot.time_ms
            begin_ms = end_ms - ZOOMS_MS[self._zoom]
            self._trace = Trace(Stretch(begin_ms, end_ms, self.history.samples(SOURCE_ID, begin_ms, end_ms)))
