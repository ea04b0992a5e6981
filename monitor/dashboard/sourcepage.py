"""The source for whoever runs it: load against ratings on one scale, energy, fuel, and hertz over volts in time."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from rich.cells import cell_len

from monitor.dashboard import sourcewords, words
from monitor.dashboard.bar import Marks, bar
from monitor.dashboard.faults import BADGE_WIDTH, Faults, badge
from monitor.dashboard.pieces import BLANK, Cells, Line, Page, Piece, Tone, cut, fit, padded, right, width_of
from monitor.dashboard.sourcetrend import trace_lines

if TYPE_CHECKING:
    from monitor.dashboard.sourcetrend import Trace
    from monitor.engine.snapshot import LegView, Snapshot, SourceView

SOURCE_ID, NEUTRAL = "source", "N"  # as Snapshots name them
NO_PAST = "No trend: this screen has no log to read the past from."
NO_READINGS = "No trend: the source's legs have no readings in this time."
_LABEL, _VALUE, _OF, _PERCENT, _EXTRA = 7, 8, 9, 5, 8  # cells
_LEAD = BADGE_WIDTH + 1 + _LABEL
_LEAST_BAR, _NARROW, _UNIT = 8, 57, 3
_KW, _KVA = frozenset({"source-kw"}), frozenset({"source-kva"})
_LOW, _FUEL = frozenset({"source-low-load"}), frozenset({"fuel-reserve", "fuel-time"})


class _Row(NamedTuple):
    """One figure against its rating.

    Attributes:
        mark: what is wrong with it.
        label: its name.
        value: as it is written; ``-`` where it is not known.
        tone: of the value.
        filled: value and rating for the bar, or None.
        of: the rating with its unit.
        percent: of the rating.
        extra: what stands behind.
        instead: said in the place of all but the value, where there is no live figure.

    """

    mark: Piece
    label: str
    value: str
    tone: Tone = Tone.STRONG
    filled: tuple[float, float] | None = None
    of: str = ""
    percent: str = ""
    extra: str = ""
    instead: str = ""


def source_page(snapshot: Snapshot, size: Cells, trace: Trace | None) -> Page:
    """Give the source.

    Args:
        snapshot: as it may be shown.
        size: in cells.
        trace: of its past; None where there is none to be had.

    """
    width = size.width
    body = [_drawn(row, width) for row in _rows(snapshot)]
    body += _texts(snapshot, width)
    body += _trend(snapshot, trace, Cells(width, size.height - 1 - len(body)))
    return Page((_title(snapshot, width),), tuple(body))


def _bar_width(width: int) -> int:
    room = width - _LEAD - _VALUE - 1 - 1 - _OF - 1 - _PERCENT - 1 - _EXTRA
    return room if room >= _LEAST_BAR else 0


def _title(snapshot: Snapshot, width: int) -> Line:
    source, faults = (
        snapshot.source,
        Faults(a for a in snapshot.wrong if a.code not in _KW | _KVA | _LOW | _FUEL),
    )
    cycles, system = words.cycles(source), f"   {source.kind}, {source.system} V   "
    room = width - BADGE_WIDTH - 1 - len(cycles)
    system = system if cell_len(source.name) + len(system) <= room else "   "
    name = cut(source.name, room - len(system)) or fit(source.name, room - len(system))
    hertz = Piece(cycles, faults.tone("hertz", _strong(source.hertz), SOURCE_ID))
    line = (faults.badge(SOURCE_ID), BLANK, Piece(name, Tone.STRONG), Piece(system, Tone.QUIET), hertz)
    apart = f"   {sourcewords.apart(source)}"
    return padded((*line, Piece(apart)) if width_of(line) + len(apart) <= width else line, width)


def _rows(snapshot: Snapshot) -> list[_Row]:
    source = snapshot.source
    rows = [_kilowatts(snapshot), _kva(snapshot), _demand(snapshot)]
    rows += [_leg(leg, Faults(snapshot.wrong)) for leg in source.legs]
    if len(source.legs) > 1 and all(leg.leg != NEUTRAL for leg in source.legs):
        rows.append(_no_neutral(source))
    return rows


def _kilowatts(snapshot: Snapshot) -> _Row:
    source, mark = snapshot.source, _mark(snapshot, _KW)
    if source.kilowatts is None:
        return _Row(mark, "kW", words.MISSING, Tone.OLD, instead=words.power(source).removeprefix("kW").lstrip(": "))
    if not source.kilowatts_measured:
        return _Row(mark, "kW", words.MISSING, Tone.OLD, instead="not measured: at most its kVA")
    return _against(mark, "kW", source.kilowatts, source.rated_kw, source.percent)


def _kva(snapshot: Snapshot) -> _Row:
    source, mark = snapshot.source, _mark(snapshot, _KVA)
    if source.kva is None:
        return _Row(mark, "kVA", words.MISSING, Tone.OLD, instead="no live volts and amps of every leg")
    return _against(mark, "kVA", source.kva, source.rated_kva, source.kva_percent)


def _demand(snapshot: Snapshot) -> _Row:
    output, mark = snapshot.source.output, Piece(" " * BADGE_WIDTH)
    if output is None or output.demand_kw is None:
        why = sourcewords.unknown(snapshot) if output is None else "no readings in the last 15 min"
        return _Row(mark, "demand", words.MISSING, Tone.OLD, instead=why)
    rated = snapshot.source.rated_kw
    percent = 100 * output.demand_kw / rated if rated else None
    row = _against(mark, "demand", output.demand_kw, rated, percent)
    return row._replace(tone=Tone.PLAIN, extra=sourcewords.demand_over(output))


def _against(mark: Piece, label: str, value: float, rated: float | None, percent: float | None) -> _Row:
    unit = "kVA" if label == "kVA" else "kW"
    filled, of = ((value, rated), f"of {rated:g} {unit}") if rated else (None, unit)
    share = "" if percent is None else words.percent(percent)
    return _Row(mark, label, sourcewords.kilowatts(value), Tone.STRONG, filled, of, share)


def _leg(leg: LegView, faults: Faults) -> _Row:
    point = f"{SOURCE_ID}/{leg.leg}"
    mark, measured = faults.badge(point), leg.measured
    if not measured.live:
        said = f"{words.no_reading(measured)} {words.last_good(measured)}".rstrip()
        if leg.circuits_amps is not None:
            said += f"; its live circuits: {words.amps(leg.circuits_amps)} A"
        return _Row(mark, leg.leg, words.MISSING, Tone.OLD, instead=said)
    limit, amps = leg.limit_amps, measured.amps
    filled = (amps, limit) if amps is not None and limit else None
    of = f"of {words.limit(limit)} A" if limit else "A"
    share = "" if leg.percent is None else words.percent(leg.percent)
    extra = "" if measured.volts is None or leg.leg == NEUTRAL else f"{words.volts(measured.volts, 1)} V"
    tone = faults.tone("amps", Tone.STRONG, point)
    return _Row(mark, leg.leg, words.amps(amps), tone, filled, of, share, extra)


def _no_neutral(source: SourceView) -> _Row:
    said = sourcewords.neutral(source.neutral_estimate_amps)
    return _Row(Piece(" " * BADGE_WIDTH), NEUTRAL, words.MISSING, Tone.OLD, instead=said)


def _drawn(row: _Row, width: int) -> Line:
    line = [row.mark, BLANK, Piece(fit(row.label, _LABEL), Tone.PLAIN), Piece(right(row.value, _VALUE), row.tone)]
    if row.instead:
        return padded((*line, BLANK, Piece(cut(row.instead, width - _LEAD - _VALUE - 1), Tone.OLD)), width)
    across = _bar_width(width)
    if across:
        drawn = bar(row.filled[0], Marks(row.filled[1]), across) if row.filled else (Piece(" " * across),)
        line += [BLANK, *drawn]
    share = right(row.percent, _PERCENT)
    of = fit(row.of, _OF) if width >= _NARROW else fit(row.of.rpartition(" ")[2], _UNIT)
    line += [BLANK, Piece(of, Tone.QUIET), BLANK, Piece(share, Tone.PLAIN), BLANK, Piece(right(row.extra, _EXTRA))]
    return padded(tuple(line), width)


def _texts(snapshot: Snapshot, width: int) -> list[Line]:
    """Give what is said in words; long ones go on below."""
    source, output = snapshot.source, snapshot.source.output
    blank = Piece(" " * BADGE_WIDTH)
    lines: list[Line] = []
    if output is None:
        lines += _said(blank, "energy", (sourcewords.unknown(snapshot), Tone.OLD), width)
    else:
        lines += _said(blank, "energy", (sourcewords.energy(output, snapshot.timezone), Tone.PLAIN), width)
        lines += _said(_mark(snapshot, _LOW), "load", (sourcewords.load(output), Tone.PLAIN), width)
    if source.fuel is not None:
        tone = Tone.OLD if source.fuel.litres is None else Tone.PLAIN
        lines += _said(_mark(snapshot, _FUEL), "fuel", (sourcewords.tank(source.fuel, snapshot), tone), width)
        lines += _said(blank, "", (sourcewords.lasts(source.fuel, snapshot), Tone.STRONG), width)
    return lines


def _said(mark: Piece, label: str, said: tuple[str, Tone], width: int) -> list[Line]:
    text, tone = said
    if not text:
        return []
    parts = words.wrapped(text, width - _LEAD - 1)
    heads = [(mark, label), *((Piece(" " * BADGE_WIDTH), "") for _ in parts[1:])]
    return [
        padded((head, BLANK, Piece(fit(name, _LABEL), Tone.PLAIN), BLANK, Piece(part, tone)), width)
        for (head, name), part in zip(heads, parts, strict=True)
    ]


def _trend(snapshot: Snapshot, trace: Trace | None, size: Cells) -> list[Line]:
    """Give hertz over volts over their times, or why there are none."""
    if trace is None or trace.empty:
        said = NO_PAST if trace is None else NO_READINGS
        return [padded((Piece(" " * (BADGE_WIDTH + 1)), Piece(said, Tone.OLD)), size.width)]
    source = snapshot.source
    volts = next((leg.nominal_volts for leg in source.legs if leg.nominal_volts), 0.0)
    return list(trace_lines(trace, (source.nominal_hertz, volts), size, snapshot.timezone))


def _mark(snapshot: Snapshot, codes: frozenset[str]) -> Piece:
    """Give the badge of what is wrong with one figure of the source."""
    found = (alarm for alarm in snapshot.wrong if alarm.where == SOURCE_ID and alarm.code in codes)
    return next(map(badge, found), Piece(" " * BADGE_WIDTH))


def _strong(value: float | None) -> Tone:
    return Tone.OLD if value is None else Tone.STRONG
