"""Amps against ratings, edges and plan: at every circuit, and at metered legs of feeders and the source."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.alarms.conditions.known import highest
from monitor.alarms.conditions.watch import Watch
from monitor.electrical.headroom import continuous_limit
from monitor.electrical.heat import advance, cold, edges

if TYPE_CHECKING:
    from collections.abc import Sequence

    from monitor.alarms.conditions.known import Known
    from monitor.alarms.conditions.layout import CircuitPlace, Layout, Place
    from monitor.alarms.conditions.tracks import Track
    from monitor.alarms.model import Observation
    from monitor.electrical.heat import Edges, HeatState
    from monitor.show.model import Circuit

_PLAN_SLACK = 1.05  # volts within 5 % of nominal move the amps of what is planned by as much
_MOST_OFF_VOLTS = 1.25  # amps of the plan are scaled by the volts up to this
_NEAR_LIMIT = 0.95  # sentences are made from here on


class _Ratings:
    """The three rules about a rating, at one place.

    Args:
        where: the place.
        label: for people.
        tracks: its legs.
        limits: near, above and far above [A].
        start: how many samples a motor's start may take; 0 where no motor starts.

    """

    def __init__(
        self, where: str, label: str, tracks: Sequence[Track], limits: tuple[float, float, float], start: int
    ) -> None:
        self._label = label
        self._tracks = tracks
        self._start = start
        near, above, far = limits
        self._first = _NEAR_LIMIT * near
        self._near = Watch("near-rating", where, near, (("over-plan", where),))
        self._above = Watch("above-rating", where, above)
        self._far = Watch("far-above-rating", where, far)
        self._rated = ""

    def rated(self, text: str) -> _Ratings:
        """Say what the rating is called in sentences."""
        self._rated = text
        return self

    def observe(self, out: list[Observation]) -> None:
        """Give three observations."""
        amps = highest(track.amps for track in self._tracks)
        if amps is None:
            out += (self._near.unknown, self._above.unknown, self._far.unknown)
            return
        if amps < self._first and not self._start:
            out += (self._near.at(amps), self._above.at(amps), self._far.at(amps))
            return
        lasting = amps
        if self._start:
            lasting = highest(track.lowest_amps(self._start) for track in self._tracks) or 0.0
        least = highest(track.least_amps for track in self._tracks)
        sudden = min(lasting, amps if least is None else least)
        seen = f"{self._label} carries {amps:.1f} A; {self._rated}" if amps >= self._first else ""
        out += (self._near.at(amps, seen), self._above.at(lasting, seen), self._far.at(sudden, seen))


class Ratings:
    """Near, above and far above the rating."""

    def __init__(self, layout: Layout, tracks: Known) -> None:
        show = layout.show
        self._start = round(show.setting("motor_start_seconds")) + 1
        self._watched = [self._circuit(layout, circuit, tracks) for circuit in layout.circuits]
        for place in layout.places.values():
            self._watched += self._legs(layout, place, tracks)

    def observe(self, out: list[Observation]) -> None:
        """Give the observations of every place."""
        for watched in self._watched:
            watched.observe(out)

    def _circuit(self, layout: Layout, place: CircuitPlace, known: Known) -> _Ratings:
        circuit, show = place.circuit, layout.show
        rated = circuit.breaker.amps
        continuous = continuous_limit(circuit.breaker, show.setting("continuous_percent", circuit))
        limits = _limits(layout, circuit, rated, continuous, place.planned_amps)
        tracks = [known.tracks[point] for point in place.points]
        start = self._start if place.motor else 0
        text = f"its breaker is rated {rated:g} A, {limits[0]:.1f} A is the limit for load that stays on"
        return _Ratings(circuit.id, place.label, tracks, limits, start).rated(text)

    def _legs(self, layout: Layout, place: Place, known: Known) -> list[_Ratings]:
        rated, show = place.rated_amps, layout.show
        if rated is None:
            return []
        percent = show.setting("continuous_percent")
        continuous = continuous_limit(place.breaker, percent) if place.breaker else rated * percent / 100
        found = []
        for leg, point in place.own.items():
            limits = _limits(layout, None, rated, continuous, place.planned_amps[leg])
            text = f"it is rated {rated:g} A a leg, {limits[0]:.1f} A is the limit for load that stays on"
            start = self._start if place.motor else 0
            found.append(
                _Ratings(str(point), f"{leg} of {place.label}", [known.tracks[point]], limits, start).rated(text)
            )
        return found


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

    def __init__(self, layout: Layout) -> None:
        self._watched = [
            (circuit, drawn, Watch("heat-past-late", circuit.circuit.id, 100.0))
            for circuit in layout.circuits
            if (drawn := edges(circuit.circuit.breaker)).late is not None
        ]
        self.states: dict[str, HeatState] = {c.circuit.id: cold(drawn) for c, drawn, _ in self._watched}

    def observe(self, known: Known, out: list[Observation]) -> None:
        """Carry every circuit's amps on, and give the observations."""
        for circuit, drawn, watch in self._watched:
            id_ = circuit.circuit.id
            amps = None if known.resumed else known.circuit_amps(circuit)
            state = self.states[id_]
            if amps is None or not self._stays_cold(state, drawn, amps):
                state = self.states[id_] = advance(state, drawn, amps, known.elapsed_s)
            out.append(self._one(circuit, watch, state, amps))

    @staticmethod
    def _stays_cold(state: HeatState, drawn: Edges, amps: float) -> bool:
        """Say whether nothing would change: a short cut for the usual case."""
        first = drawn.late[0][0] if drawn.late else 0.0
        if drawn.early:
            first = min(first, drawn.early[0][0])
        return (
            not state.fastest and not state.slowest and not state.unknown_s and amps < 0.99 * first * drawn.rated_amps
        )

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


class OverPlan:
    """Amps above what is planned at the volts that are there; nothing where the show plans no load at all."""

    def __init__(self, layout: Layout, known: Known) -> None:
        setting = layout.show.setting
        self._watched = [
            (
                circuit,
                [known.tracks[point] for point in circuit.points],
                Watch("over-plan", circuit.circuit.id, limit, _worse(circuit)),
            )
            for circuit in (layout.circuits if layout.planned else ())
            for limit in (max(setting("over_plan_amps", circuit.circuit), (_PLAN_SLACK - 1) * circuit.planned_amps),)
        ]
        self._start = round(setting("motor_start_seconds")) + 1

    def observe(self, out: list[Observation]) -> None:
        """Give the observations of every circuit."""
        for circuit, tracks, watch in self._watched:
            amps = highest(track.amps for track in tracks)
            if amps is None:
                out.append(watch.unknown)
                continue
            if circuit.motor:
                amps = min(amps, highest(track.lowest_amps(self._start) for track in tracks) or 0.0)
            planned = circuit.planned_amps * _off_volts(tracks[0])
            over = amps - planned
            seen = ""
            if over > _NEAR_LIMIT * watch.limit:
                seen = (
                    f"{circuit.label} carries {amps:.1f} A where {planned:.1f} A are planned at these volts:"
                    f" {over:.1f} A more; limit {watch.limit:.1f} A more"
                )
            out.append(watch.at(over, seen))


def _worse(circuit: CircuitPlace) -> tuple[tuple[str, str], ...]:
    return tuple((code, circuit.circuit.id) for code in ("far-above-rating", "above-rating"))


def _off_volts(track: Track) -> float:
    """Give by how much planned amps may stand above their nominal ones at the volts that are there [1].

    Electronic loads and motors draw more at low volts, lamps and heaters at high ones; which of them is on isn't known.
    """
    volts = track.serving_volts
    if volts is None or volts <= 0:
        return 1.0
    return min(max(volts / track.nominal, track.nominal / volts), _MOST_OFF_VOLTS)
