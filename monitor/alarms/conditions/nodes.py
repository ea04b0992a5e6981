"""Where volts are judged: points with a meter, and places or legs that several of them speak for together."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import sqrt
from typing import TYPE_CHECKING

from monitor.alarms.conditions.layout import parents
from monitor.alarms.conditions.watch import Watch
from monitor.electrical.loads import LEG_TO_NEUTRAL
from monitor.show.model import Point

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from monitor.alarms.conditions.known import Known
    from monitor.alarms.conditions.layout import CircuitPlace, Layout, Place
    from monitor.alarms.conditions.tracks import Track
    from monitor.show.model import System

SPEAKERS = 2  # branches, or legs, that it takes to speak for what is above them
_LEG_TO_LEG = 1.5  # of leg to neutral: more is read between two legs
_BREAKS = ("lost-neutral", "lost-leg", "feeder-lost", "wrong-service")
_OPENED = ("circuit-opened", "wrong-service")


@dataclass(slots=True)
class Node:
    """One place where volts are judged.

    Attributes:
        whom: what reads, as the subject of a sentence; "at most" or "at least" goes with several.
        nominal: [V].
        low: the rule about low volts here.
        high: the rule about high volts.
        far: the rule about volts lost on the way, where anything above is metered.
        system: voltage system.
        tracks: one, or those of all that speak for it.
        branches: of each of several.
        upstream: label and legs of every metered place above, nearest first.

    """

    whom: str
    nominal: float
    low: Watch
    high: Watch
    far: Watch | None
    system: System
    tracks: list[Track]
    branches: list[str] = field(default_factory=list)
    upstream: list[tuple[str, list[Track]]] = field(default_factory=list)

    def upper(self, least: float) -> tuple[str, float] | None:
        """Give the nearest metered place above that reads at least so much over the same legs, and its volts [V]."""
        for label, tracks in self.upstream:
            volts = [v for track in tracks if (v := track.serving_volts) is not None]
            if len(volts) == len(tracks):
                there = self._across(volts)
                if there >= least:
                    return label, there
        return None

    def _across(self, volts: list[float]) -> float:
        """Give the volts between two legs [V], at the system's angle; the lowest where each leg is read by itself."""
        if self.nominal < _LEG_TO_LEG * LEG_TO_NEUTRAL[self.system]:
            return min(volts)
        first, second = volts[:2]
        return first + second if self.system == "120/240" else sqrt(first**2 + second**2 + first * second)


class Builder:
    """Finds the nodes of a show."""

    def __init__(self, layout: Layout, known: Known) -> None:
        self._layout = layout
        self._known = known

    def nodes(self) -> Iterator[Node]:
        """Give every node, places before what hangs under them."""
        for place in self._layout.places.values():
            if len(place.legs) > 1:
                yield from self._whole(place)
            for leg in place.legs:
                yield from self._leg(place, leg)
        for circuit in self._layout.circuits:
            for point in circuit.points:
                yield self._point(circuit, point)

    def _point(self, circuit: CircuitPlace, point: Point) -> Node:
        legs = (point.leg,) if point.leg else circuit.circuit.legs
        above = [*circuit.up, *(str(Point(place, leg)) for place in circuit.up for leg in legs)]
        breaks = (*parents(_BREAKS, circuit.up), *parents(_OPENED, (circuit.circuit.id,)))
        label = circuit.label if not point.leg else f"{point.leg} of {circuit.label}"
        names = (str(point), f"{label} reads")
        return self._node(names, [self._known.tracks[point]], legs, (circuit.up, above, breaks), circuit)

    def _whole(self, place: Place) -> Iterator[Node]:
        """Give a place whose legs may all be off together, by a regulator or by the run."""
        tracks, branches = [], []
        for leg in place.legs:
            found, hung = self._speakers(place, leg)
            if not found:
                return
            tracks += found
            branches += hung or [leg]
        if len(set(branches)) >= SPEAKERS:
            breaks = parents(_BREAKS, (place.id, *place.up))
            names = (place.id, f"every leg of {place.label} reads")
            node = self._node(names, tracks, place.legs, (place.up, [*place.up], breaks))
            node.branches = branches
            yield node

    def _leg(self, place: Place, leg: str) -> Iterator[Node]:
        tracks, branches = self._speakers(place, leg)
        if not tracks or (branches and len(set(branches)) < SPEAKERS):
            return
        where = str(Point(place.id, leg))
        above = [place.id, *place.up, *(str(Point(up, leg)) for up in place.up)]
        breaks = parents(_BREAKS, (place.id, *place.up))
        whom = f"{leg} of {place.label} reads" if not branches else f"every circuit on {leg} of {place.label} reads"
        node = self._node((where, whom), tracks, (leg,), (place.up, above, breaks))
        node.branches = branches
        yield node

    def _speakers(self, place: Place, leg: str) -> tuple[list[Track], list[str]]:
        """Give what reads a leg of a place: its own meter; else its circuits, each with the branch it hangs on."""
        if leg in place.own:
            return [self._known.tracks[place.own[leg]]], []
        tracks, branches = [], []
        for circuit in place.below:
            inside = circuit.up[: circuit.up.index(place.id)]
            for at, point in circuit.on_leg:
                if at == leg:
                    tracks.append(self._known.tracks[point])
                    branches.append(inside[-1] if inside else circuit.circuit.id)
        return tracks, branches

    def _node(
        self,
        names: tuple[str, str],
        tracks: list[Track],
        legs: tuple[str, ...],
        explained: tuple[Iterable[str], list[str], tuple[tuple[str, str], ...]],
        circuit: CircuitPlace | None = None,
    ) -> Node:
        """Make a node.

        Args:
            names: where, and who reads.
            tracks: what speaks for it.
            legs: that it is read on.
            explained: places above, places whose volts would explain its, and what else would.
            circuit: whose own settings count, or None.

        """
        (where, whom), (up, above, breaks) = names, explained
        volts = circuit.nominal if circuit else self._layout.leg_volts
        own = circuit.circuit if circuit else None
        show = self._layout.show
        low, high = (volts * show.setting(f"volts_{side}_percent", own) / 100 for side in ("low", "high"))
        upstream = list(self._above(up, legs))
        run = (*parents(("volts-low", "volts-far-low"), above), *breaks)
        return Node(
            whom=whom,
            nominal=volts,
            low=Watch("volts-low", where, low, run),
            high=Watch("volts-high", where, high, (*parents(("volts-high",), above), *breaks)),
            far=Watch("volts-far-low", where, low, run) if upstream else None,
            system=show.source.system,
            tracks=tracks,
            upstream=upstream,
        )

    def _above(self, up: Iterable[str], legs: tuple[str, ...]) -> Iterator[tuple[str, list[Track]]]:
        for id_ in up:
            place = self._layout.places[id_]
            if set(legs) <= set(place.own):
                label = f"{' and '.join(legs)} of {place.label}"
                yield label, [self._known.tracks[place.own[leg]] for leg in legs]
