"""The wrong service: at first power, before any load, the volts of another system than planned."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.electrical.loads import LEG_TO_LEG, LEG_TO_NEUTRAL
from monitor.incidents.cases import Case, Register
from monitor.incidents.model import Kind
from monitor.show.model import SOURCE_ID, Point

if TYPE_CHECKING:
    from monitor.alarms.conditions.layout import Layout
    from monitor.incidents.traces import Board, Trace

_FIRST_MS = 90_000  # what is seen within this time of power coming is "at first power"
_STEADY, _SAMPLES, _STOOD_MS = 0.02, 4, 5000
_OFF = 0.10  # of nominal: closer is no other service
_LIKE = 0.06  # of the other system's volts
_FAR = 1.4  # times nominal: too much for any fault that the source could have with loads on
_OFF_HERTZ = 0.1
_IDLE_AMPS = 1.0
_OTHERS = (120.0, 127.0, 208.0, 230.0, 240.0, 277.0, 347.0, 400.0, 480.0, 600.0)
_HIDES = frozenset(
    {Kind.OVERVOLTAGE, Kind.UNDERVOLTAGE_RUN, Kind.UNDERVOLTAGE_SOURCE, Kind.LOST_NEUTRAL, Kind.LOST_LEG}
)
_CLOSE_MS = 5000


class Services:
    """Looks at every point whose power has just come."""

    def __init__(self, layout: Layout, board: Board, register: Register) -> None:
        self._layout, self._board, self._register = layout, board, register
        self._cases: list[tuple[Case, list[Trace]]] = []

    @property
    def known(self) -> frozenset[Point]:
        """The points that read another service now."""
        return frozenset(t.point for _, traces in self._cases for t in traces)

    def observe(self, *, coming: bool) -> None:
        """Take one moment; ``coming``: the source is still running up."""
        if self._board.resumed:
            self._cases.clear()
        if self._cases:
            self._end()
        if not self._board.odd or coming:
            return
        found = [(t, service) for t in self._board.odd.values() if (service := self._other(t)) is not None]
        known = self.known
        fresh = [(t, service) for t, service in found if t.point not in known]
        if fresh:
            self._join(fresh)

    def _other(self, trace: Trace) -> float | None:
        """Give the nominal volts of the service that a point reads, where it is not the planned one [V]."""
        board = self._board
        if not board.standing(trace) or trace.first_ms is None or board.time_ms - trace.first_ms > _FIRST_MS:
            return None
        volts, amps = trace.last("volts", _SAMPLES), trace.last("amps", 3)
        stood = trace.heard_ms - trace.first_ms >= _STOOD_MS
        if len(volts) < _SAMPLES or not stood or max(volts) - min(volts) > _STEADY * max(volts):
            return None
        middle = sorted(volts)[len(volts) // 2]
        if abs(middle / trace.nominal - 1) <= _OFF or self._fitted(trace):
            return None
        if amps and max(amps) > max(_IDLE_AMPS, trace.least_amps) and middle < _FAR * trace.nominal:
            return None
        near = min(_OTHERS, key=lambda other: abs(middle / other - 1))
        if abs(middle / near - 1) <= _LIKE and abs(near / trace.nominal - 1) > _LIKE:
            return near
        return middle if middle > trace.nominal and self._unloaded() else None

    def _unloaded(self) -> bool:
        """Say whether nothing at all carries load: then it is the service, whatever its name, that is too high."""
        amps = [(t.amps, t.least_amps) for t in self._board.powered if t.live]
        return all(a is not None and a <= max(_IDLE_AMPS, least) for a, least in amps)

    def _join(self, fresh: list[tuple[Trace, float]]) -> None:
        """Put points together: all that reads another service since its power came is one finding."""
        traces = [t for t, _ in fresh]
        for case, known in self._cases:
            if case.place == SOURCE_ID or all(case.place in t.up for t in traces):
                known.extend(traces)
                case.points = (*case.points, *(t.point for t in traces if t.point not in case.points))
                return
        place = traces[0].place
        if len({t.place for t in traces}) > 1:
            place = next(id_ for id_ in traces[0].up if all(id_ in t.up for t in traces))
            if not any(self._fits(t) for t in self._board.powered):
                place = SOURCE_ID
        begin = min(t.first_ms or t.heard_ms for t in traces)
        points = tuple(t.point for t in traces)
        if place in self._layout.places:
            points = (Point(place), *(p for p in points if p != Point(place)))
        case = Case(Kind.WRONG_SERVICE, place, points, begin, begin, 0.85, covers=_HIDES)
        system = self._layout.show.source.system
        for trace, service in fresh[:6]:
            case.shows(
                f"{trace.label} reads {trace.settled_volts or 0.0:.1f} V since its power came, where"
                f" {trace.nominal:.0f} V are planned"
                + (f": near {service:.0f} V, outside the plan" if service in _OTHERS else ": outside the plan")
            )
        hertz, planned = traces[0].samples[-1][1].hertz, self._layout.show.source.hertz
        if hertz and abs(hertz / planned - 1) > _OFF_HERTZ:
            case.shows(f"it runs at {hertz:.1f} Hz where {planned:g} Hz are planned")
        idle = [t for t in traces if (t.amps or 0.0) <= _IDLE_AMPS]
        case.shows("no load was on it yet" if len(idle) == len(traces) else "load was on it already", "beside")
        case.alternatives = {Kind.OVERVOLTAGE if fresh[0][1] > fresh[0][0].nominal else Kind.UNDERVOLTAGE_SOURCE: 0.1}
        legs = f"{LEG_TO_NEUTRAL[system]:.0f} V to neutral"
        across = f" and {LEG_TO_LEG[system]:.0f} V between legs" if system in LEG_TO_LEG else ""
        case.misses(f"which service is there: only that it is not the planned {system} with {legs}{across}")
        self._register.open(case)
        self._cases.append((case, traces))

    @staticmethod
    def _fitted(trace: Trace) -> bool:
        """Say whether it stood at the planned volts after its power came: then the service is the planned one."""
        since = (trace.first_ms or 0) + _STOOD_MS
        stood = (v.volts for at, v in trace.samples if at >= since and v.volts is not None)
        return any(abs(volts / trace.nominal - 1) <= _OFF for volts in stood)

    def _fits(self, trace: Trace) -> bool:
        volts = trace.settled_volts
        return self._board.standing(trace) and volts is not None and abs(volts / trace.nominal - 1) <= _OFF

    def _end(self) -> None:
        for entry in list(self._cases):
            case, traces = entry
            off = [t for t in traces if t.live and t.powered and not self._fits(t)]
            if not off and all(self._board.time_ms - t.heard_ms < _CLOSE_MS for t in traces):
                self._cases.remove(entry)
                ends = [t.down_ms or t.back_ms or t.heard_ms for t in traces]
                self._register.end(case, max(ends))
            elif not any(t.live for t in traces):
                self._cases.remove(entry)
                self._register.end(case, None)
