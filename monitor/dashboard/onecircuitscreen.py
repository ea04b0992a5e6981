"""One circuit on a screen of its own: zoom, and on to the next one."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType

from monitor.dashboard.circuitmore import Beside
from monitor.dashboard.onecircuit import circuit_page
from monitor.dashboard.screens import OverScreen
from monitor.dashboard.stretch import Stretch

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from rich.style import Style

    from monitor.dashboard.pieces import Cells, Page, Tone
    from monitor.dashboard.session import Session
    from monitor.engine.history import History, Planned
    from monitor.engine.snapshot import CircuitView, Snapshot

_MINUTE_MS = 60_000
ZOOMS_MS = (5 * _MINUTE_MS, 20 * _MINUTE_MS, 120 * _MINUTE_MS, 720 * _MINUTE_MS)
_LOOKS = 100  # the log is read anew so many times while a stretch passes: about once for each column


class OneCircuitScreen(OverScreen):
    """One circuit.

    Args:
        snapshot: to begin with, as it may be shown.
        palette: how tones look.
        session: who sits at this screen, and what holds for it.
        history: the past, or None.

    """

    TOPIC = "circuit"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("right", "next(1)", "next circuit", key_display="← →"),
        Binding("right_square_bracket", "next(1)", show=False),
        Binding("left,left_square_bracket", "next(-1)", show=False),
        Binding("plus", "zoom(-1)", "shorter", key_display="+"),
        Binding("equals_sign", "zoom(-1)", show=False),
        Binding("minus", "zoom(1)", "longer", key_display="-"),
    ]

    def __init__(
        self, snapshot: Snapshot, palette: Mapping[Tone, Style], session: Session, history: History | None = None
    ) -> None:
        super().__init__(snapshot, palette, session, history)
        self._circuits: tuple[str, ...] = ()
        self._circuit = ""
        self._tell: Callable[[str], None] | None = None
        self._zoom = 1
        self._stretch: Stretch | None = None
        self._planned: tuple[Planned, ...] = ()

    def begin(self, circuit: str, circuits: tuple[str, ...], tell: Callable[[str], None]) -> None:
        """Say which circuit is shown first, which ones follow each other, and whom to tell of another one."""
        self._circuit, self._circuits, self._tell = circuit, circuits, tell

    @property
    def place(self) -> str:
        """The circuit's id."""
        return self._circuit

    def view(self, snapshot: Snapshot, size: Cells) -> Page:
        """Give the body's lines."""
        return circuit_page(snapshot, size, self._found(snapshot), self._stretch, self._beside(snapshot))

    def offers(self, action: str) -> bool:
        """Leave out the keys of the trend where there is none."""
        return action not in {"zoom(-1)", "zoom(1)"} or self.history is not None

    def on_mount(self) -> None:
        """Read the past."""
        self._read()

    def show(self, snapshot: Snapshot, session: Session) -> None:
        """Draw another Snapshot; read on in the log where something new would show."""
        if self._stretch is None or snapshot.time_ms - self._stretch.end_ms >= ZOOMS_MS[self._zoom] / _LOOKS:
            self.snapshot = snapshot
            self._load()
        super().show(snapshot, session)

    def action_next(self, step: int) -> None:
        """Show the next circuit, or the one before."""
        if self._circuit in self._circuits:
            index = self._circuits.index(self._circuit) + step
            self._circuit = self._circuits[min(max(index, 0), len(self._circuits) - 1)]
            if self._tell is not None:
                self._tell(self._circuit)
            self._read()

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
            stretch = (begin_ms, end_ms)
            samples = self.history.samples(self._circuit, *stretch)
            steps = self.history.switchings(self._circuit, *stretch)
            self._stretch = Stretch(*stretch, samples, steps, self.history.spells(*stretch, self._circuit))
            self._planned = self.history.planned(self._circuit, end_ms)

    def _beside(self, snapshot: Snapshot) -> Beside | None:
        circuit = self._found(snapshot)
        if self.history is None or circuit is None:
            return None
        amps = circuit.measured.amps if circuit.measured.live else None
        allowed = self.history.allowed(circuit.id, abs(amps)) if amps is not None else None
        steps = self._stretch.steps if self._stretch else ()
        return Beside(self.history.fixed(circuit.id), allowed, self._planned, steps)

    def _found(self, snapshot: Snapshot) -> CircuitView | None:
        return next((circuit for circuit in snapshot.circuits if circuit.id == self._circuit), None)
