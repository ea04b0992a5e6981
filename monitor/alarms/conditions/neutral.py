"""Lost neutrals: legs that drift apart while what stands between them doesn't change.

Judged from two samples in a row against the middle of earlier ones in which the legs stood together; at every place
whose legs are read, by its own meter or by circuits that hang right on it. A place without either shows what all its
boxes show together. What the plan's cable explains is taken off first, and a cable that the show doesn't describe is
taken as one that loses 5 % at the rating; a set's own windings likewise. Once shown, it stays until the legs are back
together, whatever their sum does.
"""

from __future__ import annotations

from collections import deque
from statistics import median
from typing import TYPE_CHECKING

from monitor.alarms.conditions.layout import THREE_LEGS, parents
from monitor.alarms.conditions.legvolts import legs_read
from monitor.alarms.conditions.twolegs import TwoLegs
from monitor.alarms.conditions.watch import Watch
from monitor.electrical.cable import conductor_ohms
from monitor.electrical.legs import neutral_wye
from monitor.electrical.wiring import NEEDED, SplitSample, lost_neutral_split, star_of_legs
from monitor.show.model import SOURCE_ID

if TYPE_CHECKING:
    from monitor.alarms.conditions.known import Known
    from monitor.alarms.conditions.layout import Layout, Place
    from monitor.alarms.model import Observation

_BEFORE = 60  # moments whose middle is the base
_LAG = 5  # moments before now that are not in it
_ENOUGH = 10
_LOOSE = 0.05  # of nominal, lost at the rating in a run that the show doesn't describe (a judgement)
_WARM = 1.2  # copper warmer than planned (common practice, no source)
_WINDINGS = 0.10  # of nominal at the rating: what a set's windings may set legs apart (a judgement)
_ANY_AMPS = 60.0
_APART = 0.05  # of the sum on split phase, of nominal on a wye
_STEADY = 0.02  # of the base
_TWO = 2
_LEAST_SUM = 0.5  # of nominal


class _Spot:
    """One place with its legs."""

    def __init__(self, layout: Layout, place: Place) -> None:
        self.place = place
        self.nominal = layout.leg_volts
        self.watch = Watch("lost-neutral", place.id, parents=parents(("lost-neutral",), place.up))
        self.seen: str | None = None
        self.known = False
        self.apart = False
        self._samples: deque[tuple[list[float], list[float] | None]] = deque(maxlen=NEEDED)
        self._bases: deque[float] = deque(maxlen=_BEFORE + _LAG)
        self._conductor, self._windings = _ohms(layout, place)

    def forget(self) -> None:
        """Forget samples of before a pause."""
        self._samples.clear()

    def look(self, known: Known) -> None:
        """Take one moment."""
        legs = self.place.legs
        volts = legs_read(known, self.place)
        self.known = volts is not None and sum(volts) >= _LEAST_SUM * self.nominal * len(legs)
        self.apart = volts is not None and self.known and self._apart(volts)
        if volts is None or not self.known:
            self._samples.clear()
            return
        amps: list[float] = []
        if self.apart:
            amps = [a for leg in legs if (a := known.leg_amps(self.place, leg)) is not None]
        self._samples.append((volts, amps if len(amps) == len(legs) else None))
        seen = self._split() if len(legs) == _TWO else self._wye()
        if self.seen and seen is None and self.apart:
            return
        self.seen = seen
        base = sum(volts) if len(legs) == _TWO else (star_of_legs(volts) or (0.0,))[0]
        if base and not self.apart:
            self._bases.append(base)

    def _base(self, nominal: float) -> float:
        before = list(self._bases)[:-_LAG]
        return median(before) if len(before) >= _ENOUGH else nominal

    def _apart(self, volts: list[float]) -> bool:
        return max(volts) - min(volts) > _APART * (sum(volts) if len(volts) == _TWO else self.nominal)

    def _split(self) -> str | None:
        if not all(self._apart(volts) for volts, _ in self._samples):
            return None
        samples = [SplitSample((v[0], v[1]), None if a is None else (a[0], a[1])) for v, a in self._samples]
        sign = lost_neutral_split(samples, self._base(2 * self.nominal), 3 * self._conductor + self._windings)
        return f"{self.place.label}: {sign.text}; limit {sign.limit:.1f} V apart" if sign else None

    def _wye(self) -> str | None:
        shown = [self._shift(volts, amps) for volts, amps in self._samples]
        if len(shown) < NEEDED or None in shown:
            return None
        shift, limit = shown[-1] or (0.0, 0.0)
        legs = ", ".join(f"{leg} {v:.1f} V" for leg, v in zip(self.place.legs, self._samples[-1][0], strict=True))
        return (
            f"{self.place.label}: {legs}: the legs stand evenly to each other, the neutral {shift:.1f} V off their"
            f" middle; limit {limit:.1f} V; it may be open or failing"
        )

    def _shift(self, volts: list[float], amps: list[float] | None) -> tuple[float, float] | None:
        """Give the star point's shift and its limit [V], where it is beyond that and the legs stand as before."""
        limit = _APART * self.nominal
        if max(volts) - min(volts) <= limit:
            return None
        if amps is not None:
            limit += self._conductor * neutral_wye(amps[0], amps[1], amps[2]) + self._windings * (max(amps) - min(amps))
        shift = _star_shift(volts, self._base(3**0.5 * self.nominal))
        return (shift, limit) if shift is not None and shift > limit else None


def _star_shift(volts: list[float], base: float) -> float | None:
    """Give how far the neutral stands from the middle of three legs that stand evenly, ``base`` apart [V]; else None.

    With R from the middle to each leg and p the shift, the volts v obey v^2 = p^2 + R^2 - 2 p R cos(angle) (law of
    cosines). Over three legs the cosines sum to 0 and their squares to 1.5: so p follows from how the v^2 differ, and
    their mean must be p^2 + R^2. Where it isn't, a leg sags or climbs by itself.
    """
    radius = base / 3**0.5
    squares = [v**2 for v in volts]
    mean = sum(squares) / len(squares)
    shift = sum((mean - square) ** 2 for square in squares) / (6 * radius**2)
    return shift**0.5 if abs(mean - radius**2 - shift) <= 2 * _STEADY * mean else None


class LostNeutrals:
    """At every place with two legs of a split phase, or three or two (``twolegs``) of a wye.

    Boxes that are read one after another wait for each other: what all of them show is told at the place above.
    """

    def __init__(self, layout: Layout) -> None:
        several = [place for place in layout.places.values() if _judged(layout, place)]
        self._spots = {place.id: _Spot(layout, place) for place in several if _read(place)}
        self._pairs = [
            TwoLegs(layout, place, _ohms(layout, place)[0])
            for place in layout.places.values()
            if len(place.legs) == _TWO < len(layout.show.source.legs) and _read(place)
        ]
        self._others = [
            (
                place,
                [self._spots[child] for child in place.children if child in self._spots],
                Watch("lost-neutral", place.id),
            )
            for place in several
            if place.id not in self._spots
        ]
        self._others = [(place, spots, watch) for place, spots, watch in self._others if len(spots) >= _TWO]

    def observe(self, known: Known, out: list[Observation]) -> None:
        """Give the observations."""
        several: tuple[_Spot | TwoLegs, ...] = (*self._spots.values(), *self._pairs)
        for each in several:
            if known.resumed:
                each.forget()
            each.look(known)
        waiting: set[str] = set()
        for place, spots, watch in self._others:
            judged = [spot for spot in spots if spot.known]
            whole = len(judged) >= _TWO and all(spot.seen for spot in judged)
            seen = f"every box under {place.label}: {judged[0].seen}" if whole else None
            out.append(watch.state(seen) if len(judged) >= _TWO else watch.unknown)
            if len(judged) >= _TWO and not whole and all(spot.apart for spot in judged):
                waiting |= {spot.place.id for spot in judged}
        for spot in self._spots.values():
            seen = None if spot.place.id in waiting else spot.seen
            out.append(spot.watch.state(seen) if spot.known else spot.watch.unknown)
        out += [pair.watch.state(pair.seen) if pair.known else pair.watch.unknown for pair in self._pairs]


def _judged(layout: Layout, place: Place) -> bool:
    return len(place.legs) == len(layout.show.source.legs) and len(place.legs) in (_TWO, THREE_LEGS)


def _read(place: Place) -> bool:
    here = {leg for circuit in place.circuits for leg, _ in circuit.on_leg}
    return all(leg in place.own or leg in here for leg in place.legs)


def _ohms(layout: Layout, place: Place) -> tuple[float, float]:
    """Give the resistance of one conductor from the source, and what a set's windings add [ohm]."""
    show = layout.show
    ohms = 0.0
    for feeder in show.feeders:
        if feeder.id in (place.id, *place.up):
            if feeder.cable is not None:
                ohms += _WARM * conductor_ohms(feeder.cable)
            else:
                ohms += _LOOSE * layout.leg_volts / (feeder.breaker.amps if feeder.breaker else _ANY_AMPS)
    rated = layout.places[SOURCE_ID].rated_amps
    return ohms, _WINDINGS * layout.leg_volts / (rated or _ANY_AMPS)
