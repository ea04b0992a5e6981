"""What stands out on the circuits and feeders of a plan: each finding a sentence with its figures and what to do.

``wrong`` is beyond a rating or can't work; ``advice`` is good practice, no rule of any code.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from monitor.electrical.ampacity import cable_amps, fixed_breaker_amps
from monitor.electrical.breaker import requirements
from monitor.electrical.cable import awg_name
from monitor.electrical.tables import table

if TYPE_CHECKING:
    from collections.abc import Iterator

    from monitor.electrical.cable import Drop
    from monitor.plan.schedule import CircuitRow, FeederRow, Schedule
    from monitor.show.model import Breaker, Cable


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that stands out.

    Attributes:
        code: short name.
        severity: ``wrong`` or ``advice``.
        where: a circuit, a feeder (with its leg) or ``source``.
        text: what, with its figures, and what to do.

    """

    code: str
    severity: Literal["wrong", "advice"]
    where: str
    text: str


def place_findings(schedule: Schedule) -> Iterator[Finding]:
    """Give everything that stands out on circuits and feeders."""
    before: dict[str, tuple[str, Breaker] | None] = {}
    for feeder in schedule.feeders:
        of = feeder.feeder
        before[of.id] = (of.id, of.breaker) if of.breaker else before.get(of.fed_from)
    for circuit in schedule.circuits:
        yield from _circuit(circuit)
    for feeder in schedule.feeders:
        yield from _feeder(feeder, before[feeder.feeder.id])


def _circuit(row: CircuitRow) -> Iterator[Finding]:
    circuit, amps = row.circuit, row.planned_amps
    yield from _over(circuit.id, amps, circuit.breaker.amps, row.continuous_amps)
    yield from _breaker(circuit.id, circuit.breaker)
    if circuit.cable:
        yield from _cable(circuit.id, circuit.cable, amps, (circuit.id, circuit.breaker))
    yield from _own_drop(circuit.id, row.own_drop, "drop-branch")
    whole = float(table("conductors")["advice"]["total_percent"])
    if row.far_drop and row.far_drop.percent > whole:
        text = (
            f"from the source to its far end {_told(row.far_drop)} is lost, above the advised {whole:g} %; use larger"
            " cable on the way, bring the box nearer, or move load off the runs that it shares"
        )
        yield Finding("drop-total", "advice", circuit.id, text)


def _feeder(row: FeederRow, above: tuple[str, Breaker] | None) -> Iterator[Finding]:
    """Look at a feeder; ``above`` is the breaker that stands before it, its own or the next on the way up."""
    feeder = row.feeder
    if row.rated_amps is not None and row.continuous_amps is not None:
        for leg, amps in row.amps_by_leg.items():
            yield from _over(f"{feeder.id}/{leg}", amps, row.rated_amps, row.continuous_amps)
    if feeder.breaker:
        yield from _breaker(feeder.id, feeder.breaker)
    if feeder.cable:
        yield from _cable(feeder.id, feeder.cable, row.planned_amps, above)
    yield from _own_drop(feeder.id, row.own_drop, "drop-feeder")
    if feeder.neutral_amps is not None and row.neutral_amps > feeder.neutral_amps:
        text = (
            f"its neutral carries {row.neutral_amps:.1f} A planned, above its {feeder.neutral_amps:g} A; share the load"
            " more evenly between its legs"
        )
        yield Finding("neutral-over-rating", "wrong", feeder.id, text)


def _over(where: str, amps: float, rated: float, continuous: float) -> Iterator[Finding]:
    if amps > rated + 1e-9:
        text = f"{amps:.1f} A planned, above its breaker's {rated:g} A; move {amps - continuous:.1f} A to other places"
        yield Finding("over-rating", "wrong", where, text)
    elif amps > continuous + 1e-9:
        text = (
            f"{amps:.1f} A planned, above its continuous limit of {continuous:.1f} A; for a load of three hours or more"
            f" move {amps - continuous:.1f} A elsewhere"
        )
        yield Finding("over-continuous", "wrong", where, text)


def _breaker(where: str, breaker: Breaker) -> Iterator[Finding]:
    try:
        requirements(breaker)
    except ValueError as error:
        yield Finding("breaker-not-covered", "advice", where, f"no band can be given: {error}")


def _cable(where: str, cable: Cable, amps: float, above: tuple[str, Breaker] | None) -> Iterator[Finding]:
    """Compare what a cable may carry with the breaker before it, and with its planned load where that is more."""
    may = cable_amps(cable)
    fixed = fixed_breaker_amps(cable)
    place, breaker = above or ("", None)
    whose = "its" if place == where else f"{place}'s"
    if may is not None and amps > may + 1e-9 and (breaker is None or breaker.amps <= may):
        text = f"{amps:.1f} A planned, above what its cable may carry, about {may:g} A; use a larger cable"
        yield Finding("over-cable", "wrong", where, text)
    if breaker is not None and may is not None and breaker.amps > may:
        text = (
            f"{whose} {breaker.amps:g} A breaker stands above what its cable may carry, about {may:g} A; use a larger"
            " cable or a smaller breaker, and let a qualified person judge the run"
        )
        yield Finding("breaker-above-cable", "wrong", where, text)
    elif breaker is not None and fixed is not None and breaker.amps > fixed:
        text = (
            f"{whose} {breaker.amps:g} A breaker is more than building wire of {awg_name(cable.awg)} AWG takes"
            f" ({fixed:g} A by NEC 310.16 and 240.4); portable cable may carry up to about {may or fixed:g} A: read its"
            " own rating, and give it as amps of the cable"
        )
        yield Finding("breaker-above-cable", "advice", where, text)


def _own_drop(where: str, drop: Drop | None, code: str) -> Iterator[Finding]:
    advised = float(table("conductors")["advice"]["branch_percent"])
    if drop and drop.percent > advised:
        text = (
            f"its own cable drops {_told(drop)}, above the advised {advised:g} %; use a larger cable or a shorter run"
        )
        yield Finding(code, "advice", where, text)


def _told(drop: Drop) -> str:
    between = "leg to neutral" if drop.base == "L-N" else "leg to leg"
    return f"{drop.volts:.1f} V, {drop.percent:.1f} % of {drop.base_volts:.0f} V {between}"
