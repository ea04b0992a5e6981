"""Steps and incidents of an invented set, for tests of the log and of the review."""

from __future__ import annotations

from typing import Literal

from monitor.electrical.steps import Step
from monitor.incidents.model import Alternative, Evidence, FoundStep, Incident, Kind
from monitor.show.model import Point
from tests.monitor.log.logs import BEGIN_MS


def found_step(
    second: float,
    watts: float | None = 1500.0,
    amps: float | None = 12.5,
    match: tuple[str, ...] = (),
    circuit: str = "A1",
) -> FoundStep:
    """Give a step ``second`` s after the begin."""
    begin_ms = BEGIN_MS + round(second * 1000)
    kind: Literal["on", "off"] = "on" if (watts or amps or 0) > 0 else "off"
    step = Step(begin_ms / 1000, begin_ms / 1000 - 1, watts, amps, kind, "steady", match, 0.9)
    return FoundStep(circuit, begin_ms, begin_ms - 1000, step)


def incident(
    number: int = 1,
    second: float = 300.0,
    kind: Kind = Kind.OVERLOAD_TRIP,
    points: tuple[Point, ...] = (Point("A1"),),
    end_s: float | None = None,
) -> Incident:
    """Give an incident that began ``second`` s after the begin."""
    begin_ms = BEGIN_MS + round(second * 1000)
    return Incident(
        number=number,
        kind=kind,
        points=points,
        begin_ms=begin_ms,
        earliest_ms=begin_ms - 1000,
        end_ms=None if end_s is None else BEGIN_MS + round(end_s * 1000),
        confidence=0.8,
        evidence=(
            Evidence("27.6 A on a 20 A breaker for 140 s before the volts went"),
            Evidence("no other place fell in the same second", "against"),
            Evidence("Fan heater came on 140 s before", "beside"),
        ),
        not_shown=("who or what opened the circuit",),
        alternatives=(Alternative(Kind.OPENED_CAUSE_NOT_SHOWN, 0.2),),
        last_on="Fan heater",
        last_on_planned=False,
    )
