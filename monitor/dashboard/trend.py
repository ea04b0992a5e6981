"""Amps and volts over time, drawn in the glyphs of a Linux console.

Amps stand on the scale of every bar, turned upright, with the same marks: nought to one and a half times the rating.
"""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, NamedTuple

from monitor.dashboard import words
from monitor.dashboard.bar import FILL, FULL_SCALE, PLAN, TIGHT, Marks, cell_of, filled
from monitor.dashboard.pieces import BLANK, Line, Piece, Tone, fit

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from monitor.dashboard.stretch import Column, Span

LABEL = 11  # cells to the right of a plot, with a blank
_MISSING, _ABOVE, _BELOW = "?", "▲", "▼"
_PLAN_EVERY = 4  # columns
_STEPS = (0.05, 0.1, 0.2)  # of nominal volts above and below it: what a plot of volts holds
_NEARLY = 1e-9

Cell = tuple[str, Tone]


class _Rule(NamedTuple):
    """A line across a plot: its label, what it is made of, in every how many columns, whether over what is filled."""

    label: str
    glyph: str = "─"
    every: int = 1
    over: bool = True


def amps_lines(columns: Sequence[Column], marks: Marks, height: int) -> tuple[Line, ...]:
    """Draw amps: full up to the mean, light up to the highest; ``?`` below where readings are missing."""
    rules = _rules(marks, height)
    drawn = [_amps_column(column.amps, marks, height) for column in columns]
    return tuple(
        _line(_row(columns, drawn, y, rules), _label(y, height, marks, rules)) for y in reversed(range(height))
    )


def volts_lines(
    columns: Sequence[Column], nominal: float, height: int, limits: tuple[float, float] | None = None
) -> tuple[Line, ...]:
    """Draw volts from the lowest to the highest of each column, nominal in the middle of an odd ``height``.

    ``limits`` are those of the alarms, low and high [V]; they are drawn across.
    """
    return around_lines(columns, nominal, height, ("V", _STEPS), limits)


def around_lines(
    columns: Sequence[Column],
    nominal: float,
    height: int,
    scale: tuple[str, tuple[float, ...]],
    limits: tuple[float, float] | None = None,
) -> tuple[Line, ...]:
    """Draw what stands around a nominal value, in the place of the columns' volts.

    Args:
        columns: with what is drawn as their volts.
        nominal: in the middle of an odd ``height``.
        height: in lines.
        scale: its unit, and how far the plot may reach above and below nominal, as parts of it, rising.
        limits: low and high, drawn across; the plot reaches them.

    """
    unit, steps = scale
    seen = [abs(value / nominal - 1) for column in columns if column.volts for value in column.volts[::2]]
    seen += [abs(limit / nominal - 1) for limit in limits or ()]
    reach = next((step for step in steps if max(seen, default=0.0) <= step + _NEARLY), steps[-1])
    middle = height // 2
    rules = {middle: _Rule(f"{words.limit(nominal)} {unit}", over=False)}
    for word, limit in zip(("low", "high"), limits or (), strict=False):
        rules[_place(limit, nominal, reach, height)] = _Rule(f"{words.limit(limit)} {word}")
    ends = {0: f"{words.limit(nominal * (1 - reach))}", height - 1: f"{words.limit(nominal * (1 + reach))}"}
    drawn = [_volts_column(column.volts, nominal, reach, height) for column in columns]
    return tuple(
        _line(_row(columns, drawn, y, rules), rules[y].label if y in rules else ends.get(y, ""))
        for y in reversed(range(height))
    )


def times_line(span_ms: tuple[int, int], timezone: str, columns: int, label: str) -> Line:
    """Write the times below a plot: where it begins, its middle and its end; and a label in the labels' place."""
    begin_ms, end_ms = span_ms
    places = ((0, begin_ms), (columns // 2, (begin_ms + end_ms) // 2), (columns, end_ms))
    text = [" "] * columns
    for place, moment in places:
        time = f"{words.moment(moment, timezone):%H:%M}"
        start = min(max(place - len(time) // 2, 0), columns - len(time))
        text[start : start + len(time)] = time
    return (BLANK, Piece("".join(text), Tone.QUIET), BLANK, Piece(fit(label, LABEL - 1), Tone.PLAIN))


def _rules(marks: Marks, height: int) -> Mapping[int, _Rule]:
    """Give the lines by row; where two fall into one row the graver one stays."""
    rules = {}
    if marks.planned:
        rules[cell_of(marks.planned, marks, height)] = _Rule(f"{words.limit(marks.planned)} plan", PLAN, _PLAN_EVERY)
    if marks.continuous is not None:
        rules[cell_of(marks.continuous, marks, height)] = _Rule(f"{words.limit(marks.continuous)} limit")
    rules[cell_of(marks.rated, marks, height)] = _Rule(f"{words.limit(marks.rated)} rating")
    return rules


def _label(y: int, height: int, marks: Marks, rules: Mapping[int, _Rule]) -> str:
    if y in rules:
        return rules[y].label
    return {0: "0", height - 1: f"{words.limit(marks.rated * FULL_SCALE)} A"}.get(y, "")


def _amps_column(span: Span | None, marks: Marks, height: int) -> str:
    """Give one column's glyphs from below, blanks where nothing is filled; empty where nothing was measured."""
    if span is None:
        return ""
    _, mean, highest = span
    solid = filled(mean, marks, height)
    text = FILL * solid + TIGHT * (filled(highest, marks, height) - solid)
    return text[: height - 1] + _ABOVE if highest > FULL_SCALE * marks.rated else text.ljust(height)


def _volts_column(span: Span | None, nominal: float, reach: float, height: int) -> str:
    if span is None:
        return ""
    low, high = (_place(value, nominal, reach, height) for value in (span[0], span[2]))
    text = list((" " * low + FILL * (high - low + 1)).ljust(height))
    if span[0] < nominal * (1 - reach - _NEARLY):
        text[0] = _BELOW
    if span[2] > nominal * (1 + reach + _NEARLY):
        text[-1] = _ABOVE
    return "".join(text)


def _place(value: float, nominal: float, reach: float, height: int) -> int:
    """Give the line of a plot, from below, that a value around nominal stands in."""
    return min(max(round(((value / nominal - 1) / reach + 1) / 2 * (height - 1)), 0), height - 1)


def _row(columns: Sequence[Column], drawn: Sequence[str], y: int, rules: Mapping[int, _Rule]) -> Iterator[Cell]:
    """Give one row's cells; no line is drawn across what was not measured."""
    rule = rules.get(y)
    for n, (column, glyphs) in enumerate(zip(columns, drawn, strict=True)):
        glyph = glyphs[y] if glyphs else " "
        tone = Tone.QUIET if glyph == " " else Tone.FILL
        if column.missing and y == 0:
            yield _MISSING, Tone.STRONG
        elif rule and glyphs and (rule.over or glyph == " ") and n % rule.every == 0:
            yield rule.glyph, tone
        else:
            yield glyph, tone


def _line(cells: Iterable[Cell], label: str) -> Line:
    pieces = [Piece("".join(glyph for glyph, _ in run), tone) for tone, run in groupby(cells, key=lambda cell: cell[1])]
    return (BLANK, *pieces, BLANK, Piece(fit(label, LABEL - 1), Tone.QUIET))
