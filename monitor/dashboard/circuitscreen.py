"""The circuits: one of them chosen, ordered and filtered as its user wants, or few big figures for the wall."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar

from textual import work
from textual.binding import Binding, BindingType

from monitor.dashboard.panel import Panel
from monitor.dashboard.rows import circuits_page
from monitor.dashboard.screens import PowerScreen
from monitor.dashboard.sight import ALL, Order, listing, named, why_no_filter
from monitor.dashboard.wall import wall_page
from monitor.engine.snapshot import CircuitView

if TYPE_CHECKING:
    from monitor.dashboard.pieces import Cells, Page
    from monitor.dashboard.sight import Sight
    from monitor.engine.snapshot import Snapshot

_ROWS_ALONE = frozenset({"move(1)", "app.circuit", "order"})


class CircuitsScreen(PowerScreen):
    """The way from the source to the circuits. The chosen circuit is kept by its id, wherever it moves in the list."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("down", "move(1)", "choose", key_display="▲▼"),
        Binding("enter", "app.circuit", "one circuit", key_display="Enter"),
        Binding("s", "order", "order"),
        Binding("f", "filter", "filter"),
        Binding("g", "large", "large"),
        Binding("escape", "let_go", show=False),
    ]

    sight = ALL

    @property
    def place(self) -> str:
        """The chosen circuit's id, or empty."""
        return self.sight.chosen or ""

    @property
    def circuits(self) -> tuple[str, ...]:
        """The ids of the circuits, in the order in which they stand."""
        return tuple(row.id for row in listing(self.snapshot, self.sight) if isinstance(row, CircuitView))

    def view(self, snapshot: Snapshot, size: Cells) -> Page:
        """Give the body's lines."""
        page = wall_page if self.sight.large else circuits_page
        return page(snapshot, size, self.sight)

    def offers(self, action: str) -> bool:
        """Leave out what only rows have while the figures are large."""
        return not (self.sight.large and action in _ROWS_ALONE)

    def action_move(self, lines: int) -> None:
        """Choose another circuit, so many lines away; where none is chosen, from the first line that is drawn."""
        if self.sight.large:
            return
        rows = listing(self.snapshot, self.sight)
        circuits = [(n, row.id) for n, row in enumerate(rows) if isinstance(row, CircuitView)]
        before_first = self.query_one("#body", Panel).first - 1
        wanted = lines + next((n for n, name in circuits if name == self.sight.chosen), before_first)
        if lines > 0:
            found = [name for n, name in circuits if n >= wanted][:1] or [name for _, name in circuits[-1:]]
        else:
            found = [name for n, name in circuits if n <= wanted][-1:] or [name for _, name in circuits[:1]]
        for name in found:
            self.choose(name)

    def action_turn(self, pages: int) -> None:
        """Choose a circuit a screen away."""
        self.action_move(pages * max(self.query_one("#body", Panel).room - 1, 1))

    def action_order(self) -> None:
        """Stand in the next order."""
        orders = list(Order)
        self._look(replace(self.sight, order=orders[(orders.index(self.sight.order) + 1) % len(orders)]))

    def action_large(self) -> None:
        """Draw few big figures, or rows again."""
        self._look(replace(self.sight, large=not self.sight.large))

    def action_let_go(self) -> None:
        """Choose none, or draw rows again."""
        self._look(replace(self.sight, large=False, chosen=self.sight.chosen if self.sight.large else None))

    @work
    async def action_filter(self) -> None:
        """Ask which box or leg is looked at; an empty answer: all."""
        given = self.sight.only
        text = await self.foot.ask("Only box or leg (empty: all):", self._why_no_filter, given)
        if text is not None:
            self._look(replace(self.sight, only=named(self.snapshot, text)))

    def choose(self, circuit: str) -> None:
        """Choose a circuit by its id."""
        self._look(replace(self.sight, chosen=circuit))

    async def on_panel_pressed(self, message: Panel.Pressed) -> None:
        """Choose the circuit that was clicked; a click on the chosen one opens it."""
        rows = listing(self.snapshot, self.sight)
        if message.panel != "body" or self.sight.large or message.line >= len(rows):
            return
        row = rows[message.line]
        if isinstance(row, CircuitView) and row.id == self.sight.chosen:
            await self.run_action("app.circuit")
        elif isinstance(row, CircuitView):
            self.choose(row.id)

    def _look(self, sight: Sight) -> None:
        self.sight = sight
        self.show(self.snapshot, self.session)
        self.show_keys()

    def _why_no_filter(self, text: str) -> str:
        return why_no_filter(self.snapshot, text)
