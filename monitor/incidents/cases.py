"""Incidents in the making: one case each, its number, how it ends, and what explains what."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from monitor.incidents.model import Alternative, Evidence, Incident, Kind

if TYPE_CHECKING:
    from collections.abc import Iterable

    from monitor.incidents.traces import Trace
    from monitor.show.model import Point

_SAME_MS = 15_000  # a known incident that begins within this time of a new one of its kind and place is the same
_MOST_KNOWN = 200
_FIRST_MS = 30_000
_AFTER_MS = 15_000  # an incident explains what its end stirs up for this long


@dataclass(slots=True)
class Case:
    """One incident as far as it is known; the fields are those of ``Incident``.

    Attributes:
        place: id of the place or circuit where it is; what hangs under it is explained by it.
        leg: the one leg it is about, or empty.
        covers: kinds of case that it explains at and under its place while it lasts.

    """

    kind: Kind
    place: str
    points: tuple[Point, ...]
    begin_ms: int
    earliest_ms: int
    confidence: float
    evidence: list[Evidence] = field(default_factory=list)
    not_shown: list[str] = field(default_factory=list)
    alternatives: dict[Kind, float] = field(default_factory=dict)
    leg: str = ""
    covers: frozenset[Kind] = frozenset()
    last_on: str = ""
    last_on_planned: bool | None = None
    number: int = 0
    end_ms: int | None = None
    closed: bool = False

    def shows(self, text: str, speaks: str = "for") -> None:
        """Add evidence; the same sentence once."""
        if all(one.text != text for one in self.evidence):
            self.evidence.append(Evidence(text, speaks))

    def misses(self, *texts: str) -> None:
        """Add what the log can't show."""
        self.not_shown += [text for text in texts if text not in self.not_shown]

    def told(self) -> Incident:
        """Give it as an incident; alternatives keep to what its own confidence leaves."""
        left = 1.0 - self.confidence
        total = sum(self.alternatives.values())
        scale = min(1.0, left / total) if total else 1.0
        ranked = sorted(self.alternatives.items(), key=lambda one: -one[1])
        return Incident(
            number=self.number,
            kind=self.kind,
            points=self.points,
            begin_ms=self.begin_ms,
            earliest_ms=min(self.earliest_ms, self.begin_ms),
            end_ms=self.end_ms,
            confidence=round(self.confidence, 2),
            evidence=tuple(self.evidence),
            not_shown=tuple(self.not_shown),
            alternatives=tuple(Alternative(kind, int(100 * scale * share) / 100) for kind, share in ranked),
            last_on=self.last_on,
            last_on_planned=self.last_on_planned,
        )


class Register:
    """The cases of one log.

    Args:
        next_number: of the next incident.

    Attributes:
        lasting: cases without an end.
        first_ms: the first moment that was looked at [ms].

    """

    def __init__(self, next_number: int) -> None:
        self._next = next_number
        self._known: list[Incident] = []
        self._ended: list[Case] = []
        self.first_ms: int | None = None
        self._out: dict[int, Case] = {}
        self._fresh: list[Case] = []
        self.lasting: list[Case] = []

    def adopt(self, known: Iterable[Incident]) -> None:
        """Take incidents that the log holds: the same one found again keeps its number."""
        held = list(known)
        self._next = max([self._next, *(incident.number + 1 for incident in held)])
        self._known = held[-_MOST_KNOWN:]

    def open(self, case: Case) -> Case:
        """Take a new case, number it, and tell it."""
        known = self._same(case)
        if known is not None:
            self._known.remove(known)
            case.number, case.begin_ms, case.earliest_ms = known.number, known.begin_ms, known.earliest_ms
            case.evidence = list(dict.fromkeys((*known.evidence, *case.evidence)))
            case.last_on, case.last_on_planned = known.last_on, known.last_on_planned
            case.kind, case.confidence = known.kind, known.confidence
            case.alternatives = {other.kind: other.confidence for other in known.alternatives}
        else:
            case.number = self._next
            self._next += 1
        self.lasting.append(case)
        if known is None:
            self._fresh.append(case)
            self.tell(case)
        return case

    @property
    def stirred(self) -> bool:
        """Whether there is something to tell."""
        return bool(self._out)

    def fresh(self) -> list[Case]:
        """Give the cases that were opened since the last call."""
        fresh, self._fresh = self._fresh, []
        return fresh

    def tell(self, case: Case) -> None:
        """Tell a case, or tell it again."""
        self._out[case.number] = case

    def end(self, case: Case, time_ms: int | None) -> None:
        """End a case; None: it is not known when."""
        case.end_ms, case.closed = time_ms, True
        if case in self.lasting:
            self.lasting.remove(case)
            self._ended = [*self._ended[-20:], case]
        if time_ms is not None:
            self.tell(case)

    def pause(self) -> None:
        """Nothing is known of the time between two moments: what lasted may have ended in it."""
        for case in list(self.lasting):
            self.end(case, None)
        self._ended.clear()

    def take(self) -> tuple[Incident, ...]:
        """Give what is to be told since the last call."""
        told = tuple(case.told() for _, case in sorted(self._out.items()))
        self._out.clear()
        return told

    def explains(self, kind: Kind, trace: Trace, time_ms: int) -> Case | None:
        """Give the case that explains a kind of trouble at a point, lasting or just over."""
        for case in (*self.lasting, *self._ended):
            over = case.closed and (case.end_ms is None or time_ms - case.end_ms > _AFTER_MS)
            if not over and kind in case.covers and (case.place in trace.up or case.place == trace.place):
                return case
        return None

    def at(self, place: str, *kinds: Kind) -> Case | None:
        """Give the lasting case of some kinds at a place."""
        return next((case for case in self.lasting if case.place == place and case.kind in kinds), None)

    def _same(self, case: Case) -> Incident | None:
        for known in self._known:
            here = bool(known.points) and known.points[:1] == case.points[:1]
            since_first = case.begin_ms - (self.first_ms or 0) <= _FIRST_MS  # it was there when looking began
            lasts = known.end_ms is None and since_first and known.begin_ms <= case.begin_ms
            if here and known.kind is case.kind and (abs(known.begin_ms - case.begin_ms) <= _SAME_MS or lasts):
                return known
        return None
