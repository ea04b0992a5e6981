"""A box between source and circuits: one line with the amps of its legs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.dashboard import words
from monitor.dashboard.pieces import BLANK, Line, Piece, Tone, clean, padded, width_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from monitor.dashboard.faults import Faults
    from monitor.engine.snapshot import FeederView, LegView

    _Form = Callable[[LegView], tuple[str, str]]

_RULE = "─"


def box_line(feeder: FeederView, faults: Faults, width: int) -> Line:
    """Give a box's line; words give way to signs, then its name, where its legs would not fit (``>``: at least)."""
    points = (feeder.id, *(f"{feeder.id}/{leg.leg}" for leg in feeder.legs))
    name = "" if feeder.name == feeder.id else f" {clean(feeder.name)}"
    short: Line = (faults.badge(*points), BLANK, Piece(clean(feeder.id), Tone.STRONG))
    full: Line = (*short, Piece(name, Tone.PLAIN))
    forms: tuple[tuple[Line, _Form], ...] = ((full, _in_words), (full, _in_signs), (short, _in_signs), (short, _alone))
    for head, form in forms:
        line = head
        for leg in feeder.legs:
            line = (*line, *_leg(feeder, leg, faults, form))
        if width_of(line) <= width:
            break
    rule = max(width - width_of(line) - 1, 0)
    return padded((*line, BLANK, Piece(_RULE * rule, Tone.QUIET)), width)


def _leg(feeder: FeederView, leg: LegView, faults: Faults, form: _Form) -> Line:
    figure, rest = form(leg)
    tone = Tone.STRONG if leg.measured.live else Tone.OLD if leg.circuits_amps is None else Tone.PLAIN
    point = f"{feeder.id}/{leg.leg}"
    tone = faults.tone("amps", faults.tone("volts", tone, point), point)
    gap = " " if form is _alone else "   "
    return (Piece(f"{gap}{leg.leg} ", Tone.QUIET), Piece(figure, tone), Piece(rest, Tone.QUIET))


def _in_words(leg: LegView) -> tuple[str, str]:
    of = "" if leg.limit_amps is None else f" of {words.limit(leg.limit_amps)}"
    if leg.measured.live:
        return words.amps(leg.measured.amps), f"{of} A"
    if leg.circuits_amps is not None:
        return f"at least {words.amps(leg.circuits_amps)}", f"{of} A"
    return words.no_reading(leg.measured), ""


def _in_signs(leg: LegView) -> tuple[str, str]:
    of = "" if leg.limit_amps is None else f"/{words.limit(leg.limit_amps)}"
    if leg.measured.live:
        return words.amps(leg.measured.amps), of
    if leg.circuits_amps is not None:
        return f">{words.amps(leg.circuits_amps)}", of
    return words.MISSING, ""


def _alone(leg: LegView) -> tuple[str, str]:
    return _in_signs(leg)[0], ""
