"""Volts against the region's limits: at metered legs and circuits, and at places that all their circuits speak for.

An unmetered place with two circuits or boxes under it is watched too: for low volts by the *highest* of its circuits,
for high volts by the lowest. Where even that one is beyond the limit all of them are, and they are told as one.

Low volts are the run's where a metered leg further up stands within the limits and more of what is missing is lost
between the two than is missing there already: then ``volts-far-low`` speaks at the usual limit, and ``volts-low`` only
at a deeper one.
"""

from __future__ import annotations

from math import sqrt
from typing import TYPE_CHECKING

from monitor.alarms.conditions.layout import parents
from monitor.alarms.conditions.watch import Watch
from monitor.electrical.loads import LEG_TO_NEUTRAL
from monitor.electrical.supply import source_or_run
from monitor.show.model import Point

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from monitor.alarms.conditions.known import Known
    from monitor.alarms.conditions.layout import CircuitPlace, Layout, Place
    from monitor.alarms.conditions.tracks import Track
    from monitor.alarms.model import Observation
    from monitor.show.model import Circuit, System

_LEG_TO_LEG = 1.5  # of leg to neutral: more is read between two legs
_BREAKS = ("lost-neutral", "lost-leg", "feeder-lost", "wrong-service")
_MARGIN = 1.01  # sentences are made within 1 % of a limit
_GROUP = 2


class _Node:
    """One point, or one leg of an unmetered place.

    Args:
        layout: of the show.
        where: its name.
        legs: of the source's, that it hangs on.
        up: places above it, nearest first.
        circuit: whose own settings count, or None.

    """

    def __init__(
        self,
        layout: Layout,
        where: str,
        legs: tuple[str, ...],
        up: tuple[str, ...],
        circuit: CircuitPlace | None = None,
    ) -> None:
        own = circuit.circuit if circuit else None
        self.nominal = circuit.nominal if circuit else layout.leg_volts
        self.where = where
        self.label = f"{circuit.label}" if circuit else f"{where}"
        self.system: System = layout.show.source.system
        low, high, deep = _limits(layout, self.nominal, own)
        above = [str(Point(place, leg)) for place in up for leg in legs]
        here = (own.id,) if own else (where.partition("/")[0],)
        breaks = (*parents(_BREAKS, up), *parents(_BREAKS[:2] if own else _BREAKS, here))
        opened = parents(("circuit-opened", "wrong-service"), here) if own else ()
        self.low = Watch("volts-low", where, low, (*parents(("volts-low", "volts-far-low"), above), *breaks, *opened))
        self.high = Watch("volts-high", where, high, (*parents(("volts-high",), above), *breaks, *opened))
        self.far: Watch | None = None
        self.deep = deep
        self.tracks: list[Track] = []  # one, or those of all circuits that speak for it
        self.branches: list[str] = []
        self.upstream: list[tuple[str, list[Track]]] = []
        if any(place in layout.places and set(legs) <= set(layout.places[place].own) for place in up):
            far = parents(("volts-low", "volts-far-low"), above)
            self.far = Watch("volts-far-low", where, low, (*far, *breaks, *opened))


class Volts:
    """Low, high and far-end volts."""

    def __init__(self, layout: Layout, known: Known) -> None:
        self._nodes = [*_places(layout, known), *_circuits(layout, known)]

    def observe(self, known: Known, out: list[Observation]) -> None:
        """Give the observations of every node."""
        low_samples, high_samples = int(known.ride_low_s), int(known.ride_high_s)
        for node in self._nodes:
            if not node.branches:
                track = node.tracks[0]
                volts = track.serving_volts
                low = high = volts
                if volts is not None and low_samples:
                    low = max(list(track.recent_volts)[-low_samples - 1 :])
                if volts is not None and high_samples:
                    high = min(list(track.recent_volts)[-high_samples - 1 :])
            else:
                low, high = _together(node, low_samples, high_samples)
            self._low(node, low, out)
            self._high(node, high, out)

    @staticmethod
    def _high(node: _Node, volts: float | None, out: list[Observation]) -> None:
        watch = node.high
        if volts is None:
            out.append(watch.unknown)
        elif volts * _MARGIN < watch.limit:
            out.append(watch.at(volts))
        else:
            whom = f"every circuit under {node.where} reads at least" if node.branches else f"{node.label} reads"
            out.append(
                watch.at(volts, f"{whom} {volts:.1f} V; limit {watch.limit:.1f} V, nominal {node.nominal:.0f} V")
            )

    def _low(self, node: _Node, volts: float | None, out: list[Observation]) -> None:
        watch, far = node.low, node.far
        if volts is None:
            out += (watch.unknown, far.unknown) if far else (watch.unknown,)
            return
        if volts > watch.limit * _MARGIN:
            out += (watch.at(volts), far.at(volts)) if far else (watch.at(volts),)
            return
        whom = f"every circuit under {node.where} reads at most" if node.branches else f"{node.label} reads"
        seen = f"{whom} {volts:.1f} V; limit {watch.limit:.1f} V, nominal {node.nominal:.0f} V"
        upper = _upstream(node) if far else None
        if far is None or upper is None:
            out += (watch.at(volts, seen), far.unknown) if far else (watch.at(volts, seen),)
            return
        place, there = upper
        shares = source_or_run(volts, there, node.nominal)
        run = shares is not None and there >= watch.limit and shares.larger == "run"
        if volts >= watch.limit or not run:
            out += (watch.at(volts, seen), far.at(volts) if volts >= watch.limit else far.unknown)
            return
        seen = f"{seen}, while {place} stands at {there:.1f} V"
        deep = f"{whom} {volts:.1f} V; limit {node.deep:.1f} V, while {place} stands at {there:.1f} V"
        out += (watch.at(volts, deep, node.deep), far.at(volts, seen))


def _together(node: _Node, low_samples: int, high_samples: int) -> tuple[float | None, float | None]:
    """Give the highest and lowest volts of the circuits that speak for a place; None from fewer than two branches."""
    speaking = [
        (branch, track)
        for branch, track in zip(node.branches, node.tracks, strict=True)
        if track.serving_volts is not None
    ]
    if len({branch for branch, _ in speaking}) < _GROUP:
        return None, None
    if not low_samples and not high_samples:
        volts = [track.settled_volts or 0.0 for _, track in speaking]
        return max(volts), min(volts)
    recent = [list(track.recent_volts) for _, track in speaking]
    return max(max(volts[-low_samples - 1 :]) for volts in recent), min(
        min(volts[-high_samples - 1 :]) for volts in recent
    )


def _upstream(node: _Node) -> tuple[str, float] | None:
    """Give the nearest metered place above and its volts over the same legs [V]; None where nothing is read there."""
    for place, tracks in node.upstream:
        volts = [track.serving_volts for track in tracks]
        known = [v for v in volts if v is not None]
        if len(known) == len(volts):
            return place, known[0] if node.nominal < _LEG_TO_LEG * LEG_TO_NEUTRAL[node.system] else _across(node, known)
    return None


def _across(node: _Node, legs: list[float]) -> float:
    """Give the volts between two legs [V], from their volts to neutral at the system's angle."""
    first, second = legs[:2]
    if node.system == "120/240":
        return first + second
    return sqrt(first**2 + second**2 + first * second)


def _limits(layout: Layout, nominal: float, circuit: Circuit | None) -> tuple[float, float, float]:
    names = ("volts_low_percent", "volts_high_percent", "volts_deep_percent")
    low, high, deep = (nominal * layout.show.setting(name, circuit) / 100 for name in names)
    return low, high, min(deep, low)


def _places(layout: Layout, known: Known) -> Iterator[_Node]:
    for place in layout.places.values():
        for leg in place.legs:
            node = _Node(layout, str(Point(place.id, leg)), (leg,), place.up)
            node.upstream = list(_above(layout, known, place.up, (leg,)))
            if leg in place.own:
                node.label = f"{leg} of {place.label}"
                node.tracks = [known.tracks[place.own[leg]]]
                yield node
                continue
            _speakers(place, leg, known, node)
            if len(set(node.branches)) >= _GROUP:
                yield node


def _speakers(place: Place, leg: str, known: Known, node: _Node) -> None:
    """Name the circuits that read one leg of a place, each with the branch that it hangs on."""
    for circuit in place.below:
        inside = circuit.up[: circuit.up.index(place.id)]
        branch = inside[-1] if inside else circuit.circuit.id
        for at, point in circuit.on_leg:
            if at == leg:
                node.tracks.append(known.tracks[point])
                node.branches.append(branch)


def _circuits(layout: Layout, known: Known) -> Iterator[_Node]:
    for circuit in layout.circuits:
        for point in circuit.points:
            legs = (point.leg,) if point.leg else circuit.circuit.legs
            node = _Node(layout, str(point), legs, circuit.up, circuit)
            node.tracks = [known.tracks[point]]
            node.upstream = list(_above(layout, known, circuit.up, legs))
            yield node


def _above(layout: Layout, known: Known, up: Iterable[str], legs: tuple[str, ...]) -> Iterator[tuple[str, list[Track]]]:
    for id_ in up:
        own = layout.places[id_].own
        if set(legs) <= set(own):
            yield f"{'/'.join(legs)} of {layout.places[id_].label}", [known.tracks[own[leg]] for leg in legs]
