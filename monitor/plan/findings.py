"""What stands out in a plan: each finding a sentence with its figures and what to do.

``wrong`` is beyond a rating or can't work; ``advice`` is good practice, no rule of any code.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from monitor.electrical.breaker import requirements
from monitor.electrical.cable import awg_name
from monitor.electrical.fuel import source_faults
from monitor.electrical.tables import table

if TYPE_CHECKING:
    from collections.abc import Iterator

    from monitor.plan.schedule import CircuitRow, FeederRow, Schedule
    from monitor.show.model import Breaker, Cable

SPREAD_PERCENT = 10.0  # (highest - lowest) / highest leg, with the highest above half of its rating: a judgement
LOW_LOAD_PERCENT = 30.0  # NFPA 110's exercise load; "wet stacking below 30 %" is a rule of thumb
HIGH_LOAD_PERCENT = 80.0  # common practice, no source


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


def findings(schedule: Schedule) -> tuple[Finding, ...]:
    """Give everything that stands out, what is wrong first."""
    found = [f for row in schedule.circuits for f in _circuit(row)]
    found += [f for feeder in schedule.feeders for f in _feeder(feeder)]
    found += [*_source(schedule), *_source_legs(schedule), *_motor_start(schedule), *_fuel(schedule)]
    return tuple(sorted(found, key=lambda finding: finding.severity != "wrong"))


def _circuit(row: CircuitRow) -> Iterator[Finding]:
    circuit, amps = row.circuit, row.planned_amps
    yield from _over(circuit.id, amps, circuit.breaker.amps, row.continuous_amps)
    yield from _breaker(circuit.id, circuit.breaker, circuit.cable)
    advice = table("conductors")["advice"]
    branch, whole = float(advice["branch_percent"]), float(advice["total_percent"])
    if row.own_drop and row.own_drop.percent > branch:
        text = (
            f"its own cable drops {row.own_drop.volts:.1f} V, {row.own_drop.percent:.1f} % of {row.own_drop.base},"
            f" above the advised {branch:g} %; use a larger cable or a shorter run"
        )
        yield Finding("drop-branch", "advice", circuit.id, text)
    if row.far_drop and row.far_drop.percent > whole:
        text = (
            f"from the source to its far end {row.far_drop.volts:.1f} V drop, {row.far_drop.percent:.1f} % of"
            f" {row.far_drop.base}, above the advised {whole:g} %; use larger cable or bring the box nearer"
        )
        yield Finding("drop-total", "advice", circuit.id, text)


def _feeder(row: FeederRow) -> Iterator[Finding]:
    feeder = row.feeder
    if row.rated_amps is not None and row.continuous_amps is not None:
        for leg, amps in row.amps_by_leg.items():
            yield from _over(f"{feeder.id}/{leg}", amps, row.rated_amps, row.continuous_amps)
    if feeder.breaker:
        yield from _breaker(feeder.id, feeder.breaker, feeder.cable)
    if feeder.neutral_amps is not None and row.neutral_amps > feeder.neutral_amps:
        text = f"its neutral carries {row.neutral_amps:.1f} A planned, above its {feeder.neutral_amps:g} A"
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


def _breaker(where: str, breaker: Breaker, cable: Cable | None) -> Iterator[Finding]:
    try:
        requirements(breaker)
    except ValueError as error:
        yield Finding("breaker-not-covered", "advice", where, f"no band can be given: {error}")
    rating = _cable_amps(cable) if cable else None
    if rating is not None and breaker.amps > rating:
        text = (
            f"its {breaker.amps:g} A breaker stands above what its cable may carry, about {rating:g} A; use a larger"
            " cable or a smaller breaker, and let a qualified person judge the run"
        )
        yield Finding("breaker-above-cable", "wrong", where, text)


def _cable_amps(cable: Cable) -> float | None:
    """Give what a cable may carry [A]: its own figure, else the table's, else nothing."""
    if cable.amps is not None:
        return cable.amps * cable.parallel
    tables = table("ampacity")
    amps = tables["awg"]["amps"].get(awg_name(cable.awg)) if cable.awg else tables["mm2"]["amps"].get(f"{cable.mm2:g}")
    return None if amps is None else float(amps) * cable.parallel


def _source(schedule: Schedule) -> Iterator[Finding]:
    load, source = schedule.source, schedule.show.source
    for unit, percent, value, rated in (
        ("kW", load.percent_kw, load.kilowatts, source.rated_kw),
        ("kVA", load.percent_kva, load.kilovolt_amperes, source.rated_kva),
    ):
        if percent is not None and rated is not None and percent > 100.0:  # noqa: PLR2004 - percent
            text = f"{value:.1f} {unit} planned, above its rated {rated:g} {unit}; take load off or get a larger set"
            yield Finding("source-over-rating", "wrong", "source", text)
    highest = load.percent
    if highest is not None and HIGH_LOAD_PERCENT < highest <= 100.0:  # noqa: PLR2004 - percent
        text = f"{highest:.0f} % of its rating planned: little is left for what comes unplanned"
        yield Finding("source-high-load", "advice", "source", text)
    low = load.percent_kw
    if source.kind == "generator" and low is not None and low < LOW_LOAD_PERCENT:
        text = (
            f"{low:.0f} % of its rated kW planned; long running under {LOW_LOAD_PERCENT:g} % leaves unburnt fuel in a"
            " diesel: a smaller set, or hours of higher load, suit it better"
        )
        yield Finding("source-low-load", "advice", "source", text)


def _source_legs(schedule: Schedule) -> Iterator[Finding]:
    rating, legs, source = schedule.leg_rating_amps, schedule.amps_by_leg, schedule.show.source
    if rating is not None:
        continuous = rating * schedule.show.setting("continuous_percent") / 100.0
        for leg, amps in legs.items():
            if amps > rating:
                text = f"{amps:.1f} A planned, above the leg's {rating:.0f} A; move load to another leg"
                yield Finding("leg-over-rating", "wrong", f"source/{leg}", text)
            elif amps > continuous:
                text = f"{amps:.1f} A planned, above {continuous:.0f} A for continuous load; move load to another leg"
                yield Finding("leg-over-continuous", "advice", f"source/{leg}", text)
    if source.neutral_amps is not None and schedule.neutral_amps > source.neutral_amps:
        text = f"the neutral carries {schedule.neutral_amps:.1f} A planned, above its {source.neutral_amps:g} A"
        yield Finding("neutral-over-rating", "wrong", "source", text)
    yield from _spread(legs, rating)


def _spread(legs: dict[str, float], rating: float | None) -> Iterator[Finding]:
    highest, lowest = max(legs, key=lambda leg: legs[leg]), min(legs, key=lambda leg: legs[leg])
    half_used = rating is None or legs[highest] > rating / 2
    if not legs[highest] or not half_used:
        return
    percent = 100.0 * (legs[highest] - legs[lowest]) / legs[highest]
    if percent > SPREAD_PERCENT:
        text = (
            f"{highest} carries {legs[highest]:.1f} A and {lowest} {legs[lowest]:.1f} A, {percent:.0f} % apart;"
            " --balance finds the fewest moves"
        )
        yield Finding("unbalanced", "advice", "source", text)


def _motor_start(schedule: Schedule) -> Iterator[Finding]:
    """Look at the one start that adds most, with everything else running."""
    rating = schedule.leg_rating_amps
    starting = [row for row in schedule.circuits if row.start_amps > row.planned_amps]
    if rating is None or not starting:
        return
    worst = max(starting, key=lambda row: row.start_amps - row.planned_amps)
    extra = worst.start_amps - worst.planned_amps
    leg = max(worst.circuit.legs, key=lambda leg: schedule.amps_by_leg[leg])
    together = schedule.amps_by_leg[leg] + extra
    if together > rating:
        text = (
            f"while {worst.circuit.id}'s motor starts {leg} carries about {together:.1f} A, above the source's"
            f" {rating:g} A: volts and hertz may sag; start it before the lights, or get a larger set"
        )
        yield Finding("motor-start", "advice", f"source/{leg}", text)


def _fuel(schedule: Schedule) -> Iterator[Finding]:
    source = schedule.show.source
    for text in source_faults(source):
        yield Finding("fuel-points", "wrong", "source", text)
    if source.fuel is not None and not source.rated_kw:
        text = "its fuel points are percent of rated kW, and no rated_kw is given: no fuel is worked out; add rated_kw"
        yield Finding("fuel-points", "advice", "source", text)
    day = schedule.fuel
    if day is not None and day.litres > day.usable_litres:
        hours = day.usable_litres / day.litres_per_hour
        text = (
            f"a day of {day.hours:g} h burns about {day.litres:.0f} l at the planned load; a full tank gives"
            f" {day.usable_litres:.0f} l, about {hours:.1f} h: plan the refuelling"
        )
        yield Finding("fuel-day", "advice", "source", text)
