"""Few big figures for a screen on the wall: the source, its legs, and the circuits nearest to their limits."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.dashboard import words
from monitor.dashboard.bar import LOWER_BOUND
from monitor.dashboard.digits import HEIGHT, Figure, side_by_side
from monitor.dashboard.faults import Faults
from monitor.dashboard.pieces import BLANK, Cells, Line, Page, Piece, Tone, cut, fit, padded, right
from monitor.dashboard.sight import SOURCE_ID, nearest, ranked
from monitor.engine.snapshot import Freshness

if TYPE_CHECKING:
    from monitor.dashboard.sight import Sight
    from monitor.engine.snapshot import CircuitView, LegView, Snapshot

_SOURCE_PLACE, _SOURCE_SHARE = 15, 0.6  # cells that a figure of the source takes; of the lines, at most, for them all
_PLACE = 20  # cells for one circuit's big figure
_BAND = HEIGHT + 1
_FIGURES = 26  # cells for a further circuit's figures


def wall_page(snapshot: Snapshot, size: Cells, sight: Sight) -> Page:
    """Give the big figures: as many circuits as have room, the nearest to its limit first."""
    faults, width = Faults(snapshot.wrong), size.width
    figures, across = _source(snapshot, faults), max(width // _SOURCE_PLACE, 1)
    lines: list[Line] = []
    if -(-len(figures) // across) * _BAND > size.height * _SOURCE_SHARE:
        across = len(figures)
    while figures:
        lines += side_by_side(figures[:across], width, 0 if not lines else across)
        figures = figures[across:]
    known = [circuit for circuit in nearest(snapshot, sight) if ranked(circuit)]
    lines.append(_title(snapshot, sight, width))
    if not known:
        return Page((*lines, padded((Piece("No live amps of any circuit.", Tone.OLD),), width)))
    across = max(width // _PLACE, 1)
    while known and size.height - len(lines) >= _BAND:
        shown, known = known[:across], known[across:]
        lines += side_by_side([_circuit(circuit, faults) for circuit in shown], width, across)
    lines += [_row(circuit, faults, width) for circuit in known[: max(size.height - len(lines), 0)]]
    return Page(tuple(lines[: size.height]), free=-1)


def _source(snapshot: Snapshot, faults: Faults) -> list[Figure]:
    source = snapshot.source
    tone = faults.tone("kW", Tone.OLD if source.kilowatts is None else Tone.STRONG, SOURCE_ID)
    if source.percent is not None and source.rated_kw is not None:
        figures = [Figure(f"kW, of {source.rated_kw:g}", f"{source.percent:.0f}%", tone)]
    elif source.kilowatts is not None:
        figures = [Figure("kW", f"{source.kilowatts:.1f}", tone)]
    else:
        figures = [Figure(words.power(source), words.MISSING, tone)]
    if source.kilowatts is not None and not source.kilowatts_measured:
        figures = [figures[0]._replace(label=f"at most {figures[0].label}", fill=LOWER_BOUND)]
    return figures + [_leg(leg, faults) for leg in source.legs]


def _leg(leg: LegView, faults: Faults) -> Figure:
    of = "" if leg.limit_amps is None else f" of {words.limit(leg.limit_amps)} A"
    point = f"{SOURCE_ID}/{leg.leg}"
    if leg.measured.live:
        return Figure(f"{leg.leg}{of}", words.amps(leg.measured.amps), faults.tone("amps", Tone.STRONG, point))
    if leg.measured.freshness is Freshness.UNMETERED and leg.circuits_amps is not None:
        return Figure(f"{leg.leg} at least", words.amps(leg.circuits_amps), Tone.PLAIN, LOWER_BOUND)
    return Figure(f"{leg.leg} {words.no_reading(leg.measured)}", words.MISSING, Tone.OLD)


def _title(snapshot: Snapshot, sight: Sight, width: int) -> Line:
    kept = nearest(snapshot, sight)
    unknown = sum(not ranked(circuit) for circuit in kept)
    said = f"{len(kept)} of {len(snapshot.circuits)} circuits: {sight.only}, nearest" if sight.only else "Nearest"
    said += " to its limit first, in % of the breaker's rating"
    missing = f"; {unknown} without live amps" if unknown else ""
    return padded((Piece(cut(said, width - len(missing)), Tone.QUIET), Piece(missing, Tone.STRONG)), width)


def _circuit(circuit: CircuitView, faults: Faults) -> Figure:
    name = "" if circuit.name == circuit.id else f" {circuit.name}"
    mark = faults.badge(*_points(circuit)).text.strip()
    tone = faults.tone("amps", Tone.STRONG, *_points(circuit))
    return Figure(" ".join(filter(None, (mark, f"{circuit.id}{name}"))), f"{circuit.percent:.0f}%", tone)


def _row(circuit: CircuitView, faults: Faults, width: int) -> Line:
    amps = f"{words.amps(circuit.measured.amps)} of {words.limit(circuit.rated_amps)} A"
    figures = right(f"{amps} {words.percent(circuit.percent)}", _FIGURES)
    tone = faults.tone("amps", Tone.STRONG, *_points(circuit))
    name = fit(circuit.id if circuit.name == circuit.id else f"{circuit.id} {circuit.name}", width - _FIGURES - 8)
    return padded((faults.badge(*_points(circuit)), BLANK, Piece(name), Piece(figures, tone)), width)


def _points(circuit: CircuitView) -> tuple[str, ...]:
    return (circuit.id, *(f"{circuit.id}/{leg}" for leg in circuit.legs))
