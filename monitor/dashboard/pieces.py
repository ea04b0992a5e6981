"""Lines of text in pieces, each with a tone: what every view function gives, whether or not there is a terminal."""

from __future__ import annotations

from enum import StrEnum
from typing import NamedTuple

from rich.cells import cell_len, set_cell_size


class Tone(StrEnum):
    """What a piece of text means for the eye; ``palette`` says how each looks in each number of colours."""

    PLAIN = "plain"
    QUIET = "quiet"  # there to be found, not to be noticed
    STRONG = "strong"  # the figures read from three metres
    FILL = "fill"  # the filled part of a bar
    OLD = "old"  # not live
    LOW = "low"
    HIGH = "high"
    URGENT = "urgent"
    LOUD = "loud"  # the screen itself can't be believed


class Piece(NamedTuple):
    """A run of text in one tone."""

    text: str
    tone: Tone = Tone.PLAIN


Line = tuple[Piece, ...]


def clean(text: str) -> str:
    """Give text from outside without anything that could steer a terminal."""
    return "".join(char if char.isprintable() else "?" for char in text)


def fit(text: str, width: int) -> str:
    """Give the text in exactly ``width`` cells, left-aligned; a full stop ends what had to be cut."""
    text = clean(text)
    if cell_len(text) > width:
        return set_cell_size(text, max(width - 1, 0)) + "."[:width]
    return set_cell_size(text, width)


def right(text: str, width: int) -> str:
    """Give the text right-aligned in ``width`` cells; a figure too long for its place is shown as ``#``."""
    return "#" * width if len(text) > width else text.rjust(width)


def width_of(line: Line) -> int:
    """Give the width of a line in cells."""
    return sum(cell_len(piece.text) for piece in line)


def text_of(line: Line) -> str:
    """Give a line's text without its tones."""
    return "".join(piece.text for piece in line)
