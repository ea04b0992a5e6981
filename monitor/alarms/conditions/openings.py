"""What has opened: circuits, feeders, the source, single legs.

A circuit has opened where its volts are gone and amps were there in the last two samples before. Without amps before,
somebody has opened it unloaded: that asks for nothing. Where the meter's volts come from before the breaker they stay,
and an opening looks like switching off; it is told only where the circuit was well above its rating before.

A place is lost where its own metered legs are gone, or, without meters, where two circuits or boxes under it went
within ``TOGETHER_MS`` and nothing under it has power. Meters are read one after another, so that every opening waits
until all that still had power has been read once more.
"""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

from monitor.alarms.conditions.layout import parents
from monitor.alarms.conditions.spots import LAST_SAMPLES, REMEMBERED_MS, TOGETHER_MS, Spot
from monitor.alarms.conditions.tracks import POWERED
from monitor.alarms.conditions.watch import Watch
from monitor.show.model import SOURCE_ID

if TYPE_CHECKING:
    from collections.abc import Iterable

    from monitor.alarms.conditions.known import Known
    from monitor.alarms.conditions.layout import CircuitPlace, Layout, Place
    from monitor.alarms.model import Observation

_WAIT_MS = 3000
_LOADED = 0.02  # of the rating
_LEAST_AMPS = 0.3
_OVERLOAD = 1.05  # of the rating
_OVERLOAD_S = 60
_STANDS = (0.9, 1.1)  # of nominal, as ``monitor.electrical.wiring.lost_leg`` has it
_GROUP = 2


class _Circuit(Spot):
    """A circuit, with its opening."""

    def __init__(self, place: CircuitPlace, known: Known) -> None:
        rated = place.circuit.breaker.amps
        tracks = [known.tracks[point] for point in place.points]
        super().__init__(place.label, tracks, max(_LEAST_AMPS, _LOADED * rated))
        self.place = place
        self.rated = rated
        self.opened: str | None = None
        explained = parents(("feeder-lost", "lost-leg", "lost-neutral"), place.up)
        self.watch = Watch("circuit-opened", place.circuit.id, parents=explained)
        self._over: deque[int] = deque(maxlen=_OVERLOAD_S)

    def judge(self, time_ms: int, *, decided: bool) -> None:
        """Decide whether it has opened."""
        if not self.known:
            return
        if self.place.circuit.volts_tap == "line" and self.powered:
            self._judge_by_amps(time_ms)
        elif self.powered or self.gone_ms is None:
            self.opened = None
        elif decided and self.gone_ms and self.loaded and time_ms > self.gone_ms:
            self.opened = f"{self.label}: volts gone, {self.volts:.1f} V, with {self.before}"

    def _judge_by_amps(self, time_ms: int) -> None:
        """Judge a circuit whose volts come from before its breaker: only amps tell."""
        amps = list(self.amps)
        if len(amps) < LAST_SAMPLES or None in amps:
            return
        most = max(a for a in amps if a is not None)
        if most >= self.least_amps:
            self.opened = None
            if most >= _OVERLOAD * self.rated:
                self._over.append(time_ms)
        elif len(self._over) == _OVERLOAD_S and self._until_now(time_ms):
            self.opened = (
                f"{self.label} carried more than its {self.rated:g} A for over a minute, then nothing; its volts come"
                " from before the breaker, so that this may be an opening or a switching off"
            )

    def _until_now(self, time_ms: int) -> bool:
        """Say whether the minute above the rating lies within ten minutes and reaches up to now."""
        return time_ms - self._over[0] <= REMEMBERED_MS and time_ms - self._over[-1] <= TOGETHER_MS


class _Place:
    """The source or a feeder, with what hangs under it."""

    def __init__(self, place: Place, known: Known) -> None:
        self.place = place
        code = "source-lost" if place.id == SOURCE_ID else "feeder-lost"
        explains = parents(("feeder-lost", "lost-leg"), place.up)
        self.watch = Watch(code, place.id, parents=explains)
        broken = (*parents(("lost-neutral",), (place.id, *place.up)), *explains)
        self.leg_watch = Watch("lost-leg", place.id, parents=broken)
        own = [known.tracks[point] for point in place.own.values()]
        least = max(_LEAST_AMPS, _LOADED * (place.rated_amps or 0.0))
        self.own = Spot(place.label, own, least) if own else None
        self.own_legs = {leg: Spot(f"{leg} of {place.label}", [known.tracks[p]], least) for leg, p in place.own.items()}
        self.under: list[tuple[str, Spot]] = []  # (branch, circuit or feeder with meters)
        self.on_leg: dict[str, list[tuple[str, Spot]]] = {leg: [] for leg in place.legs}
        self.lost: str | None = None
        self.leg_lost: str | None = None

    @property
    def judged(self) -> bool:
        """Whether anything can be said of it at all."""
        return self.own is not None or len({branch for branch, _ in self.under}) >= _GROUP

    @property
    def speaks(self) -> bool:
        """Whether anything is known of it now."""
        if self.own is not None and self.own.known:
            return self.own.speaks
        return any(spot.speaks for _, spot in self.under)

    @property
    def legs_speak(self) -> bool:
        """Whether anything is known of each of its legs now."""
        if self.own is not None and self.own.known:
            return all(spot.speaks for spot in self.own_legs.values())
        return all(any(spot.speaks for _, spot in under) for under in self.on_leg.values() if under)

    @property
    def legs_judged(self) -> bool:
        """Whether anything can be said of its single legs."""
        return len(self.place.legs) > 1 and (len(self.own_legs) > 1 or any(_grouped(u) for u in self.on_leg.values()))


def _grouped(under: Iterable[tuple[str, Spot]]) -> bool:
    return len({branch for branch, _ in under}) >= _GROUP


def _loaded(under: Iterable[tuple[str, Spot]], now: int) -> bool:
    return any(spot.went(now) and spot.loaded for _, spot in under)


def _stands(part: float) -> bool:
    return _STANDS[0] <= part <= _STANDS[1]


def _branch(place: str, id_: str, up: tuple[str, ...]) -> str:
    """Give what right under ``place`` leads to ``id_``, fed through ``up``."""
    inside = up[: up.index(place)]
    return inside[-1] if inside else id_


class Openings:
    """Circuits that opened, places and legs that are lost."""

    def __init__(self, layout: Layout, known: Known) -> None:
        self._nominal = layout.leg_volts
        self._circuits = [_Circuit(circuit, known) for circuit in layout.circuits]
        self._places = [_Place(place, known) for place in layout.places.values()]
        for place in self._places:
            self._fill(place)
        self._spots: list[Spot] = [
            *self._circuits,
            *(p.own for p in self._places if p.own),
            *(spot for p in self._places for spot in p.own_legs.values()),
        ]

    def _fill(self, place: _Place) -> None:
        """Hang under a place every circuit, and every feeder with meters, with the branch that leads to it."""
        id_ = place.place.id
        for circuit in self._circuits:
            if id_ in circuit.place.up:
                branch = _branch(id_, circuit.place.circuit.id, circuit.place.up)
                place.under.append((branch, circuit))
                if len(circuit.place.on_leg) == 1:
                    place.on_leg[circuit.place.on_leg[0][0]].append((branch, circuit))
        for other in self._places:
            if id_ in other.place.up and other.own is not None:
                branch = _branch(id_, other.place.id, other.place.up)
                place.under.append((branch, other.own))
                for leg, spot in other.own_legs.items():
                    place.on_leg[leg].append((branch, spot))

    def observe(self, known: Known, out: list[Observation]) -> None:
        """Give the observations."""
        now = known.time_ms
        for spot in self._spots:
            spot.look(now)
        quiet = not any(spot.down_ms for spot in self._spots)
        decided = quiet or self._decided(now)
        for place in self._places:
            self._lost(place, now, decided=decided)
            self._leg_lost(place, now, decided=decided)
            if place.judged:
                out.append(place.watch.state(place.lost) if place.speaks else place.watch.unknown)
            if place.legs_judged:
                out.append(place.leg_watch.state(place.leg_lost) if place.legs_speak else place.leg_watch.unknown)
        for circuit in self._circuits:
            circuit.judge(now, decided=decided)
            out.append(circuit.watch.state(circuit.opened) if circuit.speaks else circuit.watch.unknown)

    def _decided(self, now: int) -> bool:
        """Say whether all that still had power has been read since the newest opening, or was waited for."""
        newest = max(spot.down_ms or 0 for spot in self._spots)
        if now - newest >= _WAIT_MS:
            return True
        return all(
            track.heard_ms > newest for spot in self._spots if spot.powered and spot.known for track in spot.tracks
        )

    @staticmethod
    def _lost(place: _Place, now: int, *, decided: bool) -> None:
        own = place.own
        live = [spot for _, spot in place.under if spot.powered and spot.known]
        if own is not None and own.known:
            if own.gone_ms is None or own.powered or (decided and live):
                place.lost = None  # with power under it, it is the meter's own taps that are open
            elif decided and own.went(now) and (own.loaded or _loaded(place.under, now)):
                place.lost = f"{place.place.label}: volts gone, {own.volts:.1f} V, with {own.before}"
            return
        if live:
            place.lost = None
            return
        went = [(branch, spot) for branch, spot in place.under if spot.went(now)]
        if decided and _grouped(went) and _loaded(went, now):
            names = ", ".join(spot.label for _, spot in went)
            place.lost = f"{place.place.label}: the volts of all that is read under it went together: {names}"

    def _leg_lost(self, place: _Place, now: int, *, decided: bool) -> None:
        if len(place.own_legs) > 1 and place.own is not None and place.own.known:
            volts = {leg: spot.volts for leg, spot in place.own_legs.items()}
            low = [leg for leg, v in volts.items() if v < POWERED * self._nominal]
            stand = all(_stands(v / self._nominal) for leg, v in volts.items() if leg not in low)
            before = any(place.own_legs[leg].live_ms is not None for leg in low)
            if not low or len(low) == len(volts):
                place.leg_lost = None
            elif before and (stand or place.leg_lost):
                figures = ", ".join(f"{leg} {v:.1f} V" for leg, v in volts.items())
                place.leg_lost = f"{place.place.label}: {figures}; {' and '.join(low)} may be lost upstream"
            return
        lost = [leg for leg, under in place.on_leg.items() if self._all_sank(under, now)]
        live = {leg for leg, under in place.on_leg.items() if any(s.powered and s.known for _, s in under)}
        if decided and lost and live - set(lost) and self._all_stand(place, live):
            place.leg_lost = (
                f"{place.place.label}: the volts of all circuits read on {' and '.join(lost)} went together while those"
                f" on {' and '.join(sorted(live))} stand; a leg may be lost upstream"
            )
        elif place.leg_lost and (not live or live == {leg for leg, under in place.on_leg.items() if under}):
            place.leg_lost = None

    def _all_stand(self, place: _Place, legs: set[str]) -> bool:
        """Say whether all that has power on some legs is near nominal: with an open neutral it is not."""
        under = [spot for leg in legs for _, spot in place.on_leg[leg] if spot.powered and spot.known]
        return all(_stands(spot.volts / self._nominal) for spot in under)

    @staticmethod
    def _all_sank(under: list[tuple[str, Spot]], now: int) -> bool:
        sank = [(branch, spot) for branch, spot in under if spot.sank(now)]
        live = any(spot.powered and spot.known for _, spot in under)
        return not live and _grouped(sank) and any(spot.loaded for _, spot in sank)
