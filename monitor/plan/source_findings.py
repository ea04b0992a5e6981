"""What stands out at the source of a plan: its ratings, its legs, motor starts, fuel."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.electrical.fuel import source_faults
from monitor.electrical.loads import LEG_TO_NEUTRAL
from monitor.plan.findings import Finding, place_findings

if TYPE_CHECKING:
    from collections.abc import Iterator

    from monitor.plan.schedule import Schedule

SPREAD_PERCENT = 10.0  # (highest - lowest) / highest leg, where it matters: a judgement
SPREAD_OF_RATING = 0.2  # of the leg's rating: legs so far apart matter below half load too: a judgement
LOW_LOAD_PERCENT = 30.0  # NFPA 110's exercise load; "wet stacking below 30 %" is a rule of thumb
HIGH_LOAD_PERCENT = 80.0  # common practice, no source
_WHOLE = 100.0


def findings(schedule: Schedule) -> tuple[Finding, ...]:
    """Give everything that stands out in a plan, what is wrong first."""
    found = [*place_findings(schedule), *_load(schedule), *_legs(schedule), *_motor_start(schedule)]
    found += [*_motor_unknown(schedule), *_fuel(schedule)]
    return tuple(sorted(found, key=lambda finding: finding.severity != "wrong"))


def _load(schedule: Schedule) -> Iterator[Finding]:
    load, source = schedule.source, schedule.show.source
    for unit, percent, value, rated in (
        ("kW", load.percent_kw, load.kilowatts, source.rated_kw),
        ("kVA", load.percent_kva, load.kilovolt_amperes, source.rated_kva),
    ):
        if percent is not None and rated is not None and percent > _WHOLE:
            text = f"{value:.1f} {unit} planned, above its rated {rated:g} {unit}; take load off or get a larger source"
            yield Finding("source-over-rating", "wrong", "source", text)
    if load.percent is not None and HIGH_LOAD_PERCENT < load.percent <= _WHOLE:
        text = (
            f"{load.percent:.0f} % of its rating planned: little is left for what comes unplanned; keep something that"
            " can be switched off, or get a larger source"
        )
        yield Finding("source-high-load", "advice", "source", text)
    low, unit = (load.percent_kw, "kW") if load.percent_kw is not None else (load.percent_kva, "kVA")
    other = (source.fuel is not None and source.fuel.kind != "diesel") or source.governor == "inverter"
    if source.kind == "generator" and not other and low is not None and low < LOW_LOAD_PERCENT:
        text = (
            f"{low:.0f} % of its rated {unit} planned; long running under {LOW_LOAD_PERCENT:g} % leaves unburnt fuel in"
            " a diesel: a smaller set, or hours of higher load, suit it better"
        )
        yield Finding("source-low-load", "advice", "source", text)


def _legs(schedule: Schedule) -> Iterator[Finding]:
    rating, legs, source = schedule.leg_rating_amps, schedule.amps_by_leg, schedule.show.source
    if rating is not None:
        continuous = rating * schedule.show.setting("continuous_percent") / 100.0
        where = "another leg" if len(legs) > 1 else "another source"
        for leg, amps in legs.items():
            if amps > rating + 1e-9:
                text = f"{amps:.1f} A planned, above the leg's {rating:.0f} A; move load to {where}"
                yield Finding("leg-over-rating", "wrong", f"source/{leg}", text)
            elif amps > continuous + 1e-9:
                text = f"{amps:.1f} A planned, above {continuous:.0f} A for continuous load; move load to {where}"
                yield Finding("leg-over-continuous", "advice", f"source/{leg}", text)
    if source.neutral_amps is not None and schedule.neutral_amps > source.neutral_amps:
        text = (
            f"the neutral carries {schedule.neutral_amps:.1f} A planned, above its {source.neutral_amps:g} A; share the"
            " load more evenly between the legs"
        )
        yield Finding("neutral-over-rating", "wrong", "source", text)
    yield from _spread(legs, _rating(schedule)[0])


def _spread(legs: dict[str, float], rating: float | None) -> Iterator[Finding]:
    highest, lowest = max(legs, key=lambda leg: legs[leg]), min(legs, key=lambda leg: legs[leg])
    apart = legs[highest] - legs[lowest]
    if not legs[highest] or (rating is not None and legs[highest] <= rating / 2 and apart <= SPREAD_OF_RATING * rating):
        return
    percent = 100.0 * apart / legs[highest]
    if percent > SPREAD_PERCENT:
        text = (
            f"{highest} carries {legs[highest]:.1f} A and {lowest} {legs[lowest]:.1f} A, {percent:.0f} % apart; move"
            " load between the legs (--balance finds the fewest moves)"
        )
        yield Finding("unbalanced", "advice", "source", text)


def _motor_start(schedule: Schedule) -> Iterator[Finding]:
    """Look at the one start that brings a leg highest, with everything else running: amps added as plain numbers."""
    rating, of = _rating(schedule)
    starts = [
        (schedule.amps_by_leg[leg] + row.start_amps - row.planned_amps, leg, row.circuit.id)
        for row in schedule.circuits
        for leg in row.circuit.legs
        if row.start_amps > row.planned_amps
    ]
    together, leg, circuit = max(starts, default=(0.0, "", ""))
    if rating is not None and together > rating + 1e-9:
        text = (
            f"while {circuit}'s motor starts {leg} carries about {together:.1f} A, above the source's {rating:.0f} A"
            f"{of}: volts and hertz may sag; start it before the lights, or get a larger source"
        )
        yield Finding("motor-start", "advice", f"source/{leg}", text)


def _rating(schedule: Schedule) -> tuple[float | None, str]:
    """Give the rating of a leg [A], and on what it rests where that is only the source's kilowatts."""
    source = schedule.show.source
    if schedule.leg_rating_amps is not None or not source.rated_kw:
        return schedule.leg_rating_amps, ""
    amps = source.rated_kw * 1000 / (len(source.legs) * LEG_TO_NEUTRAL[source.system])
    return amps, " a leg (worked out from its kW; amps_per_leg or rated_kva would tell it better)"


def _motor_unknown(schedule: Schedule) -> Iterator[Finding]:
    """Name the motors whose start can't be looked at."""
    unknown = [
        circuit.id
        for circuit in schedule.show.circuits
        if any(load.kind == "motor" and load.start_multiple is None for load in circuit.load)
    ]
    if unknown:
        text = (
            f"no start_multiple is given for motors on {', '.join(unknown)}: their starts are not in this plan; give"
            " starting current / running current from the nameplate"
        )
        yield Finding("motor-start-unknown", "advice", "source", text)


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
