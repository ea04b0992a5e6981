"""One circuit that opened: after an overload, with signs of a fault, or for a cause that the log doesn't show."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.incidents.cases import Case
from monitor.incidents.model import Kind

if TYPE_CHECKING:
    from monitor.incidents.circuits import Circuit, Overload
    from monitor.incidents.traces import Board, Trace

_DIP = 0.018  # of the volts before: a sag that a fault upstream of it makes
_BACK = 0.6  # of a sag that is gone again once the circuit is off
_CLEAR = 2.0  # times the spread of the samples before
_SPIKE_RATED, _SPIKE_BEFORE = 1.8, 2.5  # of the rating, of the amps before: a sample that caught a fault or an inrush
_REACH = (2.1, 1.2)  # intervals before and after: meters are read one after another, and show what was
_MODEST = 0.95  # of the rating
_SWITCHED_ON_MS = 4000
SLOW_MS = 2000
_HIDES = frozenset({Kind.UNDERVOLTAGE_RUN, Kind.UNDERVOLTAGE_SOURCE, Kind.OVERVOLTAGE, Kind.METER_SILENT})

FAULT_UNSEEN = (
    "a fault that is cleared within a tenth of a second need not show in samples a second apart, and a ground-fault"
    " device or a hand on the breaker shows nothing but the opening"
)
ORDER = "the order of events within one round of polling is not shown"


def judge_opening(circuit: Circuit, board: Board) -> Case | None:
    """Judge a circuit whose volts went while others kept theirs; None where nothing hung on it and nothing sagged."""
    trace = circuit.traces[0]
    last_ms, gone_ms = trace.live_ms or 0, trace.down_ms or board.time_ms
    sagged = _sag(circuit, board, last_ms, gone_ms)
    spike = _spike(circuit, last_ms, gone_ms)
    if not trace.loaded and not sagged:
        return None
    overload = circuit.overload(last_ms)
    case = Case(
        Kind.OPENED_CAUSE_NOT_SHOWN, circuit.id, tuple(t.point for t in circuit.traces), gone_ms, last_ms, 0.7,
        covers=_HIDES,
    )  # fmt: skip
    _what_went(case, circuit, board)
    _weigh(case, circuit, overload, (sagged, spike))
    _doubt(case, circuit, board)
    if trace.interval_ms > SLOW_MS:
        case.misses(f"this circuit is read every {trace.interval_ms / 1000:.0f} s: what happened between is not shown")
    return case


def judge_pole(circuit: Circuit, gone: list[Trace], board: Board) -> Case | None:
    """Judge a circuit of several legs of which only some went: a pole, a fuse or a plug; None where none was loaded."""
    if not any(trace.loaded for trace in gone):
        return None
    begin, last = min(t.down_ms or board.time_ms for t in gone), min(t.live_ms or 0 for t in gone)
    leg = gone[0].legs[0] if len(gone) == 1 else ""
    case = Case(
        Kind.LOST_LEG, circuit.id, tuple(t.point for t in gone), begin, last, 0.75, leg=leg, covers=_HIDES,
        alternatives={Kind.OPENED_CAUSE_NOT_SHOWN: 0.15, Kind.FAULT_TRIP: 0.05},
    )  # fmt: skip
    figures = ", ".join(f"{t.label} {t.volts or 0.0:.1f} V" for t in circuit.traces)
    case.shows(f"one of its legs went while the others stand: {figures}")
    case.misses("whether one pole, a fuse or a plug is open, and why", ORDER)
    return case


def judge_line_side(circuit: Circuit) -> Case | None:
    """Judge a circuit whose amps went while its volts tell nothing: only an overload before it makes an incident."""
    trace = max(circuit.traces, key=lambda t: max(t.last("amps", 6), default=0.0))
    end_ms = circuit.over[-1][0]
    overload = circuit.overload(end_ms)
    if not overload.counts or not overload.possible:
        return None
    after = [at for at, values in trace.samples if at > end_ms and values.amps is not None]
    case = Case(
        Kind.OVERLOAD_TRIP, circuit.id, tuple(t.point for t in circuit.traces), min(after), end_ms, 0.65,
        alternatives={Kind.OPENED_CAUSE_NOT_SHOWN: 0.3},
    )  # fmt: skip
    case.shows(overload.text)
    case.shows(f"then {trace.amps or 0.0:.1f} A")
    volts = trace.volts
    if volts is None:
        case.misses("the volts of this circuit are not measured: this log can't tell an opening from switching off")
    else:
        case.shows(f"its volts stayed, {volts:.1f} V: they are taken before the breaker", "beside")
        case.misses(
            "the meter's volts come from before the breaker: this log can't tell an opening from all loads going off"
        )
    return case


def _what_went(case: Case, circuit: Circuit, board: Board) -> None:
    trace = circuit.traces[0]
    amps = [max(t.amps_at_last(), default=0.0) for t in circuit.traces]
    before = f"{max(amps):.1f} A" if trace.amps_at_last() else "amps that are not measured"
    volts = trace.last("volts", 1, trace.live_ms or 0)
    now = trace.volts
    if volts and now is not None:
        case.shows(f"{circuit.place.label}: {volts[0]:.1f} V and {before}, then {now:.1f} V")
    stand = [t for t in beside(circuit, board) if board.standing(t)]
    if stand:
        names = ", ".join(f"{t.label} {t.volts:.1f} V" for t in stand[:3] if t.volts is not None)
        case.shows(f"others kept their volts: {names}")
    case.misses(ORDER)


def _weigh(case: Case, circuit: Circuit, overload: Overload, fault: tuple[str, str]) -> None:
    """Choose what it is taken for first, and how sure."""
    sagged, spike = fault
    for sign in fault:
        if sign:
            case.shows(sign)
    if overload.counts and overload.possible:
        case.kind, case.confidence = Kind.OVERLOAD_TRIP, 0.6 if sagged or spike else 0.85
        case.shows(overload.text)
        case.alternatives = {Kind.FAULT_TRIP: 0.3 if sagged or spike else 0.05, Kind.OPENED_CAUSE_NOT_SHOWN: 0.1}
        case.misses("who or what opened it: a hand on an overloaded breaker leaves the same readings")
        return
    at_start = _at_switch_on(circuit)
    if at_start:
        case.shows(at_start, "beside")
    if sagged or spike:
        case.kind, case.confidence = Kind.FAULT_TRIP, 0.8 if sagged and spike else 0.7
        case.alternatives = {Kind.OPENED_CAUSE_NOT_SHOWN: 0.15, Kind.OVERLOAD_TRIP: 0.15 if overload.near else 0.03}
        case.misses("the amps of the fault itself, if there was one: a meter averages over longer than it lasts")
        if at_start:
            case.misses("whether a fault or the inrush of what was switched on opened it")
    else:
        case.confidence = 0.6 if overload.near or at_start else 0.75
        case.alternatives = {
            Kind.FAULT_TRIP: 0.3 if at_start else 0.15,
            Kind.OVERLOAD_TRIP: 0.3 if overload.near else 0.02,
        }
        case.misses("the cause is not shown by this log", FAULT_UNSEEN)
    rated = circuit.place.circuit.breaker.amps
    if not circuit.traces[0].amps_at_last():
        case.misses("its amps are not measured: an overload could not be seen")
    elif overload.near:
        case.shows(overload.text, "for" if overload.multiple >= 1 else "beside")
        if not overload.possible:
            case.shows(
                "its breaker's standard has it carry that load: only heat around it or a meter's error", "beside"
            )
    else:
        case.shows(f"{overload.amps:.1f} A on a {rated:g} A breaker before it: no overload is shown", "beside")


def _doubt(case: Case, circuit: Circuit, board: Board) -> None:
    """Be less sure where nothing that stands would have gone with what is above the circuit."""
    near = [t for t in beside(circuit, board) if board.standing(t) and t.up[0] == circuit.place.up[0]]
    if near:
        return
    anything = any(board.standing(t) for t in board.powered)
    above = Kind.UPSTREAM_LOSS if anything else Kind.SOURCE_STOPPED
    case.confidence -= 0.15 if anything else 0.25
    case.alternatives[above] = 0.2 if anything else 0.3
    case.misses("nothing else on the same leg of the same box has power and is read: a loss further up looks the same")


def _at_switch_on(circuit: Circuit) -> str:
    trace = circuit.traces[0]
    last_ms = trace.live_ms or 0
    early = trace.between(last_ms - _SWITCHED_ON_MS, last_ms)
    if not early or (trace.heard_ms and trace.samples[0][0] > last_ms - _SWITCHED_ON_MS):
        return ""
    first = early[0][1]
    dark = first.volts is not None and first.volts < trace.nominal / 2
    idle = first.amps is not None and first.amps < trace.least_amps <= max(trace.amps_at_last(), default=0.0)
    if dark or idle:
        return f"it went within {_SWITCHED_ON_MS / 1000:.0f} s of being switched on: an inrush or a fault is possible"
    return ""


def beside(circuit: Circuit, board: Board) -> list[Trace]:
    """Give what reads the same legs, what hangs on the same box first."""
    mine = set(circuit.place.circuit.legs)
    others = [t for t in board.powered if t.place != circuit.id and mine & set(t.legs)]
    near = circuit.place.up[0]
    return sorted(others, key=lambda t: (t.up[0] != near, len(t.legs)))


def _sag(circuit: Circuit, board: Board, last_ms: int, gone_ms: int) -> str:
    """Look for a dip of others on the same legs around the opening that is over once the circuit is off."""
    found: list[tuple[float, str]] = []
    for trace in beside(circuit, board):
        if not board.standing(trace):
            continue
        begin_ms, end_ms = last_ms - _REACH[0] * trace.interval_ms, gone_ms + _REACH[1] * trace.interval_ms
        inside = [v.volts for _, v in trace.between(begin_ms, end_ms) if v.volts is not None]
        before = trace.last("volts", 10, begin_ms - 1)
        after = [v.volts for _, v in trace.between(gone_ms + 1, gone_ms + 10_000) if v.volts is not None]
        if not inside or len(before) < 3 or not after:  # noqa: PLR2004 - no level without a few
            continue
        level, lowest = sorted(before)[len(before) // 2], min(inside)
        deep = level - lowest
        back = max(after) - lowest >= _BACK * deep
        if deep >= _DIP * level and deep > _CLEAR * (max(before) - min(before)) and back:
            found.append((deep / level, f"{trace.label} sagged from {level:.1f} V to {lowest:.1f} V in that time"))
    return max(found)[1] + (", and is back" if found else "") if found else ""


def _spike(circuit: Circuit, last_ms: int, gone_ms: int) -> str:
    """Look for a sample of far more amps than before in the last cycle."""
    rated = circuit.place.circuit.breaker.amps
    for trace in circuit.traces:
        reach = 1.2 * trace.interval_ms
        caught = max((v.amps or 0.0 for _, v in trace.between(last_ms - reach, gone_ms)), default=0.0)
        before = trace.middle("amps", 10, last_ms - reach - 1)
        if (
            before is not None
            and caught > max(_SPIKE_RATED * rated, _SPIKE_BEFORE * before)
            and before < _MODEST * rated
        ):
            return f"one sample of {caught:.1f} A just before it, after {before:.1f} A"
    return ""
