"""The past for screens, read from the log in the screen's own process (see ``monitor.engine.history``)."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from monitor.alarms.model import AlarmChange
from monitor.alarms.saying import became
from monitor.electrical.headroom import Present, headroom
from monitor.electrical.loads import nominal_volts
from monitor.engine.history import Allowed, Entry, Fixed, Place, Planned, Sample, Spell, Switching
from monitor.engine.past import allowed_at, fixed_of, planned_of, spells_of, switching_of
from monitor.log.problems import LogProblem
from monitor.log.reader import LogReader
from monitor.recorder.counter import DONE
from monitor.show.model import SOURCE_ID, Point

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

    from monitor.engine.feed import Feed
    from monitor.engine.snapshot import Snapshot
    from monitor.show.model import Circuit, Show

GONE = 0.5  # of nominal volts: less is no supply that a load can be put on (a judgement)
DAY_MS = 86_400_000
FINE_MS = 20 * 60_000  # up to this long single readings are given, then minutes
_Span = tuple[float, float, float]


class LogHistory:
    """Reads a log for one screen; fulfils ``monitor.engine.history.History``.

    Args:
        path: the log.
        show: what is watched.
        feed: gives what is measured now.

    """

    def __init__(self, path: Path, show: Show, feed: Feed) -> None:
        self._path, self._show, self._feed = path, show, feed
        self._reader: LogReader | None = None
        self._measured = frozenset(show.points())
        self._circuits = {circuit.id: circuit for circuit in show.circuits}
        self._legs = {circuit.id: circuit.legs for circuit in show.circuits} | {SOURCE_ID: show.source.legs}

    def samples(self, circuit: str, begin_ms: int, end_ms: int) -> tuple[Sample, ...]:
        """Give a circuit's or the source's readings or minutes; nothing where the log can't be read."""
        legs = self._legs.get(circuit)
        if legs is None:
            return ()
        points = [p for p in (Point(circuit), *(Point(circuit, leg) for leg in legs)) if p in self._measured]
        try:
            found = [sample for point in points for sample in self._of(point, begin_ms, end_ms)]
        except LogProblem:
            return ()
        return _joined(found) if len(points) > 1 else tuple(found)

    def _of(self, point: Point, begin_ms: int, end_ms: int) -> Iterator[Sample]:
        reader = self._opened()
        if end_ms - begin_ms <= FINE_MS:
            for reading in reader.readings_between(point, begin_ms, end_ms):
                values = reading.values
                yield Sample(reading.time_ms, _single(values.amps), _single(values.volts), _single(values.hertz))
        else:
            for minute in reader.minutes(point, begin_ms, end_ms):
                yield Sample(minute.begin_ms, minute.amps, minute.volts, minute.hertz)

    def entries(self, limit: int) -> tuple[Entry, ...]:
        """Give the newest lines of the log, newest first."""
        try:
            reader = self._opened()
            found = [
                Entry(event.time_ms, "event", event.where, str(event.data.get("who") or ""), event.text)
                for event in reader.events(limit)
                if event.kind != DONE  # what was asked for and done has an entry of its own
            ]
            for change in reader.newest_changes(limit):
                alarm = change.alarm
                found.append(Entry(change.time_ms, "alarm", alarm.where, alarm.who, f"{became(change)}: {alarm.seen}"))
            for note in reader.notes(limit):
                amount = f"{note.kind} {note.number:g} {note.quantity}" if note.number is not None else ""
                text = ": ".join(filter(None, (amount, note.text)))
                found.append(Entry(note.time_ms, "note", note.place, note.who, text))
        except LogProblem:
            return ()
        return tuple(sorted(found, key=lambda entry: -entry.time_ms)[:limit])

    def room(self, watts: float, power_factor: float) -> tuple[Place, ...]:
        """Say for every circuit whether a load fits now, most room first."""
        snapshot = self._feed.snapshot()
        present = _present(snapshot)
        volts = {view.id: view.measured.volts for view in snapshot.circuits if view.measured.live}
        found = [self._place(c, (watts, power_factor), present, volts.get(c.id)) for c in self._show.circuits]
        return tuple(sorted(found, key=lambda place: -(float("-inf") if place.room_amps is None else place.room_amps)))

    def switchings(self, circuit: str, begin_ms: int, end_ms: int) -> tuple[Switching, ...]:
        """Give the steps found at a circuit in a stretch; nothing where the log can't be read."""
        try:
            found = self._opened().steps(begin_ms, end_ms)
        except LogProblem:
            return ()
        return tuple(switching_of(step) for step in found if step.circuit == circuit)

    def planned(self, circuit: str, end_ms: int) -> tuple[Planned, ...]:
        """Give a circuit's planned loads, each with what its steps tell of it."""
        known = self._circuits.get(circuit)
        return () if known is None else planned_of(self._show, known, self.switchings(circuit, end_ms - DAY_MS, end_ms))

    def fixed(self, circuit: str) -> Fixed | None:
        """Give what the show fixes of a circuit."""
        known = self._circuits.get(circuit)
        if known is None:
            return None
        return fixed_of(self._show, known, by_leg=Point(circuit, known.legs[0]) in self._measured)

    def allowed(self, circuit: str, amps: float) -> Allowed | None:
        """Say what a circuit's breaker may do at a steady load [A]."""
        known = self._circuits.get(circuit)
        return None if known is None else allowed_at(known, amps)

    def spells(self, begin_ms: int, end_ms: int, circuit: str = "") -> tuple[Spell, ...]:
        """Give the alarms of a stretch; nothing where the log can't be read."""
        try:
            reader = self._opened()
            changes = reader.alarm_changes(begin_ms)
            begun = {(change.alarm.code, change.alarm.where) for change in changes}
            before = [AlarmChange(a.changed_ms, a, "") for a in reader.alarms() if (a.code, a.where) not in begun]
        except LogProblem:
            return ()
        spells = spells_of((*before, *changes))
        places = {circuit, *(f"{circuit}/{leg}" for leg in self._legs.get(circuit, ()))}
        return tuple(s for s in spells if s.begin_ms < end_ms and (not circuit or s.where in places))

    def _place(self, circuit: Circuit, load: tuple[float, float], present: Present, volts: float | None) -> Place:
        gone = volts is not None and volts < GONE * nominal_volts(self._show.source.system, circuit.legs[:1])
        answer = headroom(self._show, circuit, load, present, None if gone else volts)
        if gone or answer.rooms[0].present_amps is None:  # behind an open breaker, or not measured: nothing is known
            return Place(circuit.id, None, None, answer.limited_by, answer.not_checked)
        return Place(circuit.id, answer.fits, answer.amps, answer.limited_by, answer.not_checked)

    def _opened(self) -> LogReader:
        if self._reader is None:
            self._reader = LogReader(self._path)
        return self._reader


def _single(value: float | None) -> _Span | None:
    return None if value is None else (value, value, value)


def _joined(samples: Iterable[Sample]) -> tuple[Sample, ...]:
    """Join the legs of a circuit second by second: highest amps, lowest volts."""
    by_second: dict[int, Sample] = {}
    for sample in samples:
        second = sample.time_ms // 1000
        seen = by_second.get(second)
        if seen is None:
            by_second[second] = sample
            continue
        amps = max((s for s in (seen.amps, sample.amps) if s), key=lambda span: span[1], default=None)
        volts = min((s for s in (seen.volts, sample.volts) if s), key=lambda span: span[1], default=None)
        by_second[second] = replace(seen, amps=amps, volts=volts, hertz=seen.hertz or sample.hertz)
    return tuple(by_second[second] for second in sorted(by_second))


def _present(snapshot: Snapshot) -> Present:
    """Give what is measured now; what is not live is left out."""
    amps: dict[Point, float] = {}
    for view in snapshot.circuits:
        if view.measured.live and view.measured.amps is not None:
            amps[Point(view.id)] = view.measured.amps
    places = [(SOURCE_ID, snapshot.source.legs), *((feeder.id, feeder.legs) for feeder in snapshot.feeders)]
    for place, legs in places:
        for leg in legs:
            if leg.measured.live and leg.measured.amps is not None:
                amps[Point(place, leg.leg)] = leg.measured.amps
    source = snapshot.source
    kilowatts = source.kilowatts if source.kilowatts_measured else None
    hot = [leg.measured for leg in source.legs if leg.nominal_volts]
    products = [m.volts * m.amps for m in hot if m.live and m.volts is not None and m.amps is not None]
    kva = sum(products) / 1000 if hot and len(products) == len(hot) else None
    return Present(amps, kilowatts, kva)
