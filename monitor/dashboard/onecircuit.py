"""One circuit: its figures now, its amps and volts over a stretch of time, and the alarms that stand on it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.dashboard import words
from monitor.dashboard.bar import Marks
from monitor.dashboard.faults import BADGE_WIDTH, Faults, badge
from monitor.dashboard.needs import asks
from monitor.dashboard.pieces import BLANK, Cells, Line, Page, Piece, Tone, clean, cut, padded
from monitor.dashboard.stretch import in_columns
from monitor.dashboard.trend import LABEL, amps_lines, times_line, volts_lines

if TYPE_CHECKING:
    from monitor.dashboard.stretch import Stretch
    from monitor.engine.snapshot import AlarmView, CircuitView, Measured, Snapshot

NO_HISTORY = "No trend: this screen has no log to read the past from."
_INDENT = Piece(" " * (BADGE_WIDTH + 1))
MOST_ALARMS = 2  # lines kept for them below the plots
_AMPS_SHARE = 0.75  # of the plots' lines
_THIRD, _LEAST_VOLTS = 3, 3  # lines: amps in thirds, so that the rating stands on a line's edge
_LEAST_PLOTS = 6


def circuit_page(snapshot: Snapshot, size: Cells, circuit: CircuitView | None, stretch: Stretch | None) -> Page:
    """Give one circuit.

    Args:
        snapshot: as it may be shown.
        size: in cells.
        circuit: of the snapshot; None where it has gone.
        stretch: of its past; None where there is none to be had.

    """
    if circuit is None:
        return Page((padded((_INDENT, Piece("This circuit is in the show no more.", Tone.OLD)), size.width),))
    alarms, faults = standing(snapshot, circuit), Faults(snapshot.wrong)
    head = [_title(circuit, stretch, snapshot.timezone, faults, size.width)]
    head += [padded((_INDENT, *line), size.width) for line in _figures(circuit, faults)]
    room = size.height - len(head) - max(min(len(alarms), MOST_ALARMS), 1)
    head += _plots(circuit, stretch, snapshot.timezone, Cells(size.width, room))
    body = tuple(_alarm(alarm, size.width) for alarm in alarms) or (_no_alarm(size.width),)
    return Page(tuple(head), body, free=1)


def standing(snapshot: Snapshot, circuit: CircuitView) -> tuple[AlarmView, ...]:
    """Give the alarms that stand on a circuit or on one of its legs."""
    points = _points(circuit)
    return tuple(alarm for alarm in snapshot.alarms if alarm.where in points)


def _title(circuit: CircuitView, stretch: Stretch | None, timezone: str, faults: Faults, width: int) -> Line:
    name = circuit.id if circuit.name == circuit.id else f"{circuit.id} {circuit.name}"
    where = f"   {words.legs(circuit.legs)} on {clean(circuit.box)}"
    said = ""
    if stretch is not None:
        span = words.age((stretch.end_ms - stretch.begin_ms) / 1000)
        said = f"   {span} to {words.moment(stretch.end_ms, timezone):%H:%M:%S}"
    named = cut(name, width - BADGE_WIDTH - 1 - len(where) - len(said))
    pieces = (Piece(named, Tone.STRONG), Piece(where, Tone.PLAIN), Piece(said, Tone.QUIET))
    return padded((faults.badge(*_points(circuit)), BLANK, *pieces), width)


def _figures(circuit: CircuitView, faults: Faults) -> list[Line]:
    plan = words.amps(circuit.planned_amps) if circuit.planned_amps else "none"
    limits = f"limit {words.limit(circuit.continuous_amps)}   rating {words.limit(circuit.rated_amps)} A"
    if not circuit.measured.live:
        last = words.last_good(circuit.measured)
        said = f"- {words.no_reading(circuit.measured)} {last}".rstrip()
        return [(Piece(said, Tone.OLD),), (Piece(f"plan {plan}   {limits}", Tone.QUIET),)]
    measured, points = circuit.measured, _points(circuit)
    share = "" if circuit.percent is None else f" {words.percent(circuit.percent)}"
    over = "" if circuit.over_plan_amps is None else f" ({words.difference(circuit.over_plan_amps)})"
    now: Line = (
        Piece(f"{words.amps(measured.amps)} A{share}", faults.tone("amps", Tone.STRONG, *points)),
        Piece(f"   plan {plan}{over}", faults.tone("plan", Tone.PLAIN, *points)),
        Piece(f"   {limits}", Tone.QUIET),
    )
    lines = [now, _supply(circuit, faults)]
    return lines + ([_by_leg(circuit.by_leg)] if circuit.by_leg else [])


def _supply(circuit: CircuitView, faults: Faults) -> Line:
    measured = circuit.measured
    factor = "" if measured.power_factor is None else f"   power factor {measured.power_factor:.2f}"
    return (
        Piece(f"{words.volts(measured.volts, 1)} V", faults.tone("volts", Tone.STRONG, *_points(circuit))),
        Piece(f" of {words.limit(circuit.nominal_volts)}", Tone.QUIET),
        Piece(f"   {words.hertz(measured.hertz, 2)} Hz   {words.watts(measured.watts)} W{factor}", Tone.PLAIN),
        Piece(f"   {words.age(measured.age_s)} old", Tone.QUIET),
    )


def _by_leg(legs: tuple[tuple[str, Measured], ...]) -> Line:
    said = (
        f"{leg} {words.amps(each.amps)} A {words.volts(each.volts, 1)} V"
        if each.live
        else f"{leg} {words.no_reading(each)}"
        for leg, each in legs
    )
    return (Piece("   ".join(said), Tone.PLAIN),)


def _plots(circuit: CircuitView, stretch: Stretch | None, timezone: str, size: Cells) -> list[Line]:
    """Give amps over volts over their times, in exactly as many lines as there are, where they are enough."""
    if stretch is None:
        return [padded((_INDENT, Piece(NO_HISTORY, Tone.OLD)), size.width)]
    lines = size.height - 1
    if lines < _LEAST_PLOTS:
        return [padded((_INDENT, Piece("No room for the trend on so small a screen.", Tone.OLD)), size.width)]
    high = max(int(lines * _AMPS_SHARE) // _THIRD * _THIRD, _THIRD)
    low = (lines - high - 1) // 2 * 2 + 1
    across = size.width - 1 - LABEL
    columns = in_columns(stretch, across)
    marks = Marks(circuit.rated_amps, circuit.continuous_amps, circuit.planned_amps)
    plots = (*amps_lines(columns, marks, high), *volts_lines(columns, circuit.nominal_volts, low))
    lowest = min((column.volts[0] for column in columns if column.volts), default=None)
    said = "" if lowest is None else f"low {words.volts(lowest, 1)}"
    times = times_line((stretch.begin_ms, stretch.end_ms), timezone, across, said)
    return [padded(line, size.width) for line in (*plots, times)]


def _alarm(alarm: AlarmView, width: int) -> Line:
    said = cut(alarm.text, width - BADGE_WIDTH - 1)
    return padded((badge(alarm), BLANK, Piece(said, Tone.PLAIN if asks(alarm) else Tone.QUIET)), width)


def _no_alarm(width: int) -> Line:
    return padded((_INDENT, Piece("No alarm stands on this circuit.", Tone.QUIET)), width)


def _points(circuit: CircuitView) -> tuple[str, ...]:
    return (circuit.id, *(f"{circuit.id}/{leg}" for leg in circuit.legs))
