"""A panel: draws the lines that a view gives for a Snapshot. It works nothing out and knows no clock."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from rich.segment import Segment
from textual.message import Message
from textual.strip import Strip
from textual.widget import Widget

from monitor.dashboard.pieces import Cells, Line, Page, Piece, Tone, padded
from monitor.engine.snapshot import Snapshot

if TYPE_CHECKING:
    from collections.abc import Mapping

    from rich.style import Style
    from textual import events

View = Callable[[Snapshot, Cells], Page]

_LEAST_WIDTH = 40  # a view is never asked for less; a smaller screen loses the right end
_WHEEL_LINES = 3


class Panel(Widget):
    """Draws one view, its body scrolled; the head says how many lines are out of sight.

    Args:
        view: gives the lines; pure.
        snapshot: to begin with.
        palette: how tones look.
        name: the widget's id.

    """

    ALLOW_SELECT = False

    class Pressed(Message):
        """A line of the body was clicked."""

        def __init__(self, panel: str, line: int) -> None:
            super().__init__()
            self.panel, self.line = panel, line

    def __init__(self, view: View, snapshot: Snapshot, palette: Mapping[Tone, Style], name: str) -> None:
        super().__init__(id=name)
        self._view = view
        self._snapshot = snapshot
        self._palette = palette
        self._page: Page | None = None
        self._styles: Mapping[Tone, Style] = palette
        self._top = 0
        self._kept: int | None = None

    def show(self, snapshot: Snapshot) -> None:
        """Draw another Snapshot."""
        self._snapshot = snapshot
        self._page = None
        self.refresh()

    def move(self, lines: int) -> None:
        """Scroll the body by so many lines."""
        self._top = min(max(self._top + lines, 0), self._last_top)
        self.refresh()

    def turn(self, pages: int) -> None:
        """Scroll the body by so many screens, less a line to keep one's place."""
        self.move(pages * max(self.room - 1, 1))

    def top(self) -> None:
        """Scroll back to the first line."""
        self.move(-self._top)

    @property
    def first(self) -> int:
        """The line of the body that is drawn first."""
        return self._top

    @property
    def room(self) -> int:
        """How many lines of the body are drawn."""
        return max(self.size.height - len(self.page.head), 0)

    @property
    def page(self) -> Page:
        """The lines at the present size."""
        if self._page is None:
            size = Cells(max(self.size.width, _LEAST_WIDTH), self.size.height)
            self._page = self._view(self._snapshot, size)
            base = self.rich_style  # asked once a page: it costs as much as a line
            self._styles = {tone: base + style for tone, style in self._palette.items()}
            self._keep(self._page.keep)
            self._top = min(self._top, self._last_top)
        return self._page

    def render_line(self, y: int) -> Strip:
        """Give one line of the screen."""
        line, styles = self._line(y), self._styles
        if not line or self.size.width < _LEAST_WIDTH:
            line = padded(line, self.size.width)
        return Strip([Segment(piece.text, styles[piece.tone]) for piece in line], self.size.width)

    def on_resize(self) -> None:
        """Lay the lines out anew."""
        self._page = self._kept = None

    def on_mouse_scroll_down(self, event: events.MouseScrollDown) -> None:
        """Scroll with the wheel."""
        event.stop()
        self.move(_WHEEL_LINES)

    def on_mouse_scroll_up(self, event: events.MouseScrollUp) -> None:
        """Scroll with the wheel."""
        event.stop()
        self.move(-_WHEEL_LINES)

    def on_click(self, event: events.Click) -> None:
        """Tell which line of the body was clicked."""
        line = event.y - len(self.page.head) + self._top
        if event.y >= len(self.page.head) and line < len(self.page.body):
            self.post_message(self.Pressed(self.id or "", line))

    def _keep(self, line: int | None) -> None:
        """Scroll to the line that is to stay in sight, where it is another than before."""
        if line is not None and line != self._kept:
            self._top = max(min(self._top, line - 1), line - self.room + 1, 0)
        self._kept = line

    def _line(self, y: int) -> Line:
        page = self.page
        if y < len(page.head):
            return self._with_hidden(page.head[y]) if y == page.free else page.head[y]
        index = y - len(page.head) + self._top
        return page.body[index] if index < len(page.body) else ()

    def _with_hidden(self, line: Line) -> Line:
        below = self._last_top - self._top
        hidden = [f"{mark}{count}" for mark, count in (("▲", self._top), ("▼", below)) if count]
        if not hidden:
            return line
        return (Piece(" ".join(hidden), Tone.STRONG), *_without_start(line, len(" ".join(hidden))))

    @property
    def _last_top(self) -> int:
        return max(len(self.page.body) - self.room, 0)


def _without_start(line: Line, cells: int) -> Line:
    first, *rest = line
    return (Piece(first.text[cells:], first.tone), *rest)
