"""The wrong service at first power, before any load."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.alarms.conditions.layout import parents
from monitor.alarms.conditions.watch import Watch
from monitor.electrical.wiring import wrong_service

if TYPE_CHECKING:
    from collections.abc import Sequence

    from monitor.alarms.conditions.known import Known
    from monitor.alarms.conditions.layout import Layout, Place
    from monitor.alarms.conditions.tracks import Track
    from monitor.alarms.model import Observation
    from monitor.show.model import System

_GROUP = 2
_GOOD = (0.9, 1.1)  # of nominal, as ``monitor.electrical.wiring.wrong_service`` has it


class _Spot:
    """A circuit, or a place with meters of its own."""

    def __init__(self, where: str, label: str, tracks: Sequence[Track], up: tuple[str, ...]) -> None:
        self.label = label
        self.tracks = tracks
        self.watch = Watch("wrong-service", where, parents=parents(("wrong-service",), up))
        self.seen: str | None = None
        self.known = False
        self.live = False

    def look(self, system: System, leg_volts: float) -> None:
        """Judge each point by the volts at which it came into service; what is wrong stays so while its volts are."""
        self.known = self.live = False
        wrong = []
        for track in self.tracks:
            self.known = self.known or track.values is not None
            if track.serving_volts is not None:
                self.live = True
                if track.first_volts is not None and (sentence := _wrong(system, leg_volts, track)):
                    wrong.append(sentence)
        self.seen = f"{self.label}: {'; '.join(wrong)}" if wrong else None

    def observe(self) -> Observation:
        """Give its observation."""
        return self.watch.state(self.seen) if self.known else self.watch.unknown


class WrongService:
    """At every circuit, every metered place, and places that two circuits or more speak for."""

    def __init__(self, layout: Layout, known: Known) -> None:
        self._system: System = layout.show.source.system
        self._leg_volts = layout.leg_volts
        self._circuits = {
            circuit.circuit.id: _Spot(
                circuit.circuit.id, circuit.label, [known.tracks[point] for point in circuit.points], circuit.up
            )
            for circuit in layout.circuits
        }
        self._metered = [
            _Spot(place.id, place.label, [known.tracks[point] for point in place.own.values()], place.up)
            for place in layout.places.values()
            if place.own
        ]
        self._others = [
            (place, Watch("wrong-service", place.id, parents=parents(("wrong-service",), place.up)))
            for place in layout.places.values()
            if not place.own and len(branches(place)) >= _GROUP
        ]

    def observe(self, out: list[Observation]) -> None:
        """Give the observations."""
        for spot in (*self._circuits.values(), *self._metered):
            spot.look(self._system, self._leg_volts)
            out.append(spot.observe())
        for place, watch in self._others:
            out.append(self._together(place, watch))

    def _together(self, place: Place, watch: Watch) -> Observation:
        """Observe a place without meters: it shows where all its circuits in service do, two or more."""
        spots = [self._circuits[circuit.circuit.id] for circuit in place.below]
        live = [spot for spot in spots if spot.live]
        if not live:
            return watch.state(None) if any(spot.known for spot in spots) else watch.unknown
        wrong = [spot for spot in live if spot.seen]
        shown = len(wrong) == len(live) and len(wrong) >= _GROUP
        return watch.state(f"every circuit with power under {place.label}: {wrong[0].seen}" if shown else None)


def branches(place: Place) -> frozenset[str]:
    """Give what hangs right on a place and leads to metered circuits: circuits, and feeders further down."""
    found = set()
    for circuit in place.below:
        inside = circuit.up[: circuit.up.index(place.id)]
        found.add(inside[-1] if inside else circuit.circuit.id)
    return frozenset(found)


def _wrong(system: System, leg_volts: float, track: Track) -> str | None:
    first, now = track.first_volts, track.serving_volts
    if first is None or now is None:
        return None
    low, high = (limit * track.nominal for limit in _GOOD)
    if low <= first <= high or low <= now <= high:
        return None
    if track.nominal == leg_volts:
        leg = track.point.leg or str(track.point)
        return "; ".join(sign.text for sign in wrong_service(system, {leg: first}, {}))
    return (
        f"{track.point} reads {first:.1f} V without load where {track.nominal:.0f} V are planned:"
        " reading is outside the plan"
    )
