"""What was found in a log, as plain data for programs. Keys are fixed; more may be added."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from monitor.review.times import iso
from monitor.review.wording import WHAT, match, sure

if TYPE_CHECKING:
    from monitor.incidents.model import FoundStep, Incident
    from monitor.log.gaps import Gap
    from monitor.review.past import Found


def found_data(found: Found, timezone: str) -> dict[str, Any]:
    """Give incidents, steps and gaps for ``json.dumps``; times in the show's zone, watts [W], amps [A]."""
    return {
        "incidents": [incident_data(incident, timezone) for incident in found.incidents],
        "steps": [step_data(step, timezone) for step in found.steps],
        "gaps": [_gap(gap, timezone) for gap in found.gaps],
    }


def incident_data(incident: Incident, timezone: str) -> dict[str, Any]:
    """Give one incident; ``confidence`` is 0 to 1, ``end`` is null while it lasts or where it is not known."""
    return {
        "id": incident.number,
        "kind": incident.kind.value,
        "what": WHAT[incident.kind],
        "points": [str(point) for point in incident.points],
        "begin": iso(incident.begin_ms, timezone),
        "earliest": iso(incident.earliest_ms, timezone),
        "end": None if incident.end_ms is None else iso(incident.end_ms, timezone),
        "confidence": incident.confidence,
        "confidence_word": sure(incident.confidence),
        "evidence": [{"text": one.text, "speaks": one.speaks} for one in incident.evidence],
        "not_shown": list(incident.not_shown),
        "alternatives": [{"kind": one.kind.value, "confidence": one.confidence} for one in incident.alternatives],
        "last_on": incident.last_on or None,
        "last_on_planned": incident.last_on_planned,
    }


def step_data(found: FoundStep, timezone: str) -> dict[str, Any]:
    """Give one step; ``match`` names the planned loads it is taken for, null: nobody planned it."""
    step = found.step
    return {
        "time": iso(found.time_ms, timezone),
        "point": found.circuit,
        "watts": step.watts,
        "amps": step.amps,
        "match": match(found),
        "pieces": list(step.match),
        "earliest": iso(found.earliest_ms, timezone),
        "behaviour": step.behaviour,
        "confidence": step.confidence,
        "over_gap": step.over_gap,
        "note": found.note or None,
    }


def _gap(gap: Gap, timezone: str) -> dict[str, Any]:
    return {
        "point": str(gap.point),
        "begin": iso(gap.begin_ms, timezone),
        "end": None if gap.end_ms is None else iso(gap.end_ms, timezone),
        "reason": gap.reason,
        "detail": gap.detail,
    }
