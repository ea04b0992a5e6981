"""One circuit: its figures now, its amps and volts over a stretch of time, and the alarms that stand on it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.dashboard import words
from monitor.dashboard.bar import Marks
from monitor.dashboard.circuitmore import more_lines
from monitor.dashboard.faults import BADGE_WIDTH, Faults, badge
from monitor.dashboard.happened import happened_line
from monitor.dashboard.needs import asks
from monitor.dashboard.pieces import BLANK, Cells, Line, Page, Piece, Tone, clean, cut, padded, width_of
from monitor.dashboard.signs import trend_mark
from monitor.dashboard.stretch import in_columns
from monitor.dashboard.trend import LABEL, amps_lines, times_line, volts_lines

if TYPE_CHECKING:
    from collections.abc import Iterator

    from monitor.dashboard.circuitmore import Beside
    from monitor.dashboard.stretch import Stretch
    from monitor.engine.snapshot import AlarmView, CircuitView, Measured, Snapshot

NO_HISTORY = "No trend: this screen has no log to read the past from."
_INDENT = Piece(" " * (BADGE_WIDTH + 1))
_GAP = 3  # cells between figures
_BOX_FROM = 58  # width from which the box and the end of the stretch are named
_AMPS_SHARE = 0.75  # of the plots' lines
_THIRD = 3  # lines: amps in thirds, so that the rating stands on a line's edge
_LEAST_PLOTS = 6
_BOTH_FROM = 9  # lines of plots from which volts have one of their own
_PLOTS, _LEAST_BELOW = 11, 2  # lines that the plots take, and that are left below them, on a small screen


def circuit_page(
    snapshot: Snapshot,
    size: Cells,
    circuit: CircuitView | None,
    stretch: Stretch | None,
    beside: Beside | None = None,
) -> Page:
    """Give one circuit: its figures and its trend as the head, and what else is known of it below.

    Args:
        snapshot: as it may be shown.
        size: in cells.
        circuit: of the snapshot; None where it has gone.
        stretch: of its past; None where there is none to be had.
        beside: what is known of it beside the snapshot, or None.

    """
    if circuit is None:
        return Page((padded((_INDENT, Piece("This circuit is in the show no more.", Tone.OLD)), size.width),))
    alarms, faults = standing(snapshot, circuit), Faults(snapshot.wrong)
    body = tuple(line for alarm in alarms for line in _alarm(alarm, snapshot, size.width)) or (_no_alarm(size.width),)
    body += more_lines(snapshot, circuit, beside, size.width)
    head = [_title(circuit, stretch, snapshot.timezone, faults, size.width)]
    head += [padded((_INDENT, *line), size.width) for line in _figures(circuit, faults, size.width - BADGE_WIDTH - 1)]
    room = size.height - len(head)
    plots = max(room - len(body), min(_PLOTS, room - _LEAST_BELOW))
    limits = None if beside is None or beside.fixed is None else (beside.fixed.volts_low, beside.fixed.volts_high)
    head += _plots(circuit, stretch, limits, snapshot.timezone, Cells(size.width, plots))
    return Page(tuple(head), body, free=1)


def standing(snapshot: Snapshot, circuit: CircuitView) -> tuple[AlarmView, ...]:
    """Give the alarms that stand on a circuit or on one of its legs."""
    points = _points(circuit)
    return tuple(alarm for alarm in snapshot.alarms if alarm.where in points)


def _title(circuit: CircuitView, stretch: Stretch | None, timezone: str, faults: Faults, width: int) -> Line:
    name = circuit.id if circuit.name == circuit.id else f"{circuit.id} {circuit.name}"
    narrow = width < _BOX_FROM
    where = f"   {words.legs(circuit.legs)}" + ("" if narrow else f" on {clean(circuit.box)}")
    said = ""
    if stretch is not None:
        span = words.age((stretch.end_ms - stretch.begin_ms) / 1000)
        said = f"   {span}" if narrow else f"   {span} to {words.moment(stretch.end_ms, timezone):%H:%M:%S}"
    named = cut(name, width - BADGE_WIDTH - 1 - len(where) - len(said))
    pieces = (Piece(named, Tone.STRONG), Piece(where, Tone.PLAIN), Piece(said, Tone.QUIET))
    return padded((faults.badge(*_points(circuit)), BLANK, *pieces), width)


def _figures(circuit: CircuitView, faults: Faults, width: int) -> list[Line]:
    plan = words.amps(circuit.planned_amps) if circuit.planned_amps else "none"
    limits: list[Line] = [
        (Piece(f"limit {words.limit(circuit.continuous_amps)}", Tone.QUIET),),
        (Piece(f"rating {words.limit(circuit.rated_amps)} A", Tone.QUIET),),
    ]
    if not circuit.measured.live:
        last = words.last_good(circuit.measured)
        said = f"- {words.no_reading(circuit.measured)} {last}".rstrip()
        return [(Piece(cut(said, width), Tone.OLD),), *_flowed([(Piece(f"plan {plan}", Tone.QUIET),), *limits], width)]
    measured, points = circuit.measured, _points(circuit)
    share = "" if circuit.percent is None else f" {words.percent(circuit.percent)}"
    over = "" if circuit.over_plan_amps is None else f" ({words.difference(circuit.over_plan_amps)})"
    now: list[Line] = [
        (Piece(f"{words.amps(measured.amps)} A{share}", faults.tone("amps", Tone.STRONG, *points)), *_moving(circuit)),
        (Piece(f"plan {plan}{over}", faults.tone("plan", Tone.PLAIN, *points)),),
        *limits,
    ]
    lines = [*_flowed(now, width), *_flowed(_supply(circuit, faults), width)]
    return lines + (_flowed(_by_leg(circuit.by_leg), width) if circuit.by_leg else [])


def _moving(circuit: CircuitView) -> Line:
    mark = trend_mark(circuit)
    if mark is BLANK:
        return ()
    return (Piece(f" {mark.text}{words.amps(abs(circuit.over_minute_amps or 0.0))} in 1 min"),)


def _supply(circuit: CircuitView, faults: Faults) -> list[Line]:
    measured = circuit.measured
    volts = Piece(f"{words.volts(measured.volts, 1)} V", faults.tone("volts", Tone.STRONG, *_points(circuit)))
    parts = [f"{words.hertz(measured.hertz, 2)} Hz", f"{words.watts(measured.watts)} W"]
    parts += [] if measured.power_factor is None else [f"power factor {measured.power_factor:.2f}"]
    age = (Piece(f"{words.age(measured.age_s)} old", Tone.QUIET),)
    nominal = Piece(f" of {words.limit(circuit.nominal_volts)}", Tone.QUIET)
    return [(volts, nominal), *((Piece(part),) for part in parts), age]


def _by_leg(legs: tuple[tuple[str, Measured], ...]) -> list[Line]:
    said = (
        f"{leg} {words.amps(each.amps)} A {words.volts(each.volts, 1)} V"
        if each.live
        else f"{leg} {words.no_reading(each)}"
        for leg, each in legs
    )
    return [(Piece(text, Tone.PLAIN),) for text in said]


def _flowed(groups: list[Line], width: int) -> list[Line]:
    """Give figures side by side, in as many lines as they take: none is cut."""
    lines: list[Line] = []
    for group in groups:
        if lines and width_of(lines[-1]) + _GAP + width_of(group) <= width:
            lines[-1] = (*lines[-1], Piece(" " * _GAP), *group)
        else:
            lines.append(group)
    return lines


def _plots(
    circuit: CircuitView, stretch: Stretch | None, limits: tuple[float, float] | None, timezone: str, size: Cells
) -> list[Line]:
    """Give amps, what happened, volts and their times, in exactly as many lines as there are, where they are enough."""
    if stretch is None:
        return [padded((_INDENT, Piece(NO_HISTORY, Tone.OLD)), size.width)]
    lines = size.height - 2
    if lines < _LEAST_PLOTS:
        return [padded((_INDENT, Piece("No room for the trend.", Tone.OLD)), size.width)]
    high = int(lines * (_AMPS_SHARE if lines >= _BOTH_FROM else 1)) // _THIRD * _THIRD
    low = (lines - high - 1) // 2 * 2 + 1
    across = size.width - 1 - LABEL
    columns = in_columns(stretch, across)
    marks = Marks(circuit.rated_amps, circuit.continuous_amps, circuit.planned_amps)
    plots = [*amps_lines(columns, marks, high), happened_line(stretch, across)]
    plots += volts_lines(columns, circuit.nominal_volts, low, limits) if lines >= _BOTH_FROM else ()
    lowest = min((column.volts[0] for column in columns if column.volts), default=None)
    said = "" if lowest is None else f"low {words.volts(lowest, 1)}"
    times = times_line((stretch.begin_ms, stretch.end_ms), timezone, across, said)
    return [padded(line, size.width) for line in (*plots, times)]


def _alarm(alarm: AlarmView, snapshot: Snapshot, width: int) -> Iterator[Line]:
    lead = badge(alarm)
    for text in words.wrapped(words.told(alarm, snapshot), width - BADGE_WIDTH - 1):
        yield padded((lead, BLANK, Piece(text, Tone.PLAIN if asks(alarm) else Tone.QUIET)), width)
        lead = Piece(" " * BADGE_WIDTH)


def _no_alarm(width: int) -> Line:
    return padded((_INDENT, Piece("No alarm stands on this circuit.", Tone.QUIET)), width)


def _points(circuit: CircuitView) -> tuple[str, ...]:
    return (circuit.id, *(f"{circuit.id}/{leg}" for leg in circuit.legs))
