"""A line between two plots: when loads came on and went off, and while which alarms stood."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from monitor.alarms.model import Priority
from monitor.dashboard.pieces import BLANK, Line, Piece, Tone, fit
from monitor.dashboard.stretch import column_of
from monitor.dashboard.trend import LABEL

if TYPE_CHECKING:
    from monitor.dashboard.stretch import Stretch

ON, OFF, BOTH, ALARM = "+", "-", "±", "▄"
_LABEL = f"{ON}{OFF} {ALARM} alarm"
_TONES = {Priority.LOW: Tone.LOW, Priority.HIGH: Tone.HIGH, Priority.URGENT: Tone.URGENT}
_RANK = (Priority.LOW, Priority.HIGH, Priority.URGENT)


def happened_line(stretch: Stretch, columns: int) -> Line:
    """Draw steps over the alarms of their moment; where both ways fall into one column it is said so."""
    cells: list[tuple[str, Tone]] = [(" ", Tone.QUIET)] * columns
    for spell in sorted(stretch.spells, key=lambda spell: _RANK.index(spell.weight)):
        end_ms = stretch.end_ms if spell.end_ms is None else spell.end_ms
        first, last = (column_of(stretch, columns, moment) for moment in (spell.begin_ms, end_ms))
        for n in range(max(first, 0), last + 1):
            cells[n] = (ALARM, _TONES[spell.weight])
    for step in stretch.steps:
        n = column_of(stretch, columns, step.time_ms)
        if n >= 0:
            glyph = ON if step.on else OFF
            cells[n] = (glyph if cells[n][0] in {glyph, " ", ALARM} else BOTH, Tone.STRONG)
    pieces = [Piece("".join(glyph for glyph, _ in run), tone) for tone, run in groupby(cells, key=lambda cell: cell[1])]
    return (BLANK, *pieces, BLANK, Piece(fit(_LABEL, LABEL - 1), Tone.QUIET))
