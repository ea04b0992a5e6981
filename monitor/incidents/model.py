"""What is found in the readings: steps at circuits, and incidents with the evidence for and against them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from monitor.electrical.steps import Step
    from monitor.show.model import Point


class Kind(StrEnum):
    """What an incident is taken for."""

    OVERLOAD_TRIP = "overload-trip"
    FAULT_TRIP = "fault-trip"
    OPENED_CAUSE_NOT_SHOWN = "opened-cause-not-shown"
    UPSTREAM_LOSS = "upstream-loss"
    SOURCE_STOPPED = "source-stopped"
    SOURCE_OVERLOAD = "source-overload"
    FUEL_OR_GOVERNOR = "fuel-or-governor"
    OVERVOLTAGE = "overvoltage"
    UNDERVOLTAGE_SOURCE = "undervoltage-source"
    UNDERVOLTAGE_RUN = "undervoltage-run"
    LOST_NEUTRAL = "lost-neutral"
    LOST_LEG = "lost-leg"
    RESISTANCE_RISE = "resistance-rise"
    WRONG_SERVICE = "wrong-service"
    METER_SILENT = "meter-silent"


@dataclass(frozen=True, slots=True)
class FoundStep:
    """A step at one circuit.

    Attributes:
        circuit: its id.
        time_ms: first sample that shows it, on the log's clock.
        earliest_ms: last sample that doesn't; the moment lies between.
        step: watts, amps, behaviour and the planned loads it is taken for.
        note: what the log can't tell about it, or empty (a whole circuit going off on a line-side tap).

    """

    circuit: str
    time_ms: int
    earliest_ms: int
    step: Step
    note: str = ""


@dataclass(frozen=True, slots=True)
class Evidence:
    """One thing that the readings show.

    Attributes:
        text: one plain sentence with its figures.
        speaks: ``for`` or ``against`` what the incident is taken for, or ``beside`` it (what came before, what was
            on last).

    """

    text: str
    speaks: str = "for"


@dataclass(frozen=True, slots=True)
class Alternative:
    """What else it may have been.

    Attributes:
        kind: of incident.
        confidence: 0 to 1.

    """

    kind: Kind
    confidence: float


@dataclass(frozen=True, slots=True)
class Incident:
    """One thing that happened, with what stands for and against it.

    Attributes:
        number: unique in its log, from 1; the same incident told again with a later end or more evidence keeps it.
        kind: what it is taken for first.
        points: where, the lowest common parent first, then what it explains.
        begin_ms: the first sample that shows it, on the log's clock.
        earliest_ms: the last sample that doesn't.
        end_ms: when it was over, or None while it lasts or where that is not known.
        confidence: 0 to 1, of ``kind``; with those of ``alternatives`` at most 1 together.
        evidence: what the readings show.
        not_shown: what this log can't show, one plain sentence each.
        alternatives: what else it may have been, most likely first.
        last_on: the load that came on last before it, a planned load's name or a description; empty: unknown.
        last_on_planned: whether it stands in the plan; None where none is known.

    """

    number: int
    kind: Kind
    points: tuple[Point, ...]
    begin_ms: int
    earliest_ms: int
    end_ms: int | None
    confidence: float
    evidence: tuple[Evidence, ...]
    not_shown: tuple[str, ...]
    alternatives: tuple[Alternative, ...]
    last_on: str = ""
    last_on_planned: bool | None = None


@dataclass(frozen=True, slots=True)
class Found:
    """What one stretch of readings gave: new steps, and incidents new or told again."""

    steps: tuple[FoundStep, ...] = ()
    incidents: tuple[Incident, ...] = ()
