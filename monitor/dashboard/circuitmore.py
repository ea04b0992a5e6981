"""What stands below a circuit's trend: its breaker, its plan against what is on, its steps, the meter behind it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from monitor.dashboard import words
from monitor.dashboard.faults import BADGE_WIDTH
from monitor.dashboard.pieces import BLANK, Line, Piece, Tone, clean, padded
from monitor.dashboard.signs import heat_word

if TYPE_CHECKING:
    from collections.abc import Iterator

    from monitor.engine.history import Allowed, Fixed, Planned, Switching
    from monitor.engine.snapshot import CircuitView, Snapshot
    from monitor.engine.told import BusView, HeatView, MeterView

MOST_STEPS = 20
_SURE = 0.9  # share of an explanation from which it is told without its doubt
_CAVEAT = "by the steps found: what came slowly or together may be missing"


@dataclass(frozen=True, slots=True)
class Beside:
    """What is known of a circuit beside its Snapshot.

    Attributes:
        fixed: by the show; None where it is not known.
        allowed: to its breaker at the amps of now; None where they are not live or no standard covers it.
        planned: its planned loads.
        steps: of the stretch, oldest first.

    """

    fixed: Fixed | None = None
    allowed: Allowed | None = None
    planned: tuple[Planned, ...] = ()
    steps: tuple[Switching, ...] = ()


def more_lines(snapshot: Snapshot, circuit: CircuitView, beside: Beside | None, width: int) -> tuple[Line, ...]:
    """Give the lines."""
    parts: list[tuple[str, str]] = []
    if beside is not None:
        parts += _breaker(circuit, beside)
        parts += _plan(circuit, beside, snapshot.timezone)
        parts += _steps(beside, snapshot.timezone)
    parts += _meters(snapshot, circuit)
    return tuple(line for label, text in parts for line in _part(label, text, width))


def _part(label: str, text: str, width: int) -> Iterator[Line]:
    lead = label
    for line in words.wrapped(clean(text), width - BADGE_WIDTH - 1):
        yield padded((Piece(lead.ljust(BADGE_WIDTH), Tone.QUIET), BLANK, Piece(line)), width)
        lead = ""


def _breaker(circuit: CircuitView, beside: Beside) -> Iterator[tuple[str, str]]:
    if beside.fixed is None:
        return
    allowed = beside.allowed
    if allowed is None:
        why = (
            "no live amps to say what its standard allows" if not circuit.measured.live else "its standard says nothing"
        )
        yield "breaker", f"{beside.fixed.breaker}; {why}"
    else:
        yield "breaker", f"{beside.fixed.breaker}; {band_words(allowed)}"
    yield "", _heat(circuit.heat)


def band_words(allowed: Allowed) -> str:
    """Say what a standard alone allows a breaker at a steady load, from cold."""
    load = f"at a steady {words.amps(allowed.amps)} A, {allowed.multiple:.2f} times its rating, from cold, the standard"
    latest = "" if allowed.latest_s is None else f" and wants it open by {words.length(allowed.latest_s)}"
    match allowed.soonest:
        case "holds":
            within = "" if allowed.soonest_s is None else f" for {words.length(allowed.soonest_s)}"
            return f"{load} wants it to hold{within}"
        case "time" if allowed.soonest_s is not None:
            return f"{load} lets it open after {words.length(allowed.soonest_s)}{latest}"
        case _:
            return f"{load} lets it open at once{latest or ' and sets no latest time'}"


def _heat(heat: HeatView | None) -> str:
    word = heat_word(heat)
    if heat is None or not word:
        return "heat: not known here"
    edges = ((heat.fastest, "where it may open"), (heat.slowest, "where it should have opened"))
    ways = [f"{100 * part:.0f} % of the way to {where}" for part, where in edges if part is not None]
    unknown = f"; {words.length(heat.unknown_s)} without readings are not in it" if heat.unknown_s >= 1 else ""
    return f"heat: {word}, {', '.join(ways)} by the lines through its gates{unknown}"


def _plan(circuit: CircuitView, beside: Beside, timezone: str) -> Iterator[tuple[str, str]]:
    if not beside.planned:
        yield "plan", "no load is planned here"
        return
    known = [load for load in beside.planned if load.on is not None]
    on = sum((load.on or 0) * load.amps for load in known)
    measured = f"measured {words.amps(circuit.measured.amps)} A; " if circuit.measured.live else ""
    told = f"taken to be on {words.amps(on)} A, {_CAVEAT}" if known else "no step of a planned load found"
    yield "plan", f"planned {words.amps(circuit.planned_amps)} A; {measured}{told}"
    for load in beside.planned:
        yield "", f"{load.name}{_pieces(load)}: {_on(load, timezone)}"


def _pieces(load: Planned) -> str:
    many = f"{load.count} x " if load.count > 1 else ""
    return f", {many}{words.watts(load.watts)} W {words.amps(load.amps)} A"


def _on(load: Planned, timezone: str) -> str:
    if load.on is None or load.since_ms is None:
        return "not seen to switch"
    many = f"{load.on} of {load.count} on" if load.count > 1 else "on" if load.on else "off"
    return f"{many} since {words.moment(load.since_ms, timezone):%H:%M:%S}"


def _steps(beside: Beside, timezone: str) -> Iterator[tuple[str, str]]:
    newest = beside.steps[::-1]
    if not newest:
        yield "steps", "none found in this stretch"
    for n, step in enumerate(newest[:MOST_STEPS]):
        yield "" if n else "steps", f"{words.moment(step.time_ms, timezone):%H:%M:%S} {step_words(step)}"
    if len(newest) > MOST_STEPS:
        yield "", f"{len(newest) - MOST_STEPS} more in this stretch"


def step_words(step: Switching) -> str:
    """Say what came on or went off, and which planned loads it is taken for."""
    size = [f"{words.watts(abs(step.watts))} W"] if step.watts is not None else []
    size += [f"{words.amps(abs(step.amps))} A"] if step.amps is not None else []
    doubt = f", {100 * step.confidence:.0f} %" if step.confidence < _SURE else ""
    loads = f"taken for {', '.join(step.loads)}{doubt}" if step.loads else "nothing in the plan explains it"
    note = f" ({step.note})" if step.note else ""
    return f"{'on' if step.on else 'off'} {' '.join(size)}: {loads}{note}"


def _meters(snapshot: Snapshot, circuit: CircuitView) -> Iterator[tuple[str, str]]:
    points = {circuit.id, *(f"{circuit.id}/{leg}" for leg in circuit.legs)}
    behind = [
        (bus, meter, channels)
        for bus in snapshot.buses
        for meter in bus.meters
        if (channels := [channel for channel, point in meter.points if point in points])
    ]
    if not behind and snapshot.buses:
        yield "meter", "none measures this circuit"
    for n, (bus, meter, channels) in enumerate(behind):
        yield "" if n else "meter", _meter(bus, meter, channels)


def _meter(bus: BusView, meter: MeterView, channels: list[str]) -> str:
    where = f"{', '.join(channels)} of unit {meter.unit} on {bus.id} ({bus.where}), map {meter.map}"
    latest = meter.latest
    reply = "no reading yet" if latest.age_s is None else f"last good reading {words.age(latest.age_s)} ago"
    wrong = f", now {latest.quality}: {latest.detail}" if latest.detail else ""
    return f"{where}; {reply}{wrong}; {_counts(meter)}"


def _counts(meter: MeterView) -> str:
    counts = meter.counts
    if counts is None:
        return "polls and faults not known here"
    faults = ", ".join(f"{many} {what}" for what, many in counts.faults) or "no faults"
    took = "" if counts.median_s is None else f", replies take {1000 * counts.median_s:.0f} ms"
    return f"{counts.good} of {counts.polls} polls good, {faults}, {counts.retries} asked again{took}"
