"""The source: hertz and volts against its load. Overload, fuel or governor, and what went before it stopped."""

from __future__ import annotations

from math import sqrt
from statistics import fmean, median
from typing import TYPE_CHECKING, Literal

from monitor.incidents.cases import Case, Register
from monitor.incidents.gauge import Gauge
from monitor.incidents.losses import HIDES
from monitor.incidents.model import Kind
from monitor.show.model import SOURCE_ID, Point

if TYPE_CHECKING:
    from monitor.alarms.conditions.layout import Layout
    from monitor.incidents.gauge import Load
    from monitor.incidents.traces import Board

_FULL, _MODEST = 0.90, 0.85  # of the rating
_SUNK = 0.9  # of nominal volts: deeper, and what the load would have been is a guess
_VOLTS_FALL, _HERTZ_FALL = 0.03, 0.02
_SHORTEST_MS, _WAIT_MS = 5500, 8000
_HUNT_MS, _HUNT_HERTZ, _HUNT_TIMES, _HUNT_BAND, _HUNT_TURNS = 30_000, 0.3, 3.0, 0.45, 3
_HUNT_FEW, _USUAL_FEW = 8, 15  # samples that show a spread
_FLAT = 0.10  # of the load: no load step
_CLOSE_MS = 10_000
_OFTEN_MS, _SELDOM_MS = 2000, 4000  # how often it is looked at while something moves, and while it stands
_UP_MS = 6000  # after it came to its speed
_DECLINE, _SWING = 0.012, 0.013  # of nominal hertz, before a stop
_DECLINES = 4
_HZ_HIDES = frozenset({Kind.UNDERVOLTAGE_SOURCE, Kind.UNDERVOLTAGE_RUN, Kind.OVERVOLTAGE, Kind.SOURCE_STOPPED})


class Prime:
    """The source of a show."""

    def __init__(self, layout: Layout, board: Board, register: Register) -> None:
        self._board, self._register = board, register
        self._gauge = Gauge(layout, board)
        self._generator = layout.show.source.kind == "generator"
        self._bars = (0.0, 0.0)
        self._good_ms = 0
        self._case: Case | None = None

    @property
    def coming(self) -> bool:
        """Whether the source is running up, or down with nothing on: nobody's limits apply."""
        return self._gauge.coming

    def observe(self) -> None:
        """Take one moment."""
        board = self._board
        if board.resumed:
            self._case = None
        self._gauge.observe()
        if self._case is not None:
            self._end()
        if self.coming or not self._generator or self._case is not None or self._gauge.foreign:
            return
        every_ms = _OFTEN_MS if self._gauge.stirred else _SELDOM_MS if board.odd else 0
        if every_ms and board.time_ms % every_ms == 0:
            self._look()

    def _look(self) -> None:
        now = self._board.time_ms
        load = _higher(self._gauge.load(now - 6000, now), self._gauge.load(now - 30_000, now - 12_000))
        sunk = min(1.0, max(_SUNK, self._gauge.volts(now - 6000, now) or 1.0))  # a load sinks with its volts
        full = load is not None and load.share is not None and load.share >= _FULL * sunk
        if full and load is not None and self._overloaded(load):
            return
        if not self._gauge.speaks or len(self._gauge.hertz) < _DECLINES:
            return
        wait = max(_WAIT_MS, self._gauge.recovery_ms + 3000)
        sides: tuple[Literal["low", "high"], ...] = ("low", "high")
        for beyond in sides:
            lasted = self._gauge.since(beyond)
            if lasted >= wait:
                self._governor(load, self._gauge.hertz[-1][0] - lasted, beyond)
                return
        self._hunting(load)

    def _overloaded(self, load: Load) -> bool:
        """Look for hertz or volts that fell under a load near or above the rating."""
        now = self._board.time_ms
        signs = self._gauge.falls(
            now, _SHORTEST_MS if not self._gauge.stepped(now) else max(_SHORTEST_MS, self._gauge.recovery_ms + 1000)
        )
        over = (load.share or 0.0) >= 1.0
        if not signs or (not over and len(signs) < 2):  # noqa: PLR2004 - both of them
            return False
        begin = self._gauge.fell_ms(now)
        case = Case(Kind.SOURCE_OVERLOAD, SOURCE_ID, self._points(), begin, begin - 1000, 0.85 if over else 0.7)
        case.covers = _HZ_HIDES
        self._tell_load(case, load, "for")
        for sign in signs:
            case.shows(sign)
        case.alternatives = {Kind.FUEL_OR_GOVERNOR: 0.1, Kind.UNDERVOLTAGE_SOURCE: 0.05}
        case.misses("what the engine could give at that moment: fuel, air, heat and altitude are not measured")
        if len(signs) == 1 and "Hz" in signs[0]:
            case.alternatives[Kind.FUEL_OR_GOVERNOR] = 0.2
        self._bars = (0.5 * (1 - _HERTZ_FALL) + 0.5) * self._gauge.source.hertz, 1 - _VOLTS_FALL * 0.8
        self._open(case)
        return True

    def _governor(self, load: Load | None, begin: int, beyond: str) -> None:
        case = Case(Kind.FUEL_OR_GOVERNOR, SOURCE_ID, self._points(), begin, begin - 1000, 0.75)
        hertz = self._gauge.hertz[-1][1]
        limit = self._gauge.low if beyond == "low" else self._gauge.high
        case.shows(f"the source runs at {hertz:.2f} Hz, limit {limit:.2f} Hz")
        case.alternatives = {Kind.SOURCE_OVERLOAD: 0.1}
        self._doubt(case, load)
        self._open(case)

    def _doubt(self, case: Case, load: Load | None) -> None:
        """Say what the load speaks for."""
        if load is None or load.share is None:
            case.confidence = 0.6
            case.alternatives = {Kind.SOURCE_OVERLOAD: 0.25}
            case.misses("the source's load or its rating is not known: an overload can't be told apart")
        else:
            self._tell_load(case, load, "for" if load.share < _MODEST else "against")
            if load.share >= _MODEST:
                case.confidence = 0.5
                case.alternatives = {Kind.SOURCE_OVERLOAD: 0.4}
            if not load.whole:
                case.misses("not all of the source's load is metered: it may carry more")
        case.misses("fuel, air, filters and the governor itself are not measured")

    def _tell_load(self, case: Case, load: Load, speaks: str) -> None:
        source = self._gauge.source
        rated = [f"{source.rated_kw:g} kW"] if source.rated_kw else []
        rated += [f"{source.rated_kva:g} kVA"] if source.rated_kva else []
        least = "" if load.whole else "at least "
        gave = f"{least}{load.watts / 1000:.1f} kW, {load.volt_amperes / 1000:.1f} kVA"
        case.shows(f"it gave {gave}, {100 * (load.share or 0):.0f} % of its rating of {' and '.join(rated)}", speaks)

    def _hunting(self, load: Load | None) -> None:
        now = self._board.time_ms
        last = [h for at, h in self._gauge.hertz if at > now - _HUNT_MS]
        before = [h for at, h in self._gauge.hertz if now - 120_000 < at <= now - _HUNT_MS - 5000]
        if len(last) < _HUNT_FEW or self._board.time_ms - (self._gauge.speed_ms or 0) < _HUNT_MS + _UP_MS:
            return
        usual = _spread(before) if len(before) >= _USUAL_FEW else None
        band = _HUNT_BAND * self._gauge.width if self._gauge.classed or usual is None else 0.0
        limit = max(_HUNT_HERTZ, _HUNT_TIMES * (usual or 0.0), band)
        std = _spread(last)
        if std <= limit or _turns(last, 1.5 * limit) < _HUNT_TURNS or not self._flat(now):
            return
        usual_hz = median(before or last)
        begin = next((at for at, h in self._gauge.hertz if at > now - _HUNT_MS and abs(h - usual_hz) > limit), now)
        case = Case(Kind.FUEL_OR_GOVERNOR, SOURCE_ID, self._points(), begin, begin - 1000, 0.7)
        case.shows(
            f"its hertz hunt between {min(last):.2f} and {max(last):.2f} Hz at an unchanged load,"
            f" {std:.2f} Hz of spread" + (f" against {usual:.2f} Hz before" if usual is not None else "")
        )
        case.alternatives = {Kind.SOURCE_OVERLOAD: 0.1}
        self._doubt(case, load)
        self._open(case)

    def _flat(self, now: int) -> bool:
        loads = [
            self._gauge.load(now - _HUNT_MS - 10_000 + 5000 * n, now - _HUNT_MS - 5000 + 5000 * n) for n in range(8)
        ]
        watts = [one.watts for one in loads if one is not None]
        rated = 1000 * (self._gauge.source.rated_kw or self._gauge.source.rated_kva or 0.0)
        return not watts or max(watts) - min(watts) <= max(_FLAT * max(watts), 0.06 * rated)

    def _points(self) -> tuple[Point, ...]:
        return (Point(SOURCE_ID), *(t.point for t in self._gauge.own if t.point != Point(SOURCE_ID)))

    def _open(self, case: Case) -> None:
        known = self._register.at(SOURCE_ID, Kind.UNDERVOLTAGE_SOURCE, Kind.OVERVOLTAGE)
        case.covers = _HZ_HIDES
        if known is not None and known.end_ms is None:  # the same trouble, named better now
            known.kind, known.confidence, known.alternatives = case.kind, case.confidence, case.alternatives
            known.covers = case.covers
            for one in case.evidence:
                known.shows(one.text, one.speaks)
            known.misses(*case.not_shown)
            self._register.tell(known)
            self._case = known
        else:
            self._case = self._register.open(case)
        self._good_ms = 0

    def _end(self) -> None:
        """End the case once hertz and volts are back for a while; without power it lasts."""
        case, now = self._case, self._board.time_ms
        if case is None or case.closed:
            self._case = None
            return
        standing = [t for t in (self._gauge.own or self._gauge.readers) if self._board.standing(t)]
        if not standing:
            self._good_ms = 0
            return
        hertz = self._gauge.hertz[-1][1] if self._gauge.hertz else self._gauge.source.hertz
        low = False
        if case.kind is Kind.SOURCE_OVERLOAD:
            volts = self._gauge.volts(now - 3000, now)
            low = (volts or 0.0) < self._bars[1] or (
                self._gauge.speaks and hertz < self._bars[0] and self._gauge.source.governor != "droop"
            )
        last = [h for at, h in self._gauge.hertz if at > now - _CLOSE_MS]
        hunts = case.kind is Kind.FUEL_OR_GOVERNOR and len(last) > 1 and max(last) - min(last) > _HUNT_HERTZ * 2
        good = not low and not hunts and (not self._gauge.speaks or self._gauge.low <= hertz <= self._gauge.high)
        if not good:
            self._good_ms = 0
        elif not self._good_ms:
            self._good_ms = now
        elif now - self._good_ms >= _CLOSE_MS:
            self._register.end(case, self._good_ms)
            self._case = None

    def stopped(self, case: Case) -> Case | None:
        """Join a loss of everything to what was seen of the source before; None: it became part of a lasting case."""
        known = self._case
        if known is not None and not known.closed:
            for one in case.evidence:
                known.shows(one.text, one.speaks)
            known.points = tuple(dict.fromkeys((*known.points, *case.points)))
            known.covers = HIDES
            known.misses(*case.not_shown)
            self._register.tell(known)
            return None
        if self._generator:
            self._before_stop(case)
        return case

    def _before_stop(self, case: Case) -> None:
        end = case.earliest_ms
        load = self._gauge.load(end - 8000, end + 500)
        hertz = [h for at, h in self._gauge.hertz if end - 60_000 <= at <= case.begin_ms]
        older = [h for at, h in self._gauge.hertz if at < end - 20_000]
        base = median(older or hertz or [self._gauge.source.hertz])
        if load is not None and load.share is not None and load.whole:
            self._tell_load(case, load, "beside")
        over = load is not None and load.share is not None and load.share >= 1.02  # noqa: PLR2004 - above its rating
        declines = 0
        for one in reversed(hertz):
            if one > base - max(_DECLINE * self._gauge.source.hertz, 0.6 * self._gauge.width):
                break
            declines += 1
        least = max(_SWING * self._gauge.source.hertz, 1.3 * self._gauge.width)
        swings = _turns(hertz[-25:], least) if self._gauge.speaks else 0
        usual = _turns(older[-25:], least) if self._gauge.speaks else 0
        if over:
            case.kind, case.confidence = Kind.SOURCE_OVERLOAD, 0.65
            case.alternatives = {Kind.SOURCE_STOPPED: 0.25, Kind.FUEL_OR_GOVERNOR: 0.05}
        elif self._gauge.speaks and (declines >= _DECLINES or (swings >= 2 and swings > usual)):  # noqa: PLR2004
            case.kind, case.confidence = Kind.FUEL_OR_GOVERNOR, 0.7
            case.alternatives = {Kind.SOURCE_STOPPED: 0.2, Kind.SOURCE_OVERLOAD: 0.08}
            shown = ", ".join(f"{h:.1f}" for h in hertz[-8:])
            case.shows(f"before it stopped its hertz went {shown}, {base:.2f} Hz usually")
            case.misses("fuel, air, filters and the governor itself are not measured")
        elif hertz and self._gauge.speaks:
            case.shows(f"{hertz[-1]:.2f} Hz in the last sample, {base:.2f} Hz usually", "beside")


def _higher(first: Load | None, second: Load | None) -> Load | None:
    """Give the higher load: what it gave before its volts fell counts too."""
    known = [one for one in (first, second) if one is not None]
    return max(known, key=lambda one: (one.share or 0.0, one.volt_amperes)) if known else None


def _spread(values: list[float]) -> float:
    middle = fmean(values)
    return sqrt(fmean([(value - middle) ** 2 for value in values]))


def _turns(values: list[float], least: float) -> int:
    """Count how often values turn by at least so much."""
    turns, way = 0, 0
    low = high = values[0] if values else 0.0  # since the last turn
    for value in values:
        low, high = min(low, value), max(high, value)
        if way >= 0 and high - value >= least:
            turns, way, low, high = turns + (way > 0), -1, value, value
        elif way <= 0 and value - low >= least:
            turns, way, low, high = turns + (way < 0), 1, value, value
    return turns
