"""Lines of text in pieces, each with a tone: what every view function gives, whether or not there is a terminal."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple, overload

from rich.cells import cell_len, set_cell_size

if TYPE_CHECKING:
    from collections.abc import Callable


class Tone(StrEnum):
    """What a piece of text means for the eye; ``palette`` says how each looks in each number of colours."""

    PLAIN = "plain"
    QUIET = "quiet"  # there to be found, not to be noticed
    STRONG = "strong"  # the figures read from three metres
    FILL = "fill"  # the filled part of a bar
    OLD = "old"  # not live
    LOW = "low"  # of these three: a figure that something is wrong with
    HIGH = "high"
    URGENT = "urgent"
    LOW_FILL = "low fill"  # of these three: its bar
    HIGH_FILL = "high fill"
    URGENT_FILL = "urgent fill"
    LOW_BADGE = "low badge"  # of these three: the mark and word that say what is wrong
    HIGH_BADGE = "high badge"
    URGENT_BADGE = "urgent badge"
    LOUD = "loud"  # the screen itself can't be believed


class Piece(NamedTuple):
    """A run of text in one tone."""

    text: str
    tone: Tone = Tone.PLAIN


Line = tuple[Piece, ...]
BLANK = Piece(" ")
_CUT = " .."


class Cells(NamedTuple):
    """A size on the screen."""

    width: int
    height: int


class Lines(Sequence[Line]):
    """Lines that are drawn when they are looked at: of many only those in sight cost anything.

    Args:
        count: how many there are.
        draw: gives one of them.

    """

    def __init__(self, count: int, draw: Callable[[int], Line]) -> None:
        self._drawn: list[Line | None] = [None] * count
        self._draw = draw

    def __len__(self) -> int:
        """Give how many there are."""
        return len(self._drawn)

    @overload
    def __getitem__(self, index: int) -> Line: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[Line]: ...
    def __getitem__(self, index: int | slice) -> Line | Sequence[Line]:
        """Draw one line, or some, each once."""
        if isinstance(index, slice):
            return [self[n] for n in range(*index.indices(len(self)))]
        line = self._drawn[index]
        if line is None:
            line = self._drawn[index] = self._draw(index)
        return line


class Page(NamedTuple):
    """What a view gives: lines that stay where they are, and lines below them that scroll.

    Attributes:
        head: the lines that stay.
        body: the lines that scroll.
        free: which line of the head has its first cells free, to say there how many lines are out of sight.
        keep: which line of the body is to stay in sight, with the one above it; None where none is.

    """

    head: tuple[Line, ...]
    body: Sequence[Line] = ()
    free: int = 0
    keep: int | None = None


def clean(text: str) -> str:
    """Give text from outside without anything that could steer a terminal."""
    if text.isprintable():
        return text
    return "".join(char if char.isprintable() else "?" for char in text)


@lru_cache(maxsize=1024)  # names are fitted anew each second, and seldom change
def fit(text: str, width: int) -> str:
    """Give the text in exactly ``width`` cells, left-aligned; a full stop ends what had to be cut."""
    text = clean(text)
    if cell_len(text) > width:
        return set_cell_size(text, max(width - 1, 0)) + "."[:width]
    return set_cell_size(text, width)


def cut(text: str, width: int) -> str:
    """Give the text in at most ``width`` cells, cut between words: half a number would be another number."""
    text = clean(text)
    if cell_len(text) <= width:
        return text
    kept = ""
    for word in text.split(" "):
        if cell_len(f"{kept} {word}") + len(_CUT) > width:
            break
        kept = f"{kept} {word}".lstrip()
    return (kept + _CUT)[:width] if kept else ""


def right(text: str, width: int) -> str:
    """Give the text right-aligned in ``width`` cells; a figure too long for its place is shown as ``#``."""
    return "#" * width if len(text) > width else text.rjust(width)


def width_of(line: Line) -> int:
    """Give the width of a line in cells."""
    return sum(cell_len(piece.text) for piece in line)


def text_of(line: Line) -> str:
    """Give a line's text without its tones."""
    return "".join(piece.text for piece in line)


def padded(line: Line, width: int) -> Line:
    """Give the line in exactly ``width`` cells: blanks added behind, or its end lost; joins what looks alike."""
    used = 0
    kept: list[Piece] = []
    for piece in (*line, Piece(" " * width)):
        cells = cell_len(piece.text)
        room = width - used
        text = piece.text if cells <= room else set_cell_size(piece.text, room)
        if not text:
            continue
        cells = min(cells, room)
        used += cells
        if kept and _joins(kept[-1].tone, piece):
            kept[-1] = Piece(kept[-1].text + text, kept[-1].tone)
        else:
            kept.append(Piece(text, piece.tone))
    return tuple(kept)


_BLANKS_LOOK_ALIKE = frozenset({Tone.PLAIN, Tone.QUIET, Tone.STRONG, Tone.FILL, Tone.OLD})


def _joins(tone: Tone, piece: Piece) -> bool:
    return piece.tone is tone or (
        tone in _BLANKS_LOOK_ALIKE and piece.tone in _BLANKS_LOOK_ALIKE and not piece.text.strip()
    )
