"""Amps against ratings, edges and plan: at every circuit, and at metered legs of feeders and the source."""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING

from monitor.alarms.conditions.known import highest, highest_amps
from monitor.alarms.conditions.layout import parents
from monitor.alarms.conditions.past import loads
from monitor.alarms.conditions.watch import Watch
from monitor.electrical.headroom import continuous_limit
from monitor.electrical.heat import advance, cold, edges
from monitor.show.model import SOURCE_ID

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from monitor.alarms.conditions.known import Known
    from monitor.alarms.conditions.layout import CircuitPlace, Layout, Place
    from monitor.alarms.conditions.past import PointMinute
    from monitor.alarms.conditions.tracks import Track
    from monitor.alarms.model import Observation
    from monitor.electrical.heat import Edges, HeatState
    from monitor.show.model import Circuit, Point

_PLAN_SLACK = 1.05  # volts within 5 % of nominal move the amps of what is planned by as much
_MOST_OFF_VOLTS = 1.25  # amps of the plan are scaled by the volts up to this
_OVER = ("far-above-rating", "above-rating", "near-rating")
_SPIKE = 2  # samples: one of them alone says no more than that moment (see ``_Ratings``)
_SILENT_MS = 2000
_NEAR_LIMIT = 0.95  # sentences are made from here on


class _Ratings:
    """The three rules about a rating, at one place.

    Far above begins with the first sample that is: its on-delay runs from there, and an inrush is over before it ends.
    Two seconds without a new sample don't carry it on: then the last two samples decide, so that one odd sample with
    silence after it is no alarm.

    Args:
        where: the place.
        texts: who carries, and what the limits are.
        tracks: its legs.
        limits: near, above and far above [A].
        starts: how many samples a motor's start may take for above and far above; 1 where no motor starts.
        explained: what would explain that it is near its rating.

    """

    def __init__(
        self,
        where: str,
        texts: tuple[str, str],
        tracks: Sequence[Track],
        limits: tuple[float, float, float],
        starts: tuple[int, int],
        explained: tuple[tuple[str, str], ...] = (),
    ) -> None:
        self.where, self.close = where, False
        self._whom, self._rated = texts
        self._tracks = tracks
        self._starts = starts
        near, above, far = limits
        self._first = _NEAR_LIMIT * near
        self._near = Watch("near-rating", where, near, explained)
        self._above = Watch("above-rating", where, above)
        self._far = Watch("far-above-rating", where, far)

    def observe(self, time_ms: int, out: list[Observation]) -> None:
        """Give three observations."""
        amps = highest_amps(self._tracks)
        self.close = amps is not None and amps >= self._first
        if amps is None:
            out += (self._near.unknown, self._above.unknown, self._far.unknown)
            return
        if amps < self._first:
            out += (self._near.at(amps), self._above.at(amps), self._far.at(amps))
            return
        above, far = self._starts
        if far == 1 and all(time_ms - track.heard_ms >= _SILENT_MS for track in self._tracks):
            far = _SPIKE
        lasting, sudden = (highest([track.lowest_amps(n) for track in self._tracks]) or 0.0 for n in (above, far))
        seen = f"{self._whom} carries {amps:.1f} A; {self._rated}; limit"
        rules = ((self._near, amps), (self._above, lasting), (self._far, sudden))
        out += [watch.at(value, f"{seen} {watch.limit:.1f} A") for watch, value in rules]


class Ratings:
    """Near, above and far above the rating: amps of every sample, but for motors' starts."""

    @property
    def close(self) -> Iterator[str]:
        """Give the places that are within a few percent of the first of their limits, or above it."""
        return (watched.where for watched in self._watched if watched.close)

    def __init__(self, layout: Layout, known: Known) -> None:
        self._layout, self._known = layout, known
        start_s = layout.show.setting("motor_start_seconds")
        delays = [layout.show.setting(f"{rule}_rating_on_seconds") for rule in ("above", "far_above")]
        # The rules' own delays count too: what is shorter than they are needs no more.
        above, far = (max(1, ceil(start_s - delay) + 2) for delay in delays)
        self._starts = {False: (1, 1), True: (above, far)}
        self._watched = [self._circuit(circuit) for circuit in layout.circuits]
        for place in layout.places.values():
            if place.rated_amps is not None:
                self._watched += self._legs(place, place.rated_amps)

    def observe(self, out: list[Observation]) -> None:
        """Give the observations of every place."""
        for watched in self._watched:
            watched.observe(self._known.time_ms, out)

    def _circuit(self, place: CircuitPlace) -> _Ratings:
        circuit, show = place.circuit, self._layout.show
        rated = circuit.breaker.amps
        continuous = continuous_limit(circuit.breaker, show.setting("continuous_percent", circuit))
        limits = _limits(self._layout, circuit, rated, continuous, place.planned_amps)
        tracks = [self._known.tracks[point] for point in place.points]
        text = f"its breaker is rated {rated:g} A"
        starts = self._starts[place.motor]
        return _Ratings(circuit.id, (place.label, text), tracks, limits, starts, _off_volts_by(place.up))

    def _legs(self, place: Place, rated: float) -> Iterator[_Ratings]:
        percent = self._layout.show.setting("continuous_percent")
        continuous = continuous_limit(place.breaker, percent) if place.breaker else rated * percent / 100
        explained = tuple((code, SOURCE_ID) for code in ("source-kw", "source-kva") if place.id == SOURCE_ID)
        explained = (*explained, *_off_volts_by((place.id, *place.up)))
        for leg, point in place.own.items():
            limits = _limits(self._layout, None, rated, continuous, place.planned_amps[leg])
            text = f"it is rated {rated:g} A a leg"
            tracks = [self._known.tracks[point]]
            texts = (f"{leg} of {place.label}", text)
            yield _Ratings(str(point), texts, tracks, limits, self._starts[place.motor], explained)


def _limits(
    layout: Layout, circuit: Circuit | None, rated: float, continuous: float, planned: float
) -> tuple[float, float, float]:
    """Give the limits for near, above and far above [A].

    Near: the site's continuous limit, and a little before the rating where that limit is the rating itself; but not
    below what the plan itself puts there, of which the plan has told.
    """
    show = layout.show
    above = rated * show.setting("rating_percent", circuit) / 100
    near = min(continuous, rated * show.setting("near_rating_percent", circuit) / 100)
    near = min(max(near, _PLAN_SLACK * planned), above)
    return near, above, rated * show.setting("far_above_rating_percent", circuit) / 100


class Heat:
    """How far each circuit's load has come along its breaker's edges.

    Attributes:
        states: by circuit.

    """

    def __init__(self, layout: Layout, known: Known) -> None:
        self._watched = [
            (circuit, drawn, [known.tracks[point] for point in circuit.points], _cool_amps(drawn))
            for circuit in layout.circuits
            if (drawn := edges(circuit.circuit.breaker)).late is not None
        ]
        self._points = frozenset(point for circuit, _, _, _ in self._watched for point in circuit.points)
        self._watches = {
            circuit.circuit.id: Watch("heat-past-late", circuit.circuit.id, 100.0) for circuit in layout.circuits
        }
        self.states: dict[str, HeatState] = {c.circuit.id: cold(drawn) for c, drawn, _, _ in self._watched}

    def recall(self, minutes: Mapping[Point, PointMinute]) -> None:
        """Carry circuits through a minute of the past: those of which it tells anything."""
        if self._points.isdisjoint(minutes):
            return
        for circuit, drawn, _, cool_amps in self._watched:
            id_ = circuit.circuit.id
            if any(point in minutes for point in circuit.points):
                for amps, seconds in loads(circuit.points, minutes):
                    state = self.states[id_]
                    if amps is None or amps > cool_amps or state.slowest or state.fastest or state.unknown_s:
                        self.states[id_] = advance(state, drawn, amps, seconds)

    def observe(self, known: Known, out: list[Observation]) -> None:
        """Carry every circuit's amps on, and give the observations."""
        for circuit, drawn, tracks, cool_amps in self._watched:
            id_ = circuit.circuit.id
            amps = None if known.resumed else highest_amps(tracks)
            state = self.states[id_]
            if amps is None or amps > cool_amps or state.slowest or state.fastest or state.unknown_s:
                state = self.states[id_] = advance(state, drawn, amps, known.elapsed_s)
            out.append(self._one(circuit, self._watches[id_], state, amps))

    @staticmethod
    def _one(circuit: CircuitPlace, watch: Watch, state: HeatState, amps: float | None) -> Observation:
        if amps is None or state.slowest is None:
            return watch.unknown
        value = 100 * state.slowest
        if value < _NEAR_LIMIT * watch.limit:
            return watch.at(value)
        rated = circuit.circuit.breaker.amps
        return watch.at(
            value,
            f"{circuit.label} carries {amps:.1f} A on a {rated:g} A breaker; its load so far has gone {value:.0f} % of"
            " the way along the line drawn through the latest times of the breaker's standard, and it has not opened",
        )


def _cool_amps(drawn: Edges) -> float:
    """Give the amps up to which nothing changes in a cold breaker [A]."""
    firsts = [edge[0][0] for edge in (drawn.early, drawn.late) if edge]
    return 0.99 * min(firsts) * drawn.rated_amps


class OverPlan:
    """Amps above what is planned at the volts that are there; nothing where the show plans no load at all.

    What goes over the plan and over the rating at once is one cause: it is told with the rating.
    """

    def __init__(self, layout: Layout, known: Known) -> None:
        setting = layout.show.setting
        self._watched = [
            (
                circuit,
                [known.tracks[point] for point in circuit.points],
                Watch("over-plan", circuit.circuit.id, limit, _explained(circuit)),
            )
            for circuit in (layout.circuits if layout.planned else ())
            for limit in (max(setting("over_plan_amps", circuit.circuit), (_PLAN_SLACK - 1) * circuit.planned_amps),)
        ]
        self._start = max(1, ceil(setting("motor_start_seconds") - setting("over_plan_on_seconds")) + 2)

    def observe(self, out: list[Observation]) -> None:
        """Give the observations of every circuit."""
        for circuit, tracks, watch in self._watched:
            amps = highest_amps(tracks)
            if amps is None:
                out.append(watch.unknown)
                continue
            if circuit.motor:
                amps = highest([track.lowest_amps(self._start) for track in tracks]) or 0.0
            planned = circuit.planned_amps * _off_volts(tracks[0])
            over = amps - planned
            seen = ""
            if over > _NEAR_LIMIT * watch.limit:
                seen = (
                    f"{circuit.label} carries {amps:.1f} A where {planned:.1f} A are planned at these volts:"
                    f" {over:.1f} A more; limit {watch.limit:.1f} A more"
                )
            out.append(watch.at(over, seen))


def _explained(circuit: CircuitPlace) -> tuple[tuple[str, str], ...]:
    return (*((code, circuit.circuit.id) for code in _OVER), *_off_volts_by(circuit.up))


def _off_volts_by(up: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    """Give what puts volts far off and so explains that loads draw more than they should."""
    return parents(("lost-neutral", "wrong-service"), up)


def _off_volts(track: Track) -> float:
    """Give by how much planned amps may stand above their nominal ones at the volts that are there [1].

    Electronic loads and motors draw more at low volts, lamps and heaters at high ones; which of them is on isn't known.
    """
    volts = track.serving_volts
    if volts is None or volts <= 0:
        return 1.0
    return min(max(volts / track.nominal, track.nominal / volts), _MOST_OFF_VOLTS)
