"""Between what is found in the readings and the rows of tables ``step`` and ``incident``."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from monitor.electrical.steps import Step
from monitor.incidents.model import Alternative, Evidence, FoundStep, Incident, Kind
from monitor.log.scaled import scale
from monitor.show.model import Point

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterable, Mapping

_STEP = "time_ms, earliest_ms, point, watts_dw, amps_ma, match, pieces, behaviour, confidence, over_gap, since_ms, note"
_INCIDENT = (
    "number, kind, points, begin_ms, earliest_ms, end_ms, confidence, evidence, not_shown, alternatives, last_on,"
    " last_on_planned"
)
_NAMED = _STEP.replace("point", "p.place")
STEPS = (
    f"SELECT {_NAMED} FROM step JOIN point p ON p.id = step.point"  # noqa: S608 - fixed names
    " WHERE time_ms >= ? AND time_ms < ? ORDER BY time_ms, step.id"
)
INCIDENTS = f"SELECT {_INCIDENT} FROM incident WHERE begin_ms >= ? AND begin_ms < ? ORDER BY begin_ms, number"  # noqa: S608 - fixed names
_INSERT_STEP = f"INSERT INTO step ({_STEP}) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"  # noqa: S608 - fixed names
_INSERT_INCIDENT = f"INSERT OR REPLACE INTO incident ({_INCIDENT}) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"  # noqa: S608 - fixed names


def write_steps(db: sqlite3.Connection, steps: Iterable[FoundStep], ids: Mapping[Point, int]) -> None:
    """Insert a row a step. Writes; the caller's transaction.

    Args:
        db: in a transaction of the caller's.
        steps: to keep.
        ids: of points; the circuit of every step as a whole must be among them.

    """
    db.executemany(_INSERT_STEP, [_step_row(found, ids[Point(found.circuit)]) for found in steps])


def write_incidents(db: sqlite3.Connection, incidents: Iterable[Incident]) -> None:
    """Insert a row an incident, or replace the row of its number. Writes; the caller's transaction."""
    db.executemany(_INSERT_INCIDENT, map(_incident_row, incidents))


def _step_row(found: FoundStep, point_id: int) -> tuple[Any, ...]:
    step = found.step
    return (
        found.time_ms,
        found.earliest_ms,
        point_id,
        scale(step.watts, 10),
        scale(step.amps, 1_000),
        " + ".join(dict.fromkeys(step.match)) or None,
        _json(step.match),
        step.behaviour,
        step.confidence,
        int(step.over_gap),
        scale(step.since_s, 1_000),
        found.note,
    )


def read_step(row: tuple[Any, ...]) -> FoundStep:
    """Give the step of a row of ``STEPS``."""
    time_ms, earliest_ms, circuit, watts, amps, _, pieces, behaviour, confidence, over_gap, since_ms, note = row
    step = Step(
        time_s=time_ms / 1000.0,
        earliest_s=earliest_ms / 1000.0,
        watts=None if watts is None else watts / 10.0,
        amps=None if amps is None else amps / 1000.0,
        kind="on" if (watts if watts is not None else amps or 0) >= 0 else "off",
        behaviour=behaviour or "steady",
        match=tuple(json.loads(pieces)),
        confidence=confidence or 0.0,
        over_gap=bool(over_gap),
        since_s=None if since_ms is None else since_ms / 1000.0,
    )
    return FoundStep(circuit, time_ms, earliest_ms, step, note)


def _incident_row(incident: Incident) -> tuple[Any, ...]:
    return (
        incident.number,
        incident.kind.value,
        _json([[point.place, point.leg] for point in incident.points]),
        incident.begin_ms,
        incident.earliest_ms,
        incident.end_ms,
        incident.confidence,
        _json([{"text": one.text, "speaks": one.speaks} for one in incident.evidence]),
        _json(incident.not_shown),
        _json([{"kind": other.kind.value, "confidence": other.confidence} for other in incident.alternatives]),
        incident.last_on or None,
        None if incident.last_on_planned is None else int(incident.last_on_planned),
    )


def read_incident(row: tuple[Any, ...]) -> Incident:
    """Give the incident of a row of ``INCIDENTS``."""
    number, kind, points, begin_ms, earliest_ms, end_ms, confidence, evidence, not_shown, others, last, planned = row
    return Incident(
        number=number,
        kind=Kind(kind),
        points=tuple(Point(place, leg) for place, leg in json.loads(points)),
        begin_ms=begin_ms,
        earliest_ms=earliest_ms,
        end_ms=end_ms,
        confidence=confidence,
        evidence=tuple(Evidence(one["text"], one["speaks"]) for one in json.loads(evidence)),
        not_shown=tuple(json.loads(not_shown)),
        alternatives=tuple(Alternative(Kind(one["kind"]), one["confidence"]) for one in json.loads(others)),
        last_on=last or "",
        last_on_planned=None if planned is None else bool(planned),
    )


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False)
