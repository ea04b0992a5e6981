"""Every run whose two ends are read: judged every ten seconds, told where its drop per amp grows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.incidents.cases import Case, Register
from monitor.incidents.model import Kind
from monitor.incidents.run import BLOCK_MS, GROWN, LEAST_AMPS, Run
from monitor.show.model import Point

if TYPE_CHECKING:
    from monitor.alarms.conditions.layout import Layout
    from monitor.incidents.run import Block
    from monitor.incidents.traces import Board

_OFF = 0.4  # of the rise that counts: less ends it


class Runs:
    """Every run whose two ends are read."""

    def __init__(self, layout: Layout, board: Board, register: Register) -> None:
        self._board, self._register, self._places = board, register, layout.places
        self._runs: list[Run] = []
        for feeder in layout.show.feeders:
            place, upper = layout.places[feeder.id], layout.places[feeder.fed_from]
            if len(place.own) < len(place.legs) and not (place.all_metered and place.below):
                continue
            run = Run(layout, board, (upper, place), feeder.cable)
            if run.readable:
                self._runs.append(run)
        self._next_ms = 0
        self._cases: dict[str, Case] = {}

    def observe(self) -> None:
        """Take one moment; runs are judged every ten seconds."""
        now = self._board.time_ms
        if self._board.resumed:
            for run in self._runs:
                run.forget()
            self._cases.clear()
            self._next_ms = now + BLOCK_MS
        if now < self._next_ms:
            return
        self._next_ms = now + BLOCK_MS
        for run in self._runs:
            run.block(now)
            case = self._cases.get(run.place.id)
            if case is not None:
                self._end(run, case)
            else:
                self._begin(run)

    def at(self, place: str) -> Run | None:
        """Give the run to a place, where both its ends are read."""
        return next((run for run in self._runs if run.place.id == place), None)

    def _begin(self, run: Run) -> None:
        block = run.rising()
        if block is None:
            return
        if self._register.explains(Kind.RESISTANCE_RISE, run.far_end, block.end_ms) is not None:
            return
        known = self._register.at(run.place.id, Kind.UNDERVOLTAGE_RUN, Kind.RESISTANCE_RISE)
        text = said(run, block)
        if known is not None:
            if not any("drop per amp" in one.text for one in known.evidence):
                known.shows(text)
                known.alternatives[Kind.RESISTANCE_RISE] = 0.3
                known.confidence = min(known.confidence, 0.65)
                self._register.tell(known)
            return
        begin = run.begin_ms
        points = tuple(Point(run.place.id, leg) for leg in block.grown)
        case = self._lower(run, begin)
        if case is not None:  # low volts further down that came of it
            case.kind, case.place, case.confidence = Kind.RESISTANCE_RISE, run.place.id, 0.7
            case.points = tuple(dict.fromkeys((*points, *case.points)))
            self._register.tell(case)
        else:
            case = Case(Kind.RESISTANCE_RISE, run.place.id, points, begin, begin - BLOCK_MS, 0.8)
            self._register.open(case)
        case.covers = frozenset({Kind.UNDERVOLTAGE_RUN})
        fill(case, run, block)
        self._cases[run.place.id] = case

    def _lower(self, run: Run, begin_ms: int) -> Case | None:
        """Give the lasting case of low volts under a run that began with or after its growth."""
        for case in self._register.lasting:
            place = self._places.get(case.place)
            under = place is not None and run.place.id in place.up
            if case.kind is Kind.UNDERVOLTAGE_RUN and under and case.begin_ms >= begin_ms - BLOCK_MS:
                return case
        return None

    def _end(self, run: Run, case: Case) -> None:
        if case.closed:
            del self._cases[run.place.id]
            return
        last = list(run.blocks)[-3:]
        if len(last) == 3 and not any(block.grown for block in last):  # noqa: PLR2004 - half a minute
            loaded = all(block.amps > LEAST_AMPS for block in last)
            if loaded and all(block.share < _OFF * GROWN for block in last):
                del self._cases[run.place.id]
                self._register.end(case, last[0].end_ms)


def said(run: Run, block: Block) -> str:
    """Say how a run's drop per amp stands against its past."""
    return (
        f"the drop per amp in the run to {run.place.label} has grown: {block.text}, {1000 * block.ohms:.0f} milliohm"
        f" and {100 * block.share:.0f} % above what it was, about {block.watts:.0f} W more lost in it"
    )


def fill(case: Case, run: Run, block: Block) -> None:
    """Give a case of a growing resistance its evidence."""
    case.shows(said(run, block))
    case.alternatives = {Kind.UNDERVOLTAGE_RUN: 0.1, Kind.LOST_NEUTRAL: 0.05}
    case.misses(
        "where in the run it is: a joint, a plug, a worn or hot conductor, or load between its ends that no meter sees"
    )
