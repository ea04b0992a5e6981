"""Volts that stay low or high: the source's, or those of a run to a part of the set.

Low volts are the run's where the same legs stand within their limits further up or on other branches; the source's
where everything that is read on those legs is low. Short sags, and what follows a load step, are no incident.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.electrical.supply import source_or_run
from monitor.incidents.cases import Case, Register
from monitor.incidents.losses import branch
from monitor.incidents.model import Kind
from monitor.incidents.runs import fill, said
from monitor.show.model import SOURCE_ID, Point

if TYPE_CHECKING:
    from monitor.alarms.conditions.layout import Layout
    from monitor.incidents.runs import Runs
    from monitor.incidents.traces import Board, Trace

_LOW_MS, _DEEP_MS, _HIGH_MS, _FAR_MS = 10_000, 6000, 9000, 3500
_DEEP, _FAR = 0.80, 1.095  # of nominal
_CLOSE_MS = 8000  # back inside the limits for this long ends it
_FIRST_MS = 9000  # after power came: what service it is comes first
_LEAST_SAMPLES = 3
_SOURCE_KINDS = (Kind.SOURCE_OVERLOAD, Kind.FUEL_OR_GOVERNOR)
_JOINS = 0.985  # of the limit: a point this near to it is no witness against the others


class Levels:
    """Low and high volts.

    Args:
        layout: of the show.
        board: its points.
        register: of cases: what another one explains is passed over.

    """

    def __init__(self, layout: Layout, board: Board, register: Register, runs: Runs) -> None:
        self._layout, self._board, self._register, self._runs = layout, board, register, runs
        self._cases: list[tuple[Case, list[Trace], bool]] = []

    def observe(self, *, coming: bool, waits: bool) -> None:
        """Take one moment; ``coming``: the source is running up or down; ``waits``: a loss is being decided."""
        self._close()
        odd = self._board.odd
        if not odd or coming or waits:
            return
        for high in (False, True):
            told = {id(t) for _, traces, was in self._cases if was == high for t in traces}
            off = [t for t in odd.values() if id(t) not in told and self._lasts(t, high=high)]
            if off:
                self._judge(off, high=high)

    def _lasts(self, trace: Trace, *, high: bool) -> bool:
        since = trace.high_ms if high else trace.low_ms
        if since is None or trace.heard_ms - (trace.first_ms or since) < _FIRST_MS:
            return False
        part = (trace.settled_volts or 0.0) / trace.nominal
        far = part > _FAR if high else part < _DEEP
        least = (_FAR_MS if far else _HIGH_MS) if high else (_DEEP_MS if far else _LOW_MS)
        wait = max(least, _LEAST_SAMPLES * trace.interval_ms - 500)
        return trace.heard_ms - since >= wait and (
            part * trace.nominal > trace.high if high else part * trace.nominal < trace.low
        )

    def _judge(self, off: list[Trace], *, high: bool) -> None:
        """Put all that is off the same way together, and find what they have in common."""
        board = self._board
        kind = Kind.OVERVOLTAGE if high else Kind.UNDERVOLTAGE_SOURCE
        kinds = (kind,) if high else (kind, Kind.UNDERVOLTAGE_RUN)
        off = [t for t in off if not self._explained(kinds, t)]
        if not off:
            return
        since = "high_ms" if high else "low_ms"
        joined = [t for t in board.powered if t in off or (board.standing(t) and getattr(t, since) is not None)]
        joined = [t for t in joined if not self._explained(kinds, t)]
        good = [t for t in board.powered if board.standing(t) and t not in joined and not _near(t, high=high)]
        place = self._common(joined, good)
        if self._joins(place, joined, high=high):
            return
        case = self._high(place, joined, good) if high else self._low(place, joined, good)
        if case is None:
            return
        self._register.open(case)
        self._cases.append((case, joined, high))

    def _explained(self, kinds: tuple[Kind, ...], trace: Trace) -> bool:
        return any(self._register.explains(kind, trace, self._board.time_ms) is not None for kind in kinds)

    def _joins(self, place: str, traces: list[Trace], *, high: bool) -> bool:
        """Add points to a lasting case above, at or under their place: it is the same trouble."""
        up = (place, *(traces[0].up if place == traces[0].place else self._layout.places[place].up))
        for case, known, was in self._cases:
            under = place in (known[0].place, *known[0].up) if known else False
            if was == high and (case.place in up or under):
                more = [t for t in traces if t not in known]
                known.extend(more)
                case.points = tuple(dict.fromkeys((*case.points, *(t.point for t in more))))
                self._register.tell(case)
                return True
        return False

    def _common(self, joined: list[Trace], good: list[Trace]) -> str:
        """Give the lowest place that has all of them under it and nothing good on their legs."""
        if len({t.place for t in joined}) == 1 and joined[0].circuit is not None:
            same = [t for t in self._board.under(joined[0].up[0]) if set(t.legs) & set(joined[0].legs)]
            if len(same) > len(joined) or good:
                return joined[0].place
        chains = [t.up for t in joined]
        return next(id_ for id_ in chains[0] if all(id_ in chain for chain in chains))

    def _low(self, place: str, low: list[Trace], good: list[Trace]) -> Case | None:
        legs = {leg for t in low for leg in t.legs}
        witness = [t for t in good if set(t.legs) <= legs or (set(t.legs) & legs and len(t.legs) == 1)]
        begin, earliest = _when(low, "low_ms")
        worst = min(low, key=lambda t: (t.settled_volts or 0.0) / t.nominal)
        above = [t for t in witness if t.circuit is None and t.place != place and _above(t, worst)]
        upstream = max((t.settled_volts or 0.0 for t in above), default=None)
        shares = source_or_run(worst.settled_volts or 0.0, upstream, worst.nominal) if upstream else None
        points = self._points(place, low)
        figures = ", ".join(f"{t.label} {t.settled_volts or 0.0:.1f} V (limit {t.low:.1f} V)" for t in low[:4])
        if witness and (shares is None or shares.larger == "run"):
            case = Case(Kind.UNDERVOLTAGE_RUN, place, points, begin, earliest, 0.85)
            case.shows(f"{figures}, while {_stand(witness)} on the same legs")
            case.alternatives = {Kind.RESISTANCE_RISE: 0.08, Kind.LOST_NEUTRAL: 0.03}
            case.misses("whether length, joints or load that no meter sees take the volts on the way")
            self._amps(case, low)
            self._grown(case)
            self._fed_back(case, low, Kind.UNDERVOLTAGE_RUN)
            if case.kind is Kind.UNDERVOLTAGE_RUN and (worst.settled_volts or 0.0) < _DEEP * worst.nominal:
                self._perhaps_open(case, low)
        else:
            case = Case(
                Kind.UNDERVOLTAGE_SOURCE,
                SOURCE_ID if not good or place == SOURCE_ID else place,
                points,
                begin,
                earliest,
                0.85,
            )
            case.shows(f"all that is read on {', '.join(sorted(legs))} is low: {figures}")
            case.alternatives = {Kind.SOURCE_OVERLOAD: 0.08}
            case.misses("what sets the source's volts is not measured")
            own = any(t.place == SOURCE_ID for t in low)
            if own:
                case.shows("the source's own points are low too")
            elif place != SOURCE_ID or len({branch(SOURCE_ID, t) for t in low}) == 1:
                case.confidence = 0.55
                case.alternatives = {Kind.UNDERVOLTAGE_RUN: 0.4}
                case.misses(
                    "nothing is read above these points: whether the source or the run to them is low is not shown"
                )
            self._fed_back(case, low, Kind.UNDERVOLTAGE_SOURCE)
        return case

    def _high(self, place: str, high: list[Trace], good: list[Trace]) -> Case | None:
        begin, earliest = _when(high, "high_ms")
        case = Case(Kind.OVERVOLTAGE, place, self._points(place, high), begin, earliest, 0.85)
        figures = ", ".join(f"{t.label} {t.settled_volts or 0.0:.1f} V (limit {t.high:.1f} V)" for t in high[:4])
        case.shows(figures)
        low = [
            t
            for t in good
            if (t.settled_volts or t.nominal) < 0.96 * t.nominal
            and not set(t.legs) & {leg for h in high for leg in h.legs}
        ]
        case.alternatives = {Kind.LOST_NEUTRAL: 0.1}
        if low:
            case.confidence = 0.55
            case.alternatives = {Kind.LOST_NEUTRAL: 0.4}
            case.shows(f"other legs are lower than before: {_stand(low)}", "against")
        elif good:
            case.shows(f"others stand: {_stand(good)}", "beside")
        else:
            case.shows("every leg that is read is high together")
        case.misses("what sets the source's volts is not measured")
        return case

    def _amps(self, case: Case, low: list[Trace]) -> None:
        amps = [(t, t.middle("amps", 3)) for t in low]
        heavy = [(t, a) for t, a in amps if a is not None]
        if not heavy:
            case.misses("the amps of this run are not measured")
            return
        text = ", ".join(f"{t.label} {a:.1f} A" for t, a in heavy[:4])
        loaded = any(a >= t.least_amps for t, a in heavy)
        case.shows(f"it carries {text}", "for" if loaded else "against")

    def _fed_back(self, case: Case, low: list[Trace], otherwise: Kind) -> None:
        """See whether the one leg that is low carries nothing: no amps, no drop; open, and fed back through loads."""
        legs = _one_leg(low)
        others = [t for t in self._board.under(case.place) if self._board.standing(t) and not set(t.legs) & legs]
        if not legs or not others:
            return
        carries = [t for t in self._board.under(case.place) if t.live and set(t.legs) == legs]
        carries = [t for t in carries if t.place == case.place] or carries  # what its own meter reads is all of it
        before = [a for t in carries if (a := t.before("amps", case.begin_ms)) is not None and a >= t.least_amps]
        idle = all(t.amps is not None and t.amps < t.least_amps for t in carries)
        if carries and idle and case.place in self._layout.places:
            case.kind, case.confidence, case.leg = Kind.LOST_LEG, 0.65 if before else 0.5, "".join(legs)
            case.alternatives = {otherwise: 0.2 if before else 0.4}
            where = f"{case.leg} of {self._layout.places[case.place].label}"
            carried = f"carries nothing since, {sum(before):.1f} A before" if before else "carries nothing"
            case.shows(f"{where} {carried}: no amps explain its low volts, while the other legs stand")
            case.misses(f"whether {where} is open and fed back through loads between legs")

    def _perhaps_open(self, case: Case, low: list[Trace]) -> None:
        if _one_leg(low):
            case.confidence = min(case.confidence, 0.6)
            case.alternatives[Kind.LOST_LEG] = 0.3
            case.misses("whether the leg is open and loads between legs feed it back is not shown")

    def _grown(self, case: Case) -> None:
        """See whether the run itself got worse: it crept, then that is what happened; or it jumped."""
        run = self._runs.at(case.place)
        if run is None:
            return
        crept, jumped = run.crept(case.begin_ms), run.jumped()
        if crept is not None:
            case.kind, case.confidence = Kind.RESISTANCE_RISE, 0.7
            fill(case, run, crept)
            case.covers = frozenset({Kind.UNDERVOLTAGE_RUN})
            case.alternatives = {Kind.UNDERVOLTAGE_RUN: 0.2}
        elif jumped is not None:
            case.shows(said(run, jumped))
            case.confidence = 0.65
            case.alternatives[Kind.RESISTANCE_RISE] = 0.3

    def _points(self, place: str, off: list[Trace]) -> tuple[Point, ...]:
        own = [t.point for t in off]
        legs = {leg for t in off for leg in t.legs}
        found = self._layout.places.get(place)
        if found is None:
            return tuple(own)
        first = Point(place, legs.pop()) if len(legs) == 1 else Point(place)
        return (first, *(p for p in own if p != first))

    def _close(self) -> None:
        board = self._board
        for entry in list(self._cases):
            case, traces, high = entry
            since = "high_ms" if high else "low_ms"
            live = [t for t in traces if t.live]
            named = case.kind in _SOURCE_KINDS  # what looks at the source named it better, and ends it
            if case.closed or not live or named:
                self._cases.remove(entry)
                if not case.closed and not named:
                    self._register.end(case, None)
                continue
            off = [t for t in live if getattr(t, since) is not None]
            gone = [t for t in live if not t.powered]
            if gone and not off:
                self._finish(entry, min(t.down_ms or board.time_ms for t in gone))
            elif not off and all(board.time_ms - _since(t, high=high) >= _CLOSE_MS for t in live):
                self._finish(entry, max(_since(t, high=high) for t in live))

    def _finish(self, entry: tuple[Case, list[Trace], bool], time_ms: int) -> None:
        self._cases.remove(entry)
        self._register.end(entry[0], time_ms)


def _near(trace: Trace, *, high: bool) -> bool:
    """Say whether a point stands so close to the limit that it speaks neither for nor against."""
    volts = trace.settled_volts or 0.0
    return volts > trace.high * _JOINS if high else volts < trace.low / (1 - (1 - _JOINS) / 3)


def _above(upper: Trace, lower: Trace) -> bool:
    return upper.place in lower.up and upper.nominal == lower.nominal and set(upper.legs) <= set(lower.legs)


def _one_leg(traces: list[Trace]) -> set[str]:
    """Give the one leg that all of these read, or nothing."""
    legs = {leg for t in traces for leg in t.legs if len(t.legs) == 1}
    return legs if len(legs) == 1 else set()


def _since(trace: Trace, *, high: bool) -> int:
    """Give since when a point has been inside its limits [ms], from its samples."""
    limit = trace.high if high else trace.low
    last = 0
    for at_ms, values in reversed(trace.samples):
        volts = values.volts
        if volts is not None and (volts > limit if high else volts < limit):
            break
        last = at_ms
    return last


def _when(traces: list[Trace], since: str) -> tuple[int, int]:
    begin = min(at for t in traces if (at := getattr(t, since)) is not None)
    earliest = min(max((at for at, _ in t.samples if at < begin), default=begin) for t in traces)
    return begin, earliest


def _stand(traces: list[Trace]) -> str:
    return ", ".join(f"{t.label} stands at {t.settled_volts or 0.0:.1f} V" for t in traces[:3])
