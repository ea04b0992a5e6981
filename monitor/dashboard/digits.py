"""Figures so large that they are read from across a room: five lines high, made of the full block alone."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple

from monitor.dashboard.pieces import Line, Piece, Tone, cut, fit, padded

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

HEIGHT = 5
BLOCK = "█"
_SHAPES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "0": ("###", "# #", "# #", "# #", "###"),
        "1": (" # ", "## ", " # ", " # ", "###"),
        "2": ("###", "  #", "###", "#  ", "###"),
        "3": ("###", "  #", " ##", "  #", "###"),
        "4": ("# #", "# #", "###", "  #", "  #"),
        "5": ("###", "#  ", "###", "  #", "###"),
        "6": ("###", "#  ", "###", "# #", "###"),
        "7": ("###", "  #", "  #", "  #", "  #"),
        "8": ("###", "# #", "###", "# #", "###"),
        "9": ("###", "# #", "###", "  #", "###"),
        ".": (" ", " ", " ", " ", "#"),
        "-": ("   ", "   ", "###", "   ", "   "),
        "%": ("# #", "  #", " # ", "#  ", "# #"),
    }
)


class Figure(NamedTuple):
    """One big figure.

    Attributes:
        label: the line over it.
        text: of digits, point, minus and percent.
        tone: of both.
        fill: what it is made of.

    """

    label: str
    text: str
    tone: Tone = Tone.STRONG
    fill: str = BLOCK


def big(text: str, across: int = 1, fill: str = BLOCK) -> tuple[str, ...]:
    """Give a text in ``HEIGHT`` lines of one width, each dot ``across`` cells wide.

    Raises:
        KeyError: there is no shape for a sign.

    """
    shapes = [_SHAPES[char] for char in text]
    dots = {"#": fill * across, " ": " " * across}
    return tuple(" ".join("".join(dots[dot] for dot in shape[y]) for shape in shapes) for y in range(HEIGHT))


def side_by_side(figures: Sequence[Figure], width: int, places: int = 0) -> tuple[Line, ...]:
    """Give figures beside each other in ``HEIGHT`` + 1 lines: a label each, then the figure, as large as all fit.

    Args:
        figures: to draw.
        width: in cells.
        places: divide the width for so many; 0 for as many as there are.

    """
    cell = width // max(places, len(figures), 1)
    across = 2 if all(len(big(figure.text, 2)[0]) < cell for figure in figures) else 1
    drawn = [big(figure.text, across, figure.fill) for figure in figures]
    labels: Line = tuple(Piece(fit(cut(figure.label, cell - 1), cell), figure.tone) for figure in figures)
    lines = [
        tuple(Piece(fit(rows[y], cell), figure.tone) for rows, figure in zip(drawn, figures, strict=True))
        for y in range(HEIGHT)
    ]
    return tuple(padded(line, width) for line in (labels, *lines))
