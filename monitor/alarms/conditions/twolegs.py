"""Lost neutral where two legs of a wye and its neutral come to a place.

Between the two legs stand 1.73 times the volts of one (``chord``), whatever the neutral does. With the neutral lost
the loads of the two legs are in series across them: then one leg rises as the other sinks, or, with the same load on
both, *both sink*, until together they read no more than the chord. Meters give magnitudes and no angle. Three
magnitudes make a triangle, and its corner is the neutral: with 120 degrees between the legs it is where it belongs,
towards 180 degrees it lies on the line between them.

What that can't tell apart: without the chord read at the place itself, two legs that sink together may have lost their
volts on the run as well. Then it is shown only where the amps say so too: in series both legs carry the same, and no
more than before. Otherwise ``volts-far-low`` speaks, and names both.
"""

from __future__ import annotations

from collections import deque
from math import acos, degrees, sqrt
from statistics import median
from typing import TYPE_CHECKING

from monitor.alarms.conditions.layout import parents
from monitor.alarms.conditions.legvolts import legs_read
from monitor.alarms.conditions.watch import Watch
from monitor.electrical.wiring import NEEDED

if TYPE_CHECKING:
    from collections.abc import Iterable

    from monitor.alarms.conditions.known import Known
    from monitor.alarms.conditions.layout import CircuitPlace, Layout, Place

TWO = 2
_APART = 0.05  # of nominal: what two legs may differ by (a judgement)
_SERIES_DEGREES = (
    150.0  # 120 with a sound neutral; 180 in series, 143 where power factors of 0.8 and 1 are (a judgement)
)
_IMPOSSIBLE = 1.08  # -cosine: sides that make no triangle within what meters differ by
_SAME_AMPS = 0.12  # of the higher leg
_MORE_AMPS = 1.2  # than before: electronic loads draw more at low volts
_LEAST_AMPS = 0.5
_STOOD = 1.08  # of the chord: what both legs read together before (1.155 with a sound neutral)
_BEFORE, _LAG, _ENOUGH = 60, 5, 10  # moments
_LEAST = 0.15  # of nominal: a leg may sink far


class TwoLegs:
    """One place with two legs of a wye.

    Args:
        layout: of the show.
        place: which.
        conductor: resistance of one conductor from the source [ohm].

    Attributes:
        watch: of the place.
        seen: what is seen, or None.
        known: whether both legs are read.

    """

    def __init__(self, layout: Layout, place: Place, conductor: float) -> None:
        self.place = place
        self.watch = Watch("lost-neutral", place.id, parents=parents(("lost-neutral",), place.up))
        self.seen: str | None = None
        self.known = False
        self._nominal = layout.leg_volts
        self._conductor = conductor
        self._chords = [c for c in place.circuits if _across(c, place)]
        self._above = [layout.places[id_] for id_ in place.up]
        near = {place.id, *place.up}
        self._beside = [p for p in layout.places.values() if p.id not in near and place.id not in p.up]
        self._exact = len(place.own) == TWO or place.all_metered
        self._shown: deque[tuple[bool, str]] = deque(maxlen=NEEDED)
        self._before: deque[tuple[float, float, float]] = deque(maxlen=_BEFORE + _LAG)

    def forget(self) -> None:
        """Forget samples of before a pause."""
        self._shown.clear()

    def look(self, known: Known) -> None:
        """Take one moment."""
        read = legs_read(known, self.place)
        self.known = read is not None and sum(read) >= self._nominal
        if read is None or not self.known:
            self._shown.clear()
            return
        volts = (read[0], read[1])
        chord, here = self._chord(known)
        amps = [a for leg in self.place.legs if (a := known.leg_amps(self.place, leg)) is not None]
        pair = (amps[0], amps[1]) if self._exact and len(amps) == TWO else None
        should = self._read(known, self._above) or self._usual()
        shown = self._swapped(volts, should, pair) or self._in_series(volts, chord, pair, here=here)
        self._shown.append((shown, self._sentence(volts, chord, here=here)))
        if len(self._shown) == NEEDED and all(each for each, _ in self._shown):
            self.seen = self._shown[-1][1]
        elif not shown and not self._lies_between(volts, chord):
            self.seen = None
            self._before.append((*volts, max(pair, default=0.0) if pair else 0.0))

    def _chord(self, known: Known) -> tuple[float, bool]:
        """Give the volts between the two legs, and whether they are read right here [V]."""
        read = [v for c in self._chords if (v := known.tracks[c.points[0]].serving_volts) is not None]
        if read:
            return median(read), True
        first, second = self._read(known, (*self._above, *self._beside)) or self._usual()
        return sqrt(first**2 + second**2 + first * second), False

    def _read(self, known: Known, places: Iterable[Place]) -> tuple[float, float] | None:
        """Give what both legs read at the first of some places where both are read [V]."""
        for place in places:
            first, second = (known.leg_volts(place, leg) if leg in place.legs else None for leg in self.place.legs)
            if first is not None and second is not None:
                return first, second
        return None

    def _usual(self) -> tuple[float, float]:
        """Give what both legs read before; else nominal [V]."""
        before = self._earlier()
        if len(before) < _ENOUGH:
            return self._nominal, self._nominal
        return median(v for v, _, _ in before), median(v for _, v, _ in before)

    def _earlier(self) -> list[tuple[float, float, float]]:
        return list(self._before)[:-_LAG]

    def _swapped(
        self, volts: tuple[float, float], should: tuple[float, float], amps: tuple[float, float] | None
    ) -> bool:
        """Say whether one leg has risen as the other has sunk, by more than the neutral's own drop."""
        off = [v - due for v, due in zip(volts, should, strict=True)]
        neutral = sqrt(max(0.0, amps[0] ** 2 + amps[1] ** 2 - amps[0] * amps[1])) if amps else 0.0
        limit = _APART * self._nominal + self._conductor * neutral
        return max(off) - min(off) > limit and min(max(off), -min(off)) > limit / 2

    def _in_series(
        self, volts: tuple[float, float], chord: float, amps: tuple[float, float] | None, *, here: bool
    ) -> bool:
        """Say whether both legs read no more together than what stands between them, as in series."""
        if not self._lies_between(volts, chord):
            return False
        if here:
            return True
        before = self._earlier()
        if amps is None or len(before) < _ENOUGH or max(amps) < _LEAST_AMPS:
            return False
        stood = median(first + second for first, second, _ in before) >= _STOOD * chord
        same = max(amps) - min(amps) <= _SAME_AMPS * max(amps)
        return stood and same and max(amps) <= _MORE_AMPS * median(a for _, _, a in before) + _LEAST_AMPS

    def _lies_between(self, volts: tuple[float, float], chord: float) -> bool:
        cosine = _cosine(volts, chord)
        return cosine is not None and cosine >= -_IMPOSSIBLE and _angle(cosine) >= _SERIES_DEGREES

    def _sentence(self, volts: tuple[float, float], chord: float, *, here: bool) -> str:
        legs = ", ".join(f"{leg} {v:.1f} V" for leg, v in zip(self.place.legs, volts, strict=True))
        how = (
            "read here" if here else "worked out from legs elsewhere or before: the angle between them is not measured"
        )
        return (
            f"{self.place.label}: {legs}, together {sum(volts):.1f} V where about {chord * 2 / sqrt(3):.0f} V belong to"
            f" {chord:.1f} V between them ({how}); the neutral of these two legs may be open or failing"
        )


def _across(circuit: CircuitPlace, place: Place) -> bool:
    return not circuit.on_leg and frozenset(circuit.circuit.legs) == frozenset(place.legs)


def _cosine(volts: tuple[float, float], chord: float) -> float | None:
    first, second = volts
    return (first**2 + second**2 - chord**2) / (2 * first * second) if min(volts) > _LEAST * chord else None


def _angle(cosine: float) -> float:
    return degrees(acos(max(-1.0, min(1.0, cosine))))
