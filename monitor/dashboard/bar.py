"""The bar: amps on a scale that carries the plan, the limit for continuous load and the rating.

Every bar has the same scale, nought to one and a half times the rating, so that the ratings of all rows stand under
each other and whatever passes that line is seen at once. Only glyphs that a Linux console has.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

from monitor.dashboard.pieces import Line, Piece, Tone

FULL_SCALE = 1.5  # of the rating
FILL, LOWER_BOUND, TIGHT, LIMIT, PLAN, BEYOND = "█", "▒", "░", "│", "●", "→"


@dataclass(frozen=True, slots=True)
class Marks:
    """What a bar's scale carries.

    Attributes:
        rated: [A], above 0.
        continuous: the site's limit for continuous load [A], or None.
        planned: [A], or None or 0 without a plan.

    """

    rated: float
    continuous: float | None = None
    planned: float | None = None


def bar(amps: float, marks: Marks, width: int, tone: Tone = Tone.FILL, fill: str = FILL) -> Line:
    """Draw one bar.

    Args:
        amps: measured [A]; below zero it draws as nothing.
        marks: what the scale carries.
        width: in cells.
        tone: of the filled part.
        fill: the filled part's glyph; ``LOWER_BOUND`` for a sum of what is measured.

    Returns:
        Pieces of ``width`` cells together. Marks are drawn over the fill. Amps above the continuous limit or the
        rating fill at least one cell behind its mark, amps up to it never do.

    """
    full = filled(amps, marks, width)
    marked = _marked(marks, amps, width)
    track = cell_of(marks.continuous or marks.rated, marks, width), cell_of(marks.rated, marks, width)
    cells = []
    for index in range(width):
        empty = TIGHT if track[0] <= index < track[1] else " "
        cells.append((marked.get(index, fill if index < full else empty), tone if index < full else Tone.QUIET))
    if amps > FULL_SCALE * marks.rated and cells:
        cells[-1] = (BEYOND, tone)
    return tuple(Piece("".join(glyph for glyph, _ in run), of) for of, run in groupby(cells, key=lambda cell: cell[1]))


def scale(width: int) -> str:
    """Give the numbers over a bar [% of the rating] in ``width`` cells; ``100`` begins over the rating's mark."""
    text = [" "] * width
    begins = {percent: cell_of(percent, Marks(100.0), width) for percent in (0, 50, 100)}
    for percent, start in begins.items():
        label = f"{percent}%" if percent else "0"
        if percent != 50 or start + len(label) < begins[100]:  # noqa: PLR2004 - the one in the middle gives way
            text[start : start + len(label)] = label
    return "".join(text)[:width]


def _marked(marks: Marks, amps: float, width: int) -> dict[int, str]:
    """Give the marks by cell; where two fall into one cell the graver one stays.

    The plan's mark gives way where it would hide the one cell that shows a mark as passed.
    """
    marked = {}
    limits = [mark for mark in (marks.continuous, marks.rated) if mark is not None and amps > mark]
    if marks.planned and cell_of(marks.planned, marks, width) not in {
        cell_of(mark, marks, width) + 1 for mark in limits
    }:
        marked[cell_of(marks.planned, marks, width)] = PLAN
    if marks.continuous is not None:
        marked[cell_of(marks.continuous, marks, width)] = LIMIT
    marked[cell_of(marks.rated, marks, width)] = LIMIT
    return marked


def filled(amps: float, marks: Marks, width: int) -> int:
    """Give how many cells are filled: rounded, but never across a limit that isn't passed, always across one that is.

    The rating has the last word, since it comes last.
    """
    full = round(_position(amps, marks, width))
    for mark in (marks.continuous, marks.rated):
        if mark is None:
            continue
        cell = cell_of(mark, marks, width)
        full = max(full, cell + 2) if amps > mark else min(full, cell + 1)
    return min(max(full, 0), width)


def _position(amps: float, marks: Marks, width: int) -> float:
    return amps * width / (FULL_SCALE * marks.rated)


def cell_of(amps: float, marks: Marks, width: int) -> int:
    """Give the cell that a mark at some amps stands in."""
    nearly = 1e-9  # a mark on a cell's edge belongs to the cell behind it, whatever the rounding
    return min(int(_position(amps, marks, width) + nearly), width - 1)
