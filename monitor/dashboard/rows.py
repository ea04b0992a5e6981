"""The way from the source's legs over the boxes to the circuits, a line each, all against one scale."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.dashboard import words
from monitor.dashboard.bar import LOWER_BOUND, Marks, bar, scale
from monitor.dashboard.boxes import box_line
from monitor.dashboard.columns import Columns, columns
from monitor.dashboard.faults import BADGE_WIDTH, OTHER, Faults
from monitor.dashboard.pieces import BLANK, Cells, Line, Lines, Page, Piece, Tone, cut, fit, padded, right
from monitor.dashboard.sight import ALL, SOURCE_ID, Sight, in_words, listing
from monitor.dashboard.signs import heat_mark, trend_mark
from monitor.engine.snapshot import CircuitView, Freshness

if TYPE_CHECKING:
    from monitor.engine.snapshot import LegView, Measured, Snapshot, SourceView

NEUTRAL = "N"  # as Snapshots name it
_LEAST_NAME = 8  # cells: less of the source's name says nothing
CHOSEN = Piece("→", Tone.STRONG)
_OLD_BADGE = Piece(f"{OTHER}OLD".ljust(BADGE_WIDTH), Tone.OLD)


def circuits_page(snapshot: Snapshot, size: Cells, sight: Sight = ALL) -> Page:
    """Give the source with its legs as the head, and boxes with their circuits as the body."""
    layout, faults = columns(snapshot, size.width), Faults(snapshot.wrong)
    head = [_source(snapshot.source, faults, size.width), _titles(layout)]
    head += [_source_leg(leg, faults, layout) for leg in snapshot.source.legs]
    said = in_words(snapshot, sight)
    if said:
        head.append(padded((Piece(" " * (BADGE_WIDTH + 1)), Piece(said, Tone.STRONG)), size.width))
    rows = listing(snapshot, sight)
    keep = next((n for n, row in enumerate(rows) if isinstance(row, CircuitView) and row.id == sight.chosen), None)

    def draw(index: int) -> Line:
        row = rows[index]
        if isinstance(row, CircuitView):
            return _circuit(row, faults, layout, chosen=index == keep)
        return box_line(row, faults, layout.width)

    return Page(tuple(head), Lines(len(rows), draw), free=1, keep=keep)


def _source(source: SourceView, faults: Faults, width: int) -> Line:
    name = f"{source.name} {source.system} V"
    power, cycles = words.power(source), words.cycles(source)
    room = width - BADGE_WIDTH - 1 - len(power) - len(cycles) - 6
    line = (
        faults.badge(SOURCE_ID),
        BLANK,
        Piece(cut(name, room) or (fit(name, room) if room >= _LEAST_NAME else ""), Tone.PLAIN),
        Piece("   "),
        Piece(power, faults.tone("kW", _strong(source.kilowatts), SOURCE_ID)),
        Piece("   "),
        Piece(cycles, faults.tone("hertz", _strong(source.hertz), SOURCE_ID)),
    )
    return padded(line, width)


def _titles(layout: Columns) -> Line:
    titles = (
        ("of", layout.rated),
        ("%", layout.percent),
        ("V", layout.volts),
        ("Hz", layout.hertz),
        ("W", layout.watts),
        ("plan", layout.plan),
        ("age", layout.age),
    )
    head = (" " * (BADGE_WIDTH + 1), fit("circuit", layout.id + 1 + layout.name), " ")
    legs = fit("leg", layout.legs + 1) if layout.legs else ""
    figures = "".join(f"{right(title, width)} " for title, width in titles if width)
    text = f"{''.join(head)}{legs}{right('amps', layout.amps)} {scale(layout.bar)} {figures}"
    return padded((Piece(text, Tone.QUIET),), layout.width)


def _source_leg(leg: LegView, faults: Faults, layout: Columns) -> Line:
    point = f"{SOURCE_ID}/{leg.leg}"
    head = _head(faults.badge(point), (leg.leg, "neutral" if leg.leg == NEUTRAL else "", ""), layout, leg.measured)
    if not leg.measured.live:
        return padded((*head, *_leg_not_live(leg, layout)), layout.width)
    measured = leg.measured
    drawn = _bar(measured.amps, _leg_marks(leg), layout, faults.fill(point))
    figures = (
        (words.limit(leg.limit_amps), layout.rated, Tone.QUIET),
        ("" if leg.percent is None else f"{leg.percent:.0f}", layout.percent, Tone.PLAIN),
        (words.volts(measured.volts, layout.digits), layout.volts, faults.tone("volts", Tone.STRONG, point)),
        (words.hertz(measured.hertz, layout.digits + 1), layout.hertz, Tone.QUIET),
        (words.watts(measured.watts), layout.watts, faults.tone("watts", Tone.PLAIN, point)),
        ("" if leg.percent is None or layout.percent else words.percent(leg.percent), layout.plan, Tone.PLAIN),
        (words.age(measured.age_s), layout.age, Tone.QUIET),
    )
    amps = _figure(words.amps(measured.amps), layout.amps, faults.tone("amps", Tone.STRONG, point))
    return padded((*head, *amps, *drawn, BLANK, *_figures(figures)), layout.width)


def _leg_not_live(leg: LegView, layout: Columns) -> Line:
    """Give what is known of a leg without a live reading of its own: at best a lower bound from its circuits."""
    why = words.no_reading(leg.measured)
    if leg.circuits_amps is None:
        return (*_figure(words.MISSING, layout.amps), Piece(why, Tone.OLD))
    drawn = _bar(leg.circuits_amps, _leg_marks(leg), layout, Tone.OLD, LOWER_BOUND)
    limit = _figure(words.limit(leg.limit_amps), layout.rated, Tone.QUIET)
    return (
        *_figure(f">{words.amps(leg.circuits_amps)}", layout.amps, Tone.PLAIN),
        *drawn,
        BLANK,
        *limit,
        Piece(why, Tone.OLD),
    )


def _circuit(circuit: CircuitView, faults: Faults, layout: Columns, *, chosen: bool) -> Line:
    points = (circuit.id, *(f"{circuit.id}/{leg}" for leg in circuit.legs))
    measured = circuit.measured
    names = (circuit.id, circuit.name, words.legs(circuit.legs))
    if not measured.live:
        mark = _OLD_BADGE if measured.freshness is Freshness.OLD else Piece(" " * BADGE_WIDTH)
        head = _head(mark, names, layout, measured, chosen=chosen)
        return padded((*head, *_not_live(circuit, layout)), layout.width)
    marks = Marks(circuit.rated_amps, circuit.continuous_amps, circuit.planned_amps)
    drawn = _bar(measured.amps, marks, layout, faults.fill(*points))
    share = words.MISSING if circuit.percent is None else f"{circuit.percent:.0f}"
    figures = (
        (words.limit(circuit.rated_amps), layout.rated, Tone.QUIET),
        (share, layout.percent, Tone.PLAIN),
        (words.volts(measured.volts, layout.digits), layout.volts, faults.tone("volts", Tone.STRONG, *points)),
        (words.hertz(measured.hertz, layout.digits + 1), layout.hertz, Tone.QUIET),
        (words.watts(measured.watts), layout.watts, faults.tone("watts", Tone.PLAIN, *points)),
        (words.difference(circuit.over_plan_amps), layout.plan, faults.tone("plan", Tone.PLAIN, *points)),
        (words.age(measured.age_s), layout.age, Tone.QUIET),
    )
    head = _head(faults.badge(*points), names, layout, measured, chosen=chosen)
    amps = Piece(right(words.amps(measured.amps), layout.amps), faults.tone("amps", Tone.STRONG, *points))
    line = (*head, amps, trend_mark(circuit), *drawn, heat_mark(circuit), *_figures(figures))
    return padded(line, layout.width)


def _not_live(circuit: CircuitView, layout: Columns) -> Line:
    """Give words over all the places of figures, so that nothing there can be taken for a live one."""
    room = layout.width - layout.before_bar
    said = cut(words.with_last(circuit.measured, room), room)
    plan = f"; plan {words.amps(circuit.planned_amps)} A"
    if circuit.measured.freshness is not Freshness.OLD and circuit.planned_amps and len(said + plan) <= room:
        said += plan
    return (*_figure(words.MISSING, layout.amps), Piece(said, Tone.OLD))


def _head(
    mark: Piece, names: tuple[str, str, str], layout: Columns, measured: Measured, *, chosen: bool = False
) -> Line:
    name, title, legs = names
    tone = Tone.PLAIN if measured.live else Tone.OLD
    line = [
        mark,
        CHOSEN if chosen else BLANK,
        Piece(f"{fit(name, layout.id)} ", Tone.STRONG if measured.live else Tone.OLD),
    ]
    line.append(Piece(f"{fit('' if title == name else title, layout.name)} ", tone))
    if layout.legs:
        line.append(Piece(f"{fit(legs, layout.legs)} ", Tone.QUIET))
    return tuple(line)


def _bar(amps: float | None, marks: Marks | None, layout: Columns, tone: Tone, fill: str = "") -> Line:
    if amps is None:
        return (Piece(fit("amps not measured", layout.bar), Tone.QUIET),)
    if marks is None:
        return (Piece(" " * layout.bar),)
    return bar(amps, marks, layout.bar, tone, fill) if fill else bar(amps, marks, layout.bar, tone)


def _leg_marks(leg: LegView) -> Marks | None:
    return Marks(leg.limit_amps) if leg.limit_amps else None


def _figure(text: str, width: int, tone: Tone = Tone.PLAIN) -> Line:
    return (Piece(right(text, width), Tone.OLD if text == words.MISSING else tone), BLANK)


def _figures(figures: tuple[tuple[str, int, Tone], ...]) -> Line:
    return tuple(piece for text, width, tone in figures if width for piece in _figure(text, width, tone))


def _strong(value: float | None) -> Tone:
    return Tone.OLD if value is None else Tone.STRONG
