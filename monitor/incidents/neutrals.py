"""Lost neutrals: legs that drift apart while what stands between them stays, at the highest place that shows it."""

from __future__ import annotations

from statistics import median
from typing import TYPE_CHECKING

from monitor.alarms.conditions.layout import THREE_LEGS
from monitor.electrical.cable import spread_ohms
from monitor.electrical.legs import neutral_wye
from monitor.electrical.wiring import SplitSample, lost_neutral_split, star_of_legs
from monitor.incidents.cases import Case, Register
from monitor.incidents.model import Kind
from monitor.show.model import SOURCE_ID, Point

if TYPE_CHECKING:
    from monitor.alarms.conditions.layout import Layout, Place
    from monitor.incidents.traces import Board, Trace

_TWO = 2
_APART = 0.05  # of the sum on split phase, of nominal on a wye
_STEADY = 0.02  # of what stands between the legs
_WARM, _LOOSE, _WINDINGS, _ANY_AMPS = 1.2, 0.05, 0.10, 60.0  # as ``monitor.alarms.conditions.neutral`` has them
_ENOUGH = 10  # samples of before
_LEAST = 0.5  # of nominal, all legs together
_BASE_MS = (90_000, 6_000)  # before now: where the base is taken from
_CLOSE_MS = 8_000
_WINDOW_MS = 1100  # what a meter shows may be this old
_SAME_MS = 15_000
_SUSPECT_MS = 12_000
_WITH_INTERVALS = 1.5
_HIDES = frozenset(
    {
        Kind.UNDERVOLTAGE_RUN,
        Kind.UNDERVOLTAGE_SOURCE,
        Kind.OVERVOLTAGE,
        Kind.LOST_LEG,
        Kind.WRONG_SERVICE,
        Kind.RESISTANCE_RISE,
    }
)


class _Spot:
    """A place whose legs are read, by its own meter or by circuits that hang right on it.

    Attributes:
        seen: (volts by leg, sentence, critical), newest; None while it shows nothing.
        times: how many moments in a row it has shown.

    """

    def __init__(self, layout: Layout, board: Board, place: Place) -> None:
        self.place, self._board = place, board
        self.nominal = layout.leg_volts
        read = {leg: readers for leg in place.legs if (readers := self._readers(board, leg))}
        self.names = tuple(read)
        self.legs = list(read.values())
        self.amps = [self._carriers(board, leg) for leg in place.legs]
        self.seen: tuple[list[float], str, bool] | None = None
        self.times = 0
        self.begin_ms = self.earliest_ms = 0
        self.apart_ms = 0
        self._spread, self._conductor, self._windings = _ohms(layout, place)
        self._samples: list[SplitSample] = []
        self._heard_ms = 0

    def _readers(self, board: Board, leg: str) -> list[Trace]:
        own = self.place.own
        if leg in own:
            return [board.of[own[leg]]]
        return [board.of[point] for c in self.place.circuits for at, point in c.on_leg if at == leg]

    def _carriers(self, board: Board, leg: str) -> list[Trace]:
        if leg in self.place.own:
            return [board.of[self.place.own[leg]]]
        below = [c for c in self.place.below if leg in c.circuit.legs]
        return [board.of[dict(c.on_leg).get(leg, c.points[0])] for c in below]

    @property
    def readable(self) -> bool:
        """Whether at least two legs have something that reads them."""
        return len(self.legs) >= _TWO

    @property
    def known(self) -> bool:
        """Whether every leg is read now, by something with power."""
        return all(any(self._board.standing(t) or t.live for t in leg) for leg in self.legs)

    def look(self) -> None:
        """Take one moment."""
        volts = [self._volts(leg) for leg in self.legs]
        known = [v for v in volts if v is not None]
        heard = min(max(t.heard_ms for t in leg) for leg in self.legs)
        if len(known) < len(volts) or sum(known) < _LEAST * self.nominal * len(known):
            self.seen, self.times = None, 0
            self._samples.clear()
            return
        if heard <= self._heard_ms:
            return
        before_ms, self._heard_ms = self._heard_ms, heard
        seen = self._shown(known)
        if seen is None:
            if self.seen is not None and self._are_apart(known):
                self.apart_ms = heard  # still apart, whatever the sum does
                return
            self.seen, self.times = None, 0
            return
        if not self.times:
            self.begin_ms, self.earliest_ms = heard, before_ms or heard
        self.seen, self.times, self.apart_ms = seen, self.times + 1, heard

    def _volts(self, leg: list[Trace]) -> float | None:
        found = [t.volts for t in leg if t.live and t.volts is not None and (t.powered or t.down_ms)]
        standing = [t.volts for t in leg if self._board.standing(t) and t.volts is not None]
        return median(standing or found) if standing or found else None

    def _are_apart(self, volts: list[float]) -> bool:
        return max(volts) - min(volts) > _APART * (sum(volts) if len(volts) == _TWO else self.nominal)

    def _base(self) -> list[float]:
        """Give each leg's volts before [V]: nominal where they did not stand together then."""
        now = self._board.time_ms
        found = []
        for leg in self.legs:
            values = [v.volts for t in leg for _, v in t.between(now - _BASE_MS[0], now - _BASE_MS[1]) if v.volts]
            found.append(median(values) if values else self.nominal)
        return found if not self._are_apart(found) else [self.nominal] * len(found)

    def _moved(self, amps: list[float]) -> list[float]:
        """Give by how much each leg's amps differ from before [A]: what a whole run does follows the load."""
        now = self._board.time_ms
        moved = []
        for leg, a in zip(self.amps, amps, strict=True):
            sums = [t.middle("amps", _ENOUGH, now - _BASE_MS[1]) for t in leg]
            known = [before for before in sums if before is not None]
            moved.append(abs(a - sum(known)) if known and len(known) == len(sums) else a)
        return moved

    def _loads(self) -> list[float] | None:
        sums = [[t.amps for t in leg if t.live and t.amps is not None] for leg in self.amps]
        return [sum(amps) for amps in sums] if all(sums) else None

    def _shown(self, volts: list[float]) -> tuple[list[float], str, bool] | None:
        if not self._are_apart(volts):
            self._samples.clear()
            return None
        amps, base = self._loads(), self._base()
        critical = max(volts) > 1.1 * self.nominal
        if len(volts) < len(self.place.legs):
            return self._two_of_three(volts, base, critical=critical)
        if len(volts) == _TWO:
            pair = None if amps is None else (amps[0], amps[1])
            self._samples = [*self._samples[-1:], SplitSample((volts[0], volts[1]), pair)]
            sign = lost_neutral_split(self._samples[-1:] * 2, sum(base), self._spread)
            rises = max(v - b for v, b in zip(volts, base, strict=True)) > 0.01 * self.nominal
            if sign is None or not rises:
                return None
            text = (
                f"L1 {volts[0]:.1f} V and L2 {volts[1]:.1f} V: the sum is {sum(volts):.1f} V, {sum(base):.1f} V before"
            )
            return (
                volts,
                f"{text}; their difference of {abs(volts[0] - volts[1]):.1f} V is not explained by the load",
                critical,
            )
        return self._wye(volts, amps, base, critical=critical)

    def _two_of_three(
        self, volts: list[float], base: list[float], *, critical: bool
    ) -> tuple[list[float], str, bool] | None:
        """Judge a wye of which one leg isn't read: one leg far up and the other far down at once."""
        moved = [v - b for v, b in zip(volts, base, strict=True)]
        if max(moved) < _APART * self.nominal or min(moved) > -_APART * self.nominal:
            return None
        legs = ", ".join(f"{leg} {v:.1f} V" for leg, v in zip(self.names, volts, strict=True))
        return volts, f"{legs}: one leg rose as the other sank; the third is not read", critical

    def _wye(
        self, volts: list[float], amps: list[float] | None, base: list[float], *, critical: bool
    ) -> tuple[list[float], str, bool] | None:
        limit = _APART * self.nominal
        known = base != [self.nominal] * len(base)
        if amps is not None:
            amps = self._moved(amps) if known else amps
            limit += self._conductor * neutral_wye(amps[0], amps[1], amps[2]) + self._windings * (max(amps) - min(amps))
        star, before = star_of_legs(volts), star_of_legs(base)
        side = before[0] if before else self.nominal * 3**0.5
        if star is None or abs(star[0] - side) > _STEADY * side:
            return None
        if star[1] - (before[1] if before and known else 0.0) <= limit:
            return None
        legs = ", ".join(f"{leg} {v:.1f} V" for leg, v in zip(self.place.legs, volts, strict=True))
        return (
            volts,
            f"{legs}: between the legs nothing changed, the neutral stands {star[1]:.1f} V off their middle",
            critical,
        )


class Neutrals:
    """Every place where a neutral can be judged."""

    def __init__(self, layout: Layout, board: Board, register: Register) -> None:
        self._layout, self._board, self._register = layout, board, register
        several = [p for p in layout.places.values() if _judged(layout, p)]
        spots = [_Spot(layout, board, place) for place in several]
        self._spots = [spot for spot in spots if spot.readable]
        self._cases: list[tuple[Case, list[_Spot]]] = []
        self._watching = False

    def observe(self) -> None:
        """Take one moment; nothing to do while every leg's volts are calm."""
        if self._board.resumed:
            self._cases.clear()
            self._watching = False
        if not self._board.odd and not self._watching:
            return
        for spot in self._spots:
            spot.look()
        shown = [spot for spot in self._spots if spot.seen is not None]
        self._watching = bool(shown or self._cases)
        self._end()
        for case, spots in self._cases:
            if self._board.time_ms - case.begin_ms <= _SAME_MS:
                self._widen(case, spots)
        free = [s for s in shown if s.times >= _TWO and not any(s in spots for _, spots in self._cases)]
        free = [
            s for s in free if self._register.explains(Kind.LOST_NEUTRAL, s.legs[0][0], self._board.time_ms) is None
        ]
        if free and not self._waits(free):
            self._open(free)

    @property
    def suspects(self) -> bool:
        """Whether some place shows legs apart that may yet become a case."""
        now = self._board.time_ms
        return any(spot.seen is not None and now - spot.begin_ms <= _SUSPECT_MS for spot in self._spots)

    def _widen(self, case: Case, spots: list[_Spot]) -> None:
        """Take in what moved the same way at the same time elsewhere: then the break lies above both."""
        shown = next((s for s in spots if s.place.id == case.place), spots[0])
        if shown.seen is None:
            return
        middle = sum(shown.seen[0]) / len(shown.seen[0])
        up = {leg: volts > middle for leg, volts in zip(shown.names, shown.seen[0], strict=True)}
        for trace in self._board.odd.values():
            known = trace.place == case.place or case.place in trace.up or trace.point in case.points
            since = trace.high_ms or trace.low_ms
            if known or since is None or len(trace.legs) > 1 or not trace.powered:
                continue
            same = up.get(trace.legs[0]) is (trace.high_ms is not None)
            if same and abs(since - case.begin_ms) <= _WITH_INTERVALS * trace.interval_ms + _WINDOW_MS:
                ups = (case.place, *self._layout.places[case.place].up)
                case.place = next(id_ for id_ in ups if id_ in trace.up)
                here = Point(case.place)
                case.points = (here, *(p for p in case.points if p != here), trace.point)
                case.shows(f"{trace.label} moved with it, to {trace.volts or 0.0:.1f} V")
                self._register.tell(case)

    def _waits(self, free: list[_Spot]) -> bool:
        """Say whether other places may yet show the same: they haven't been read twice since."""
        newest = max(spot.begin_ms for spot in free)
        rest = [s for s in self._spots if s.seen is None and s.known]
        slowest = max((t.interval_ms for s in rest for leg in s.legs for t in leg), default=1000.0)
        fresh = all(min(max(t.heard_ms for t in leg) for leg in s.legs) > newest + _WINDOW_MS for s in rest)
        once = any(s.seen is not None and s.times < _TWO for s in self._spots)
        return (once or not fresh) and self._board.time_ms - newest < 3.2 * slowest + 1500

    def _open(self, shown: list[_Spot]) -> None:
        for case, spots in self._cases:  # boxes that show the same a little later
            if min(s.begin_ms for s in shown) - case.begin_ms <= _SAME_MS:
                spots.extend(shown)
                place = self._highest(spots)
                case.place = place.id
                readers = [t.point for s in spots for leg in s.legs for t in leg]
                case.points = (Point(place.id), *dict.fromkeys(p for p in readers if p != Point(place.id)))
                for spot in shown:
                    case.shows(f"{spot.place.label}: {spot.seen[1] if spot.seen else ''}")
                self._register.tell(case)
                return
        place = self._highest(shown)
        first = next((s for s in shown if s.place.id == place.id), shown[0])
        begin, earliest = min(s.begin_ms for s in shown), min(s.earliest_ms for s in shown)
        volts, text, critical = first.seen or ([], "", False)
        del volts
        readers = [t.point for s in shown for leg in s.legs for t in leg]
        points = (Point(place.id), *dict.fromkeys(p for p in readers if p != Point(place.id)))
        case = Case(Kind.LOST_NEUTRAL, place.id, points, begin, earliest, 0.85, covers=_HIDES)
        case.shows(f"{first.place.label}: {text}")
        for spot in shown:
            if spot is not first and spot.seen:
                case.shows(f"{spot.place.label}: {spot.seen[1]}")
        if critical:
            case.shows("a leg stands more than 10 % above nominal: equipment on it is at risk", "beside")
        sound = [s for s in self._spots if s.seen is None and s.known and s not in shown]
        if sound:
            names = ", ".join(s.place.label for s in sound)
            case.shows(f"the legs of {names} stand together, so that it lies between there and {place.label}")
        elif place.id != SOURCE_ID and not self._layout.places[SOURCE_ID].own:
            case.misses(f"nothing above {place.label} is read: whether the break lies further up is not shown")
        case.alternatives = {Kind.OVERVOLTAGE: 0.06, Kind.UNDERVOLTAGE_RUN: 0.05}
        case.misses(
            "whether the neutral is open or its joint is failing; what flows in the neutral is not part of this"
        )
        self._register.open(case)
        self._cases.append((case, shown))

    def _highest(self, shown: list[_Spot]) -> Place:
        """Give the highest place that shows it; a place that isn't read shows it where all read boxes under it do."""
        places = self._layout.places
        ids = {s.place.id for s in shown}
        tops = [s.place for s in shown if not any(up in ids for up in s.place.up)]
        if len(tops) == 1:
            return tops[0]
        common = next(id_ for id_ in (tops[0].id, *tops[0].up) if all(id_ in (t.id, *t.up) for t in tops))
        return places[common]

    def _end(self) -> None:
        for entry in list(self._cases):
            case, spots = entry
            now = self._board.time_ms
            together = [s for s in spots if s.seen is None]
            if case.closed or len(together) == len(spots):
                last = max(s.apart_ms for s in spots)
                if case.closed:
                    self._cases.remove(entry)
                elif now - last >= _CLOSE_MS:
                    self._cases.remove(entry)
                    known = all(s.known for s in spots)
                    self._register.end(case, min(_first_after(s, last) for s in spots) if known else None)


def _first_after(spot: _Spot, time_ms: int) -> int:
    found = [at for leg in spot.legs for t in leg for at, _ in t.samples if at > time_ms]
    return min(found, default=time_ms)


def _judged(layout: Layout, place: Place) -> bool:
    return len(place.legs) == len(layout.show.source.legs) and len(place.legs) in (_TWO, THREE_LEGS)


def _ohms(layout: Layout, place: Place) -> tuple[float, float, float]:
    """Give what a whole run explains: of a split phase's difference, of one conductor, of the windings [ohm]."""
    rated = layout.places[SOURCE_ID].rated_amps
    windings = _WINDINGS * layout.leg_volts / (rated or _ANY_AMPS)
    spread = spread_ohms(layout.show, place.id)
    if spread is None:
        spread = 3 * _LOOSE * layout.leg_volts / (place.rated_amps or _ANY_AMPS)
    conductor = _WARM * spread / 3
    return 3 * conductor + windings, conductor, windings
