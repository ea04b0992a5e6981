"""The keys of a screen in as many lines as they take: at no width does one get lost. A click presses a key."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from rich.segment import Segment
from textual.strip import Strip
from textual.widget import Widget

from monitor.dashboard.pieces import BLANK, Line, Piece, Tone, padded, width_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from rich.style import Style
    from textual import events

_GAP = 2


_WAYS = {"▲▼": ("up", "down"), "← →": ("left", "right")}  # two keys in one hint, as they stand in it


class KeyHint(NamedTuple):
    """One key: how it is shown, what it does, and its name to press it; no name where it is only said."""

    shown: str
    does: str
    press: str = ""

    def pressed_at(self, cell: int) -> str:
        """Give the key that a click on one of its cells means: of two arrows the one that was hit."""
        for arrows, (back, on) in _WAYS.items():
            if self.shown.startswith(arrows):
                return back if cell < len(arrows) // 2 else on
        return self.press


def flowed(hints: Iterable[KeyHint], width: int) -> tuple[tuple[KeyHint, ...], ...]:
    """Give the keys line by line, each line at most ``width`` cells where its keys allow it."""
    lines: list[list[KeyHint]] = [[]]
    for hint in hints:
        if lines[-1] and width_of(_line((*lines[-1], hint))) > width:
            lines.append([])
        lines[-1].append(hint)
    return tuple(tuple(line) for line in lines)


class Keys(Widget):
    """Draws the keys.

    Args:
        palette: how tones look.

    """

    ALLOW_SELECT = False
    DEFAULT_CSS = """
    Keys { height: 1; background: $footer-background; }
    """

    def __init__(self, palette: Mapping[Tone, Style]) -> None:
        super().__init__(id="keys")
        self._palette = palette
        self.hints: tuple[KeyHint, ...] = ()
        self._lines: tuple[tuple[KeyHint, ...], ...] = ()
        self._width, self._height = 0, 1

    def show(self, hints: tuple[KeyHint, ...]) -> None:
        """Draw other keys."""
        if hints != self.hints:
            self.hints = hints
            self._lay_out()

    def on_resize(self) -> None:
        """Lay the keys out anew where the width is another."""
        if self.screen.size.width != self._width:
            self._width, self._height = self.screen.size.width, 1
            self._lay_out()

    def _lay_out(self) -> None:
        """Take as many lines as the keys need, and never fewer than before at this width: nothing above jumps."""
        self._lines = flowed(self.hints, self.screen.size.width)
        self._height = max(self._height, len(self._lines))
        self.styles.height = self._height
        self.refresh()

    def render_line(self, y: int) -> Strip:
        """Give one line of the screen."""
        width, base = self.size.width, self.rich_style
        line = padded(_line(self._lines[y]) if y < len(self._lines) else (), width)
        return Strip([Segment(piece.text, base + self._palette[piece.tone]) for piece in line], width)

    def on_click(self, event: events.Click) -> None:
        """Press the key that was clicked."""
        hint = self.hint_at(event.x, event.y)
        if hint is not None and hint[0].press:
            self.app.simulate_key(hint[0].pressed_at(hint[1]))

    def hint_at(self, x: int, y: int) -> tuple[KeyHint, int] | None:
        """Give the key drawn at a cell and which of its cells that is, or None."""
        row = self._lines[y] if y < len(self._lines) else ()
        end = 0
        for n, hint in enumerate(row):
            start, end = width_of(_line(row[:n])) + (_GAP if n else 0), width_of(_line(row[: n + 1]))
            if start <= x < end:
                return hint, x - start
        return None


def _line(hints: Iterable[KeyHint]) -> Line:
    pieces: list[Piece] = []
    for hint in hints:
        pieces += [Piece(" " * _GAP)] if pieces else []
        pieces += [Piece(hint.shown, Tone.STRONG), BLANK] if hint.shown else []
        pieces.append(Piece(hint.does, Tone.QUIET))
    return tuple(pieces)
