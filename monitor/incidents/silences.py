"""Meters that fall silent while others speak, and what their power supply leaves open."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.incidents.cases import Case, Register
from monitor.incidents.model import Kind
from monitor.show.model import SOURCE_ID

if TYPE_CHECKING:
    from monitor.alarms.conditions.layout import Layout
    from monitor.incidents.circuits import Circuits
    from monitor.incidents.traces import Board, Trace
    from monitor.show.model import Meter

_WAIT_MS = 4000  # from when its values stop being live
_POLLS = 3  # that are lost besides
_ALL_MS = 12_000  # where none speaks: a stretch without any reading is a gap, not every meter's silence
_DROPPED, _STAYED = 0.6, 0.3  # of a circuit's amps, seen on the leg above it
_HIDES = frozenset({Kind.METER_SILENT})


class _Meter:
    """One meter, and since when it says nothing [ms]."""

    def __init__(self, meter: Meter, board: Board) -> None:
        self.name = f"{meter.bus}:{meter.unit}"
        self.bus, self.by = meter.bus, meter.powered_from
        self.traces = [board.of[point] for _, point in meter.points]
        self.silent_ms: int | None = None
        self.told = False

    @property
    def last_ms(self) -> int:
        """When it spoke last [ms]."""
        return max(t.heard_ms for t in self.traces)


class Silences:
    """All meters of a show."""

    def __init__(self, layout: Layout, board: Board, register: Register, circuits: Circuits) -> None:
        self._layout, self._board, self._register, self._circuits = layout, board, register, circuits
        self._meters = [_Meter(meter, board) for meter in layout.show.meters if meter.points]
        self._cases: list[tuple[Case, list[_Meter]]] = []
        self._watching: set[str] = set()

    def observe(self, *, waits: bool) -> None:
        """Take one moment; ``waits``: a loss of power is being decided, which may explain a silence."""
        board = self._board
        if board.resumed:
            self._watching.clear()
            self._cases.clear()
            for meter in self._meters:
                meter.silent_ms, meter.told = None, False
        if not board.hushed and not self._watching:
            return
        for meter in self._meters:
            self._look(meter)
        self._end()
        waiting = [m for m in self._meters if m.silent_ms is not None and not m.told]
        wait_ms = float(_WAIT_MS if any(m.silent_ms is None for m in self._meters) else _ALL_MS)
        wait_ms = max([wait_ms, *(_POLLS * t.interval_ms for m in waiting for t in m.traces)])
        if waiting and not waits and board.time_ms - max(m.silent_ms or 0 for m in waiting) >= wait_ms:
            self._judge(waiting)

    def _look(self, meter: _Meter) -> None:
        heard = any(t.heard_ms for t in meter.traces)
        if any(t.live for t in meter.traces) or not heard:
            meter.silent_ms, meter.told = None, False
            self._watching.discard(meter.name)
        elif meter.silent_ms is None:
            meter.silent_ms = self._board.time_ms
            self._watching.add(meter.name)

    def _judge(self, silent: list[_Meter]) -> None:
        for meter in silent:
            meter.told = True
        unexplained = [m for m in silent if not self._explained(m)]
        for group in self._groups(unexplained):
            case = self._case(group)
            if case is not None:
                self._register.open(case)
                self._cases.append((case, group))

    def _explained(self, meter: _Meter) -> bool:
        """Say whether a loss that other meters show took its power: then the silence is part of that."""
        for case in self._register.lasting:
            hides = Kind.METER_SILENT in case.covers
            up = self._up(meter.by)
            if hides and (case.place in up or (case.place == SOURCE_ID and not case.leg)):
                if case.end_ms is None:
                    text = f"meter {meter.name}, powered from {meter.by}, is silent since: what it reads is not known"
                    case.misses(text)
                    self._register.tell(case)
                return True
        return False

    def _up(self, by: str) -> tuple[str, ...]:
        if by in self._layout.places:
            return (by, *self._layout.places[by].up)
        circuit = next((c for c in self._layout.circuits if c.circuit.id == by), None)
        return (by, *(circuit.up if circuit else (SOURCE_ID,)))

    def _groups(self, silent: list[_Meter]) -> list[list[_Meter]]:
        """Put together what fell silent together and shares its power, else its bus."""
        if silent and all(m.silent_ms is not None for m in self._meters):
            return [silent]
        groups: dict[str, list[_Meter]] = {}
        whole = {
            m.bus for m in silent if all(o in silent or o.silent_ms is not None for o in self._meters if o.bus == m.bus)
        }
        for meter in silent:
            shared = (
                f"power {meter.by}"
                if meter.by != SOURCE_ID
                else f"bus {meter.bus}"
                if meter.bus in whole
                else meter.name
            )
            groups.setdefault(shared, []).append(meter)
        return list(groups.values())

    def _case(self, group: list[_Meter]) -> Case | None:
        points = tuple(t.point for m in group for t in m.traces)
        last = min(m.last_ms for m in group)
        begin = last + round(max(t.interval_ms for m in group for t in m.traces))  # the first reading that is missing
        names = ", ".join(m.name for m in group)
        case = Case(Kind.METER_SILENT, group[0].by if len(group) == 1 else SOURCE_ID, points, begin, last, 0.85)
        case.place = group[0].name
        case.shows(f"meter {names} gives no values; not known meanwhile: {', '.join(map(str, points))}")
        others = [m for m in self._meters if m not in group and m.silent_ms is None]
        if others:
            case.shows(f"others speak: {', '.join(m.name for m in others[:4])}")
        elif self._all_dark(case, group):
            return None
        by = group[0].by
        if by != SOURCE_ID:
            self._powered(case, group, by)
        else:
            case.misses("what happened at these points meanwhile")
        return case

    def _all_dark(self, case: Case, group: list[_Meter]) -> bool:
        """Weigh the silence of every meter: the source that powers them, or the wires; True: a lasting case has it."""
        missing = "no meter speaks: whether the source stopped, or the wires to the meters broke, is not shown"
        lasting = self._register.at(SOURCE_ID, Kind.FUEL_OR_GOVERNOR, Kind.SOURCE_OVERLOAD)
        powered = all(m.by == SOURCE_ID for m in self._meters)
        if lasting is not None and powered:
            lasting.shows("then every meter fell silent; all of them take their power from the source", "beside")
            lasting.misses(missing)
            self._register.tell(lasting)
            return True
        case.confidence, case.alternatives = 0.5, {Kind.SOURCE_STOPPED: 0.35 if powered else 0.15}
        if powered and len({m.bus for m in group}) > 1:
            case.kind, case.confidence, case.alternatives = Kind.SOURCE_STOPPED, 0.55, {Kind.METER_SILENT: 0.4}
            case.shows("the meters share no bus, but all take their power from the source")
        case.misses(missing)
        return False

    def _powered(self, case: Case, group: list[_Meter], by: str) -> None:
        """Judge meters whose power comes from a circuit or box: with it they go dark, whatever it did."""
        where = f"{by}" if by in self._circuits.of or by in self._layout.places else "a circuit"
        case.misses(
            f"the meter takes its power from {where}: whether that opened, or only the meter fell silent, is not shown"
        )
        circuit = self._circuits.of.get(by)
        if circuit is None:
            case.confidence, case.alternatives = 0.5, {Kind.UPSTREAM_LOSS: 0.4}
            if len(group) > 1:
                case.kind, case.confidence, case.alternatives = Kind.UPSTREAM_LOSS, 0.5, {Kind.METER_SILENT: 0.4}
                case.place = by
            return
        trace = circuit.traces[0]
        if any(t.live for t in circuit.traces) and trace.powered:
            case.shows(f"{circuit.place.label} still reads {trace.volts or 0.0:.1f} V", "for")
            return
        loaded = max(trace.last("amps", 3), default=0.0) >= trace.least_amps
        seen = self._above(circuit.place.up[0], circuit.place.circuit.legs, trace)
        overload = circuit.overload(trace.heard_ms)
        if seen is not None and seen[0] is False:
            case.shows(seen[1], "for")
            case.alternatives = {Kind.OPENED_CAUSE_NOT_SHOWN: 0.1}
            return
        if seen is not None:
            case.shows(seen[1], "for")
        sure = 0.65 if seen is not None else 0.5
        if overload.counts and overload.possible:
            case.kind, case.confidence = Kind.OVERLOAD_TRIP, sure
            case.alternatives = {Kind.METER_SILENT: 0.25, Kind.OPENED_CAUSE_NOT_SHOWN: 0.15}
            case.shows(overload.text)
        elif loaded or seen is not None:
            case.kind, case.confidence = Kind.OPENED_CAUSE_NOT_SHOWN, sure
            case.alternatives = {Kind.METER_SILENT: 0.35}
            case.misses("the cause is not shown by this log")
        else:
            case.confidence, case.alternatives = 0.5, {Kind.OPENED_CAUSE_NOT_SHOWN: 0.4}
        if case.kind is not Kind.METER_SILENT:
            case.place = circuit.id
            case.points = (*circuit.place.points, *(p for p in case.points if p not in circuit.place.points))

    def _above(self, place: str, legs: tuple[str, ...], trace: Trace) -> tuple[bool, str] | None:
        """See whether the amps of a silent circuit went from the leg above it: (went, sentence), or None."""
        own = self._layout.places[place].own
        if legs[0] not in own:
            return None
        upper = self._board.of[own[legs[0]]]
        carried = trace.middle("amps", 5)
        before, after = upper.before("amps", trace.heard_ms), upper.middle("amps", 5)
        if not upper.live or carried is None or carried < 2 * trace.least_amps or before is None or after is None:
            return None
        fell = before - after
        text = (
            f"{upper.label} went from {before:.1f} A to {after:.1f} A, where {trace.label} had carried {carried:.1f} A"
        )
        if fell >= _DROPPED * carried:
            return True, text
        return (False, text) if fell <= _STAYED * carried else None

    def _end(self) -> None:
        for entry in list(self._cases):
            case, meters = entry
            if all(m.silent_ms is None for m in meters):
                self._cases.remove(entry)
                if not case.closed:
                    # The first values after it.
                    self._register.end(case, min(t.heard_ms for m in meters for t in m.traces if t.live))
