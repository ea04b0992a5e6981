"""The two quiet marks on a circuit's line: whether its load is rising or falling, and how warm its breaker has run."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.dashboard.pieces import BLANK, Piece, Tone

if TYPE_CHECKING:
    from monitor.engine.snapshot import CircuitView
    from monitor.engine.told import HeatView

RISING, FALLING, WARM, HOT = "↑", "↓", "°", "♦"
_MOVES = 0.03  # of the rating, over the last minute: less is steady (a judgement)
_WARM_FROM, _HOT_FROM = 0.5, 1.0  # of the early edge: half of it, and where the standard lets the breaker open
_LATE_FROM = 0.5  # of the late edge, where the standard sets no early one


def trend_mark(circuit: CircuitView) -> Piece:
    """Give an arrow while a circuit's amps rise or fall, else a blank."""
    change = circuit.over_minute_amps
    if change is None or abs(change) < _MOVES * circuit.rated_amps:
        return BLANK
    return Piece(RISING if change > 0 else FALLING, Tone.PLAIN)


def heat_mark(circuit: CircuitView) -> Piece:
    """Give how warm a breaker has run, a blank while it is not known or cool."""
    match heat_word(circuit.heat):
        case "hot":
            return Piece(HOT, Tone.STRONG)
        case "warm":
            return Piece(WARM, Tone.PLAIN)
        case _:
            return BLANK


def heat_word(heat: HeatView | None) -> str:
    """Give ``cool``, ``warm`` or ``hot``; empty where it is not known."""
    if heat is None or (heat.fastest is None and heat.slowest is None):
        return ""
    if heat.fastest is None:
        return "warm" if (heat.slowest or 0.0) >= _LATE_FROM else "cool"
    return "hot" if heat.fastest >= _HOT_FROM else "warm" if heat.fastest >= _WARM_FROM else "cool"
