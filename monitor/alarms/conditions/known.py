"""What is known at one moment: every point's track, the volts at each place, and what may ride through."""

from __future__ import annotations

from collections import deque
from statistics import median
from typing import TYPE_CHECKING

from monitor.alarms.conditions.tracks import Service, Track
from monitor.electrical.generator import leg_rating
from monitor.electrical.supply import performance
from monitor.show.model import SOURCE_ID

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from monitor.alarms.conditions.layout import Layout, Place
    from monitor.alarms.model import Now, PointNow

_AT_SPEED = 0.05  # of nominal hertz: further off, a set is still coming up (a judgement)
_STEP = 0.05  # of the source's rating: a smaller load step moves volts and hertz by next to nothing
_STEP_AMPS = 5.0  # where there is no rating
_LOOK_BACK = 4  # moments over which a step may spread, by meters read one after another
_LOOSEST = "G1"  # class of a set whose papers don't name one
_MOTOR_EXCESS = 1.3  # of the plan: a motor circuit that takes more is starting


class Known:
    """Everything known at one moment, with what the moments before it left behind.

    Args:
        layout: of the show.

    Attributes:
        time_ms: the log's clock [ms].
        elapsed_s: since the moment before [s]; 0 at the first.
        resumed: nothing is known of that time.
        tracks: by point.
        hertz: of the source, from its own points where they measure it, else from any [Hz]; None where none does.

    """

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.tracks = {point: Track(point, layout.nominal(point)) for point in layout.show.points()}
        self.time_ms = 0
        self.elapsed_s = 0.0
        self.resumed = True
        self.hertz: float | None = None
        self._by_source = sorted(self.tracks.values(), key=lambda t: t.point.place != SOURCE_ID)
        self._motors = [(c, [self.tracks[p] for p in c.points]) for c in layout.circuits if c.motor]
        self._starting: set[str] = set()
        self._motor_ms = self._on_ms = self._off_ms = -(10**9)
        self._totals: deque[float] = deque(maxlen=_LOOK_BACK)
        self._motor_s = layout.show.setting("motor_start_seconds")
        source = layout.show.source
        rating = leg_rating(source)
        self._step_amps = _STEP * rating * len(source.legs) if rating else _STEP_AMPS
        self._class = performance(source.performance_class) or performance(_LOOSEST)
        self._generator = source.kind == "generator"
        own = layout.places[SOURCE_ID].own
        summed = list(own.values()) if len(own) == len(source.legs) else [c.points[0] for c in layout.circuits]
        self._summed = [self.tracks[point] for point in summed]

    def take(self, now: Now) -> None:
        """Take one moment."""
        self.elapsed_s = (now.time_ms - self.time_ms) / 1000 if self.time_ms else 0.0
        self.resumed = now.resumed or not self.time_ms
        self.time_ms = now.time_ms
        for track in self.tracks.values() if self.resumed else ():
            track.forget()
        for point, track in self.tracks.items():
            known: PointNow | None = now.points.get(point)
            if known is not None:
                track.take(known, now.time_ms)
        self.hertz = self._source_hertz()
        nominal = self.layout.show.source.hertz
        at_speed = self.hertz is None or abs(self.hertz / nominal - 1) <= _AT_SPEED
        for track in self.tracks.values():
            track.serve(now.time_ms, at_speed=at_speed)
        self._follow_steps()

    def leg_volts(self, place: Place, leg: str, *, settled: bool = True) -> float | None:
        """Give the volts of a place's leg: its own meter's, else the middle of the circuits that hang right on it [V].

        None where nothing there is read and in service. ``settled`` False takes last samples.
        """
        if leg in place.own:
            track = self.tracks[place.own[leg]]
            return track.settled_volts if settled else track.volts
        found = [
            volts
            for circuit in place.circuits
            for at, point in circuit.on_leg
            if at == leg
            and (track := self.tracks[point]).service is Service.IN
            and (volts := track.settled_volts if settled else track.volts) is not None
        ]
        return median(found) if found else None

    def leg_amps(self, place: Place, leg: str) -> float | None:
        """Give the amps on a place's leg: its own meter's, else the sum of its circuits, a lower bound [A]."""
        if leg in place.own:
            return self.tracks[place.own[leg]].settled_amps
        on_leg = [c for c in place.below if leg in c.circuit.legs]
        points = [dict(c.on_leg).get(leg, c.points[0]) for c in on_leg]
        known = [amps for point in points if (amps := self.tracks[point].settled_amps) is not None]
        return sum(known) if known else None

    @property
    def ride_low_s(self) -> float:
        """For how long low volts may last now: a motor's start, or a load step within the set's class [s]."""
        return max(self._riding(self._motor_ms, self._motor_s), self._riding(self._on_ms, self._recovery_s))

    @property
    def ride_high_s(self) -> float:
        """For how long high volts may last now: a load that went off, within the set's class [s]."""
        return self._riding(self._off_ms, self._recovery_s)

    @property
    def _recovery_s(self) -> float:
        return self._class.recovery_volts_s if self._generator and self._class else 0.0

    def _riding(self, since_ms: int, seconds: float) -> float:
        return seconds if self.time_ms - since_ms <= 1000 * (seconds + 1) else 0.0

    def _source_hertz(self) -> float | None:
        for track in self._by_source:
            if track.values is not None and track.values.hertz and (track.volts is None or track.volts >= track.low):
                return track.values.hertz
        return None

    def _follow_steps(self) -> None:
        if self.resumed:
            self._totals.clear()
        total = sum(track.amps for track in self._summed if track.amps is not None)
        if self._totals:
            if total - min(self._totals) >= self._step_amps:
                self._on_ms = self.time_ms
            if max(self._totals) - total >= self._step_amps:
                self._off_ms = self.time_ms
        self._totals.append(total)
        for circuit, tracks in self._motors:
            amps = highest_amps(tracks)
            if amps is None or amps <= max(_MOTOR_EXCESS * circuit.planned_amps, 1.0):
                self._starting.discard(circuit.circuit.id)
            elif circuit.circuit.id not in self._starting:
                self._starting.add(circuit.circuit.id)
                self._motor_ms = self.time_ms


def highest(values: Iterable[float | None]) -> float | None:
    """Give the highest value; None unless all are known."""
    found = None
    for value in values:
        if value is None:
            return None
        if found is None or value > found:
            found = value
    return found


def highest_amps(tracks: Sequence[Track]) -> float | None:
    """Give the highest leg's last amps [A]; None unless every leg is known."""
    return tracks[0].amps if len(tracks) == 1 else highest([track.amps for track in tracks])
