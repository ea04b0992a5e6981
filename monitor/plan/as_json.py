"""The plan as JSON data; the keys of the first level and of the rows are relied on from outside."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from monitor.electrical.cable import basis

if TYPE_CHECKING:
    from collections.abc import Sequence

    from monitor.electrical.balance import Balance, Move
    from monitor.electrical.headroom import Headroom
    from monitor.plan.findings import Finding
    from monitor.plan.schedule import CircuitRow, FeederRow, Schedule


def plan_json(schedule: Schedule, found: Sequence[Finding]) -> dict[str, Any]:
    """Give the plan; amps [A], watts [W], volts [V], kilowatts [kW]."""
    load = schedule.source
    return {
        "show": schedule.show.name,
        "circuits": [_circuit(row) for row in schedule.circuits],
        "feeders": [_feeder(row) for row in schedule.feeders],
        "legs": [{"leg": leg, "planned_amps": amps} for leg, amps in schedule.amps_by_leg.items()],
        "neutral_amps": schedule.neutral_amps,
        "source": {
            "planned_kw": load.kilowatts,
            "planned_kva": load.kilovolt_amperes,
            "load_percent": load.percent,
            "load_percent_kw": load.percent_kw,
            "load_percent_kva": load.percent_kva,
            "leg_rating_amps": schedule.leg_rating_amps,
        },
        "drop_basis": basis(schedule.show) or None,
        "fuel": _fuel(schedule),
        "findings": [_finding(f) for f in found],
    }


def add_json(circuit: str, answer: Headroom) -> dict[str, Any]:
    """Give the answer to ``--add``."""
    return {
        "circuit": circuit,
        "added_amps": answer.added_amps,
        "fits": answer.fits,
        "limited_by": answer.limited_by,
        "headroom_amps": answer.amps,
        "headroom_watts": answer.watts,
        "not_checked": list(answer.not_checked),
    }


def balance_json(found: Balance, worse: Sequence[Finding]) -> dict[str, Any]:
    """Give the answer to ``--balance``; ``worse`` is what the moves would put wrong elsewhere."""
    return {
        "moves": _moves(found.moves),
        "legs_after": [{"leg": leg, "planned_amps": amps} for leg, amps in found.after.items()],
        "balance": {
            "exact": found.exact,
            "floor_amps": found.floor_amps,
            "fewer": [{"moves": _moves(few.moves), "highest_amps": few.highest_amps} for few in found.fewer],
            "findings_after": [_finding(f) for f in worse],
        },
    }


def _moves(moves: Sequence[Move]) -> list[dict[str, str]]:
    return [{"circuit": move.circuit, "from": move.from_leg, "to": move.to_leg} for move in moves]


def _finding(found: Finding) -> dict[str, Any]:
    return {"code": found.code, "severity": found.severity, "where": found.where, "text": found.text}


def _circuit(row: CircuitRow) -> dict[str, Any]:
    circuit = row.circuit
    return {
        "id": circuit.id,
        "name": circuit.name,
        "fed_from": circuit.fed_from,
        "legs": list(circuit.legs),
        "rated_amps": circuit.breaker.amps,
        "continuous_limit_amps": row.continuous_amps,
        "planned_amps": row.planned_amps,
        "paper_amps": row.paper_amps,
        "start_amps": row.start_amps,
        "planned_watts": row.planned_watts,
        "headroom_amps": row.headroom_amps,
        "path_headroom_amps": row.path.amps,
        "limited_by": row.path.limited_by,
        **_drops(row),
    }


def _feeder(row: FeederRow) -> dict[str, Any]:
    return {
        "id": row.feeder.id,
        "name": row.feeder.name,
        "fed_from": row.feeder.fed_from,
        "legs": list(row.feeder.legs),
        "rated_amps": row.rated_amps,
        "continuous_limit_amps": row.continuous_amps,
        "planned_amps": row.planned_amps,
        "planned_amps_by_leg": dict(row.amps_by_leg),
        "neutral_amps": row.neutral_amps,
        "planned_watts": row.planned_watts,
        "headroom_amps": row.headroom_amps,
        **_drops(row),
    }


def _drops(row: CircuitRow | FeederRow) -> dict[str, Any]:
    far, own = row.far_drop, row.own_drop
    return {
        "drop_volts": far and far.volts,
        "drop_percent": far and far.percent,
        "drop_base": far and far.base,
        "drop_base_volts": far and far.base_volts,
        "drop_without": list(row.no_cable),
        "own_drop_volts": own and own.volts,
        "own_drop_percent": own and own.percent,
    }


def _fuel(schedule: Schedule) -> dict[str, Any] | None:
    day = schedule.fuel
    if day is None:
        return None
    return {
        "hours": day.hours,
        "litres_per_hour": day.litres_per_hour,
        "litres": day.litres,
        "usable_litres": day.usable_litres,
    }
