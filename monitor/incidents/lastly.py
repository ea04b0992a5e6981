"""The load that came on last before an incident, and whether it was planned."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.incidents.model import Kind

if TYPE_CHECKING:
    from monitor.electrical.steps import Step
    from monitor.incidents.cases import Case
    from monitor.incidents.circuits import Circuit, Circuits

_LATE_MS = 500  # a step's first sample may lie beside the incident's
_QUIET = frozenset({Kind.METER_SILENT, Kind.WRONG_SERVICE})


def last_on(case: Case, circuits: Circuits) -> tuple[str, bool | None]:
    """Give the load that came on last where a case is: (name or description, planned); ("", None): none is known."""
    here = [c for c in circuits.of.values() if case.place in (c.id, *c.place.up)]
    if case.kind in _QUIET or not here:
        return "", None
    if case.leg:
        here = [c for c in here if case.leg in c.place.circuit.legs] or here
    risen = [(c, rise) for c in here if (rise := c.rise(case.earliest_ms)) is not None] if len(here) == 1 else []
    if risen:
        name, planned = risen[0][1]
        case.shows(f"just before it, {name} came on at {risen[0][0].place.label}", "beside")
        return name, planned
    steps = [
        (step.time_ms, circuit, step.step) for circuit in here for step in circuit.steps
        if step.time_ms <= case.begin_ms + _LATE_MS
    ]  # fmt: skip
    if not steps:
        return "", None
    at_ms, circuit, step = max(steps, key=lambda one: one[0])
    name = described(step)
    ago = (case.begin_ms - at_ms) / 1000
    when = f"{ago:.0f} s" if ago < 120 else f"{ago / 60:.0f} min"  # noqa: PLR2004 - two minutes
    case.shows(f"{name} came on last, at {circuit.place.label}, {when} before it{_plan(circuit, step)}", "beside")
    return name, bool(step.match)


def described(step: Step) -> str:
    """Name a step: its planned loads, or its size and way."""
    if step.match:
        return " and ".join(dict.fromkeys(step.match))
    size = f"{abs(step.watts):.0f} W" if step.watts is not None else f"{abs(step.amps or 0.0):.1f} A"
    way = {"motor start": " that starts like a motor", "cycling": " that cycles", "fade": " that faded in"}
    return f"a load of {size}{way.get(step.behaviour, '')}"


def _plan(circuit: Circuit, step: Step) -> str:
    if step.match:
        return ", as planned"
    return ": not in the plan" if circuit.place.circuit.load else ": no load is planned there"
