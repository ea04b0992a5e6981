"""Power that goes: one circuit, all under a place, one leg, everything; decided once all that still stands was read."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.incidents.cases import Case
from monitor.incidents.model import Kind
from monitor.incidents.openings import ORDER, SLOW_MS, judge_line_side, judge_opening, judge_pole
from monitor.show.model import SOURCE_ID, Point

if TYPE_CHECKING:
    from collections.abc import Iterable

    from monitor.alarms.conditions.layout import Layout, Place
    from monitor.incidents.cases import Register
    from monitor.incidents.circuits import Circuits
    from monitor.incidents.traces import Board, Trace

_WAIT_MS, _WAIT_INTERVALS = 4000, 2.6
_WINDOW_MS = 1100  # what a meter shows may be this old
_STANDS = (0.86, 1.12)  # of nominal
_WITH_MS = 12_000
_FED_BACK = (Kind.LOST_LEG, Kind.OPENED_CAUSE_NOT_SHOWN, Kind.FAULT_TRIP)
_HALF = (0.35, 0.7)  # of nominal between two legs: one of them is gone
_SEVERAL = 2
_HOT_MS = 30_000
_LINE_GONE = 2  # samples without load
HIDES = frozenset(Kind) - {Kind.WRONG_SERVICE, Kind.RESISTANCE_RISE}


class Losses:
    """Waits until a loss is whole, and gives its cases.

    Args:
        layout: of the show.
        board: its points.
        circuits: its circuits.

    """

    def __init__(self, layout: Layout, board: Board, circuits: Circuits, register: Register) -> None:
        self._layout, self._board, self._circuits, self._register = layout, board, circuits, register
        self._pending: dict[Point, Trace] = {}
        self._newest_ms = 0
        self._followed: list[tuple[Case, list[Trace]]] = []

    @property
    def waits(self) -> bool:
        """Whether something went that isn't decided."""
        return bool(self._pending)

    def follow(self, case: Case) -> None:
        """End a case once power, or load where only that tells, is back."""
        self._followed.append((case, [self._board.of[p] for p in case.points if p in self._board.of]))

    def finish(self) -> list[Case]:
        """Decide what waits: nothing more will be read."""
        gone = [trace for trace in self._pending.values() if not trace.powered]
        self._pending.clear()
        return self._decide(gone) if gone else []

    def observe(self, *, hold: bool) -> list[Case]:
        """Take one moment; ``hold``: legs are apart, what that means is decided first."""
        board = self._board
        if board.resumed:
            self._pending.clear()
            self._followed.clear()
        if self._followed:
            self._end()
        for trace in board.sank:
            self._pending[trace.point] = trace
            self._newest_ms = max(self._newest_ms, trace.heard_ms)
        cases = self._by_amps()
        if not self._pending:
            return cases
        for point, trace in list(self._pending.items()):
            if trace.powered:
                del self._pending[point]  # back before it was decided
        if self._pending and self._decided(hold=hold):
            gone = list(self._pending.values())
            self._pending.clear()
            cases += self._decide(gone)
        return cases

    def _end(self) -> None:
        for entry in list(self._followed):
            case, traces = entry
            back = [t.first_ms for t in traces if t.powered and t.first_ms is not None and t.first_ms > case.begin_ms]
            if case.kind in _FED_BACK:  # through loads between legs it may stand at any volts
                back = [t.back_ms for t in traces if t.powered and t.low_ms is None and t.back_ms > case.begin_ms]
            if case.kind is Kind.OVERLOAD_TRIP and not back:
                back = [t.heard_ms for t in traces if t.heard_ms > case.begin_ms and (t.amps or 0.0) >= t.least_amps]
            if back or case.closed:
                self._followed.remove(entry)
                if not case.closed:
                    self._register.end(case, min(back))

    def _decided(self, *, hold: bool) -> bool:
        board = self._board
        standing = [trace for trace in board.powered if board.standing(trace)]
        slowest = max((trace.interval_ms for trace in standing), default=1000.0)
        wait = max(_WAIT_MS, _WAIT_INTERVALS * slowest) * (2 if hold else 1)
        if board.time_ms - self._newest_ms >= wait:
            return True
        newest = self._newest_ms + _WINDOW_MS
        low, high = _STANDS
        return not hold and all(t.heard_ms > newest and low <= (t.volts or 0.0) / t.nominal <= high for t in standing)

    def _by_amps(self) -> list[Case]:
        """Look at circuits whose volts tell nothing, while they were above their rating a moment ago."""
        found = []
        now = self._board.time_ms
        for circuit in list(self._circuits.hot.values()):
            cold = not circuit.over or now - circuit.over[-1][0] > _HOT_MS + 4 * circuit.traces[0].interval_ms
            if cold:
                del self._circuits.hot[circuit.id]
            if cold or not circuit.blind:
                continue
            end_ms = circuit.over[-1][0]
            dark = any(trace.powered is False for trace in circuit.traces)
            after = [trace.between(end_ms + 1, now) for trace in circuit.traces]
            gone = [
                len(samples) >= _LINE_GONE and all((v.amps or 0.0) < trace.least_amps for _, v in samples[-_LINE_GONE:])
                for samples, trace in zip(after, circuit.traces, strict=True)
            ]
            # One sample between may hold a part of both.
            if all(gone) and not dark and max(len(samples) for samples in after) <= _LINE_GONE + 1:
                case = judge_line_side(circuit)
                if case is not None:
                    circuit.over.clear()
                    found.append(case)
        return found

    def _decide(self, gone: list[Trace]) -> list[Case]:
        cases: list[Case] = []
        explained = self._register.explains
        now = self._board.time_ms
        left = {t.point: t for t in gone if not self._part_of(t, explained(Kind.LOST_LEG, t, now))}
        for place in self._layout.places.values():  # parents first
            case = self._place_lost(place, left)
            if case is not None:
                cases.append(case)
        for place in self._layout.places.values():
            for leg in place.legs if len(place.legs) > 1 else ():
                case = self._leg_lost(place, leg, left)
                if case is not None:
                    cases.append(case)
        sank: dict[str, list[Trace]] = {}
        for trace in left.values():
            # Volts that are left are no opening: they are low.
            if trace.circuit is not None and (trace.gone_ms is not None or len(trace.circuit.points) > 1):
                sank.setdefault(trace.place, []).append(trace)
        for place_id, traces in sank.items():
            circuit = self._circuits.of[place_id]
            pole = any(self._board.standing(t) for t in circuit.traces)
            found = judge_pole(circuit, traces, self._board) if pole else judge_opening(circuit, self._board)
            cases += [found] if found is not None else []
        return cases

    @staticmethod
    def _part_of(trace: Trace, case: Case | None) -> bool:
        """Say whether a loss is part of a case: a leg that sank with the neutral, whatever volts are left on it."""
        if case is None:
            return False
        return trace.gone_ms is None or abs((trace.down_ms or 0) - case.begin_ms) <= _WITH_MS

    def _place_lost(self, place: Place, left: dict[Point, Trace]) -> Case | None:
        """Look whether all under a place went: then it is the lowest place that has them all."""
        board = self._board
        under = board.under(place.id)
        gone = [trace for trace in under if trace.point in left]
        if not gone or any(board.standing(trace) for trace in under):
            return None
        own = [trace for trace in gone if trace.place == place.id]
        if not own and len({branch(place.id, trace) for trace in gone}) < _SEVERAL:
            return None  # one branch: a lower place, or a single circuit
        for trace in gone:
            del left[trace.point]
        if not any(trace.loaded for trace in gone):
            return None
        return self._told(place, gone)

    def _told(self, place: Place, gone: list[Trace]) -> Case:
        everything = not any(self._board.standing(trace) for trace in self._board.powered)
        begin, last = min(t.down_ms or 0 for t in gone), min(t.live_ms or 0 for t in gone)
        points = _points(place, gone)
        names = ", ".join(_names(gone))
        if place.id == SOURCE_ID:
            case = Case(Kind.SOURCE_STOPPED, SOURCE_ID, points, begin, last, 0.8, covers=HIDES)
            case.shows(f"the volts of all that is read went together: {names}")
            case.alternatives = {Kind.UPSTREAM_LOSS: 0.12, Kind.FUEL_OR_GOVERNOR: 0.05}
            case.misses("whether the source itself stopped, or its own breaker or switch opened")
        else:
            case = Case(Kind.UPSTREAM_LOSS, place.id, points, begin, last, 0.85, covers=HIDES)
            case.shows(f"the volts of all that is read under {place.label} went together: {names}")
            case.alternatives = {Kind.OPENED_CAUSE_NOT_SHOWN: 0.1}
            if everything:
                case.confidence = 0.5
                case.alternatives = {Kind.SOURCE_STOPPED: 0.45}
                case.misses(f"nothing outside {place.label} is read: whether the source itself stopped is not shown")
            else:
                self._parent(case, place)
            case.misses(f"what opened at or above {place.label}, and why")
        self._carried(case, place)
        case.misses(ORDER)
        slowest = max(t.interval_ms for t in gone)
        if slowest > SLOW_MS:
            case.misses(f"the points are read every {slowest / 1000:.0f} s: what happened between is not shown")
        return case

    def _parent(self, case: Case, place: Place) -> None:
        stand = [t for t in self._board.powered if self._board.standing(t) and place.up[0] in (t.place, *t.up)]
        others = stand or [t for t in self._board.powered if self._board.standing(t)]
        names = ", ".join(f"{t.label} {t.volts:.1f} V" for t in others[:3])
        case.shows(f"others kept their volts: {names}")

    def _carried(self, case: Case, place: Place) -> None:
        """Say what the place carried against its rating."""
        if place.rated_amps is None or place.id == SOURCE_ID:
            return
        amps = {leg: self._amps_before(place, leg, case.earliest_ms) for leg in place.legs}
        known = {leg: a for leg, a in amps.items() if a is not None}
        if not known:
            return
        leg = max(known, key=lambda one: known[one])
        over = known[leg] > place.rated_amps
        case.shows(
            f"{leg} of {place.label} carried {known[leg]:.1f} A before, rated {place.rated_amps:g} A",
            "for" if over else "beside",
        )
        if over:
            case.alternatives[Kind.OVERLOAD_TRIP] = 0.05

    def _amps_before(self, place: Place, leg: str, time_ms: int) -> float | None:
        if leg in place.own:
            return self._board.of[place.own[leg]].middle("amps", 5, time_ms)
        sums = [
            self._board.of[dict(c.on_leg).get(leg, c.points[0])].middle("amps", 5, time_ms)
            for c in place.below
            if leg in c.circuit.legs
        ]
        known = [a for a in sums if a is not None]
        return sum(known) if known else None

    def _leg_lost(self, place: Place, leg: str, left: dict[Point, Trace]) -> Case | None:
        """Look whether all that is read on one leg of a place went while its other legs stand."""
        board = self._board
        under = [t for t in board.under(place.id) if t.legs == (leg,)]
        gone = [t for t in under if t.point in left]
        if not gone or any(board.standing(t) for t in under):
            return None
        own = any(t.place == place.id for t in gone)
        sunk = [t for t in board.under(place.id) if leg in t.legs and _sunk_with(t, gone)]
        several = own or len({branch(place.id, t) for t in (*gone, *sunk)}) >= _SEVERAL
        fed_back = all(t.gone_ms is None for t in gone)  # an open breaker leaves no volts behind it
        if not several and not fed_back:
            return None
        others = [t for t in board.under(place.id) if board.standing(t) and len(t.legs) == 1]
        near = [t for t in others if _STANDS[0] <= (t.volts or 0.0) / t.nominal <= _STANDS[1]]
        if not others or len(near) < len(others):
            return None
        for trace in gone:
            del left[trace.point]
        across = [t for t in left.values() if leg in t.legs and (place.id in t.up or t.place == place.id)]
        for trace in across:
            del left[trace.point]
        if not any(t.loaded for t in gone):
            return None
        points = (Point(place.id, leg), *(t.point for t in (*gone, *sunk) if t.point != Point(place.id, leg)))
        begin, last = min(t.down_ms or 0 for t in gone), min(t.live_ms or 0 for t in gone)
        case = Case(Kind.LOST_LEG, place.id, points, begin, last, 0.85 if several else 0.6, leg=leg, covers=HIDES)
        figures = ", ".join(f"{t.label} {t.volts:.1f} V" for t in gone[:4] if t.volts is not None)
        stand = ", ".join(f"{t.label} {t.volts:.1f} V" for t in near[:3] if t.volts is not None)
        case.shows(f"all that is read on {leg} of {place.label} went together: {figures}")
        case.shows(f"the other legs stand: {stand}")
        if sunk:
            half = ", ".join(f"{t.label} {t.volts:.1f} V" for t in sunk[:3])
            case.shows(f"what hangs between {leg} and another leg sank to that leg's volts: {half}")
        case.alternatives = {Kind.UPSTREAM_LOSS: 0.08, Kind.OPENED_CAUSE_NOT_SHOWN: 0.05}
        if not several:
            case.alternatives = {Kind.UNDERVOLTAGE_RUN: 0.2, Kind.OPENED_CAUSE_NOT_SHOWN: 0.1}
            case.misses(f"only one circuit reads {leg}: whether the leg or that circuit alone is affected is not shown")
        case.misses(f"where on the way to {place.label} the leg is open, and why", ORDER)
        if any((t.volts or 0.0) > 0.1 * t.nominal for t in gone):
            case.shows("its volts are not at nothing: loads between legs may feed it back", "beside")
        return case


def _sunk_with(trace: Trace, gone: list[Trace]) -> bool:
    """Say whether a point between two legs sank, as one of them went, to about what the other leg has to neutral."""
    part = (trace.volts or 0.0) / trace.nominal
    since = trace.low_ms or trace.down_ms
    if len(trace.legs) != _SEVERAL or not trace.live or not _HALF[0] < part < _HALF[1] or since is None:
        return False
    return abs(since - min(t.down_ms or 0 for t in gone)) <= 2 * trace.interval_ms + _WINDOW_MS


def branch(place: str, trace: Trace) -> str:
    """Give what right under a place leads to a point: a feeder, the circuit itself, or the place for its own meter."""
    if trace.place == place:
        return place
    inside = trace.up[: trace.up.index(place)] if place in trace.up else trace.up
    return inside[-1] if inside else trace.place


def _points(place: Place, gone: Iterable[Trace]) -> tuple[Point, ...]:
    first = Point(place.id, place.legs[0]) if len(place.legs) == 1 else Point(place.id)
    points = [t.point for t in gone]
    return (first, *(p for p in points if p != first))


def _names(gone: list[Trace]) -> list[str]:
    names = list(dict.fromkeys(t.label for t in gone))
    return names[:8] + ([f"and {len(names) - 8} more"] if len(names) > 8 else [])  # noqa: PLR2004 - enough to read
