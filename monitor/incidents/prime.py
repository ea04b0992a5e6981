"""The source: hertz and volts against its load. Overload, fuel or governor, and what went before it stopped."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, replace
from statistics import fmean, median
from typing import TYPE_CHECKING

from monitor.electrical.supply import hertz_band, performance
from monitor.incidents.cases import Case, Register
from monitor.incidents.losses import HIDES
from monitor.incidents.model import Kind
from monitor.show.model import SOURCE_ID, Point

if TYPE_CHECKING:
    from monitor.alarms.conditions.layout import Layout
    from monitor.incidents.traces import Board, Trace

_STIR, _STIRRED_MS = 0.004, 45_000  # hertz that move by this share are looked at for so long
_AT_SPEED, _AT_SPEED_MS = 0.05, 6000
_FULL, _MODEST = 0.90, 0.85  # of the rating
_STEP = 0.08  # of the load
_MOVED = 0.02  # of nominal volts
_VOLTS_FALL, _HERTZ_FALL = 0.03, 0.02
_IDLE = 0.02  # of the rating: no load
_SHORTEST_MS, _WAIT_MS = 5500, 8000
_HUNT_MS, _HUNT_HERTZ, _HUNT_TIMES, _HUNT_BAND, _HUNT_TURNS = 30_000, 0.3, 3.0, 0.45, 3
_FLAT = 0.10  # of the load: no load step
_CLOSE_MS = 10_000
_DECLINE, _SWING = 0.012, 0.013  # of nominal hertz, before a stop
_DECLINES = 4
_HZ_HIDES = frozenset({Kind.UNDERVOLTAGE_SOURCE, Kind.UNDERVOLTAGE_RUN, Kind.OVERVOLTAGE, Kind.SOURCE_STOPPED})


@dataclass(frozen=True, slots=True)
class Load:
    """What the source gave over a stretch.

    Attributes:
        watts: [W]; volts times amps where watts are not measured.
        volt_amperes: [VA].
        whole: whether all of it is metered; else it is a lower bound.
        share: of its ratings, the higher one; None without a rating.

    """

    watts: float
    volt_amperes: float
    whole: bool
    share: float | None


class Prime:
    """The source of a show.

    Attributes:
        coming: it is running up, or down with nothing on: nobody's limits apply.

    """

    def __init__(self, layout: Layout, board: Board, register: Register) -> None:
        self._layout, self._board, self._register = layout, board, register
        source = self._source = layout.show.source
        place = layout.places[SOURCE_ID]
        self._own = [board.of[point] for point in place.own.values()] if len(place.own) == len(place.legs) else []
        self._circuits = [[board.of[point] for point in c.points] for c in layout.circuits]
        self._whole = bool(self._own) or place.all_metered
        self._readers = sorted(board.powered, key=lambda t: t.place != SOURCE_ID)
        self._generator = source.kind == "generator"
        self._speaks = self._generator and source.governor != "inverter"
        band, usual = hertz_band(source), hertz_band(replace(source, performance_class=None))
        self._low = min(band.low or 0.0, source.hertz * layout.show.setting("hertz_low_percent") / 100)
        self._high = max(
            band.high or 0.0, usual.high or 0.0, source.hertz * layout.show.setting("hertz_high_percent") / 100
        )
        known = performance(source.performance_class) or performance("G1")
        self._recovery_ms = 1000 * (known.recovery_hertz_s if known else 10.0)
        self._width = source.hertz * (known.steady_band if known else 2.5) / 100
        self._stir = max(_STIR * source.hertz, 0.55 * self._width)
        self._hertz: deque[tuple[int, float]] = deque(maxlen=150)
        self._slow: float | None = None
        self._stir_ms = -(10**9)
        self._part: float | None = None
        self._watched: Trace | None = None
        self._bars = (0.0, 0.0)
        self._speed_ms: int | None = None
        self._good_ms = 0
        self._base_std = 0.0
        self._case: Case | None = None
        self.coming = True

    def observe(self) -> None:
        """Take one moment."""
        board = self._board
        if board.resumed:
            self._hertz.clear()
            self._slow, self._speed_ms, self._case = None, None, None
            self._stir_ms = -(10**9)
        hertz = self._take()
        self._follow(hertz)
        if self._case is not None:
            self._end()
        if self.coming or not self._generator or self._case is not None:
            return
        if board.odd or board.time_ms - self._stir_ms < _STIRRED_MS:
            self._look()

    def _take(self) -> float | None:
        """Take the newest hertz."""
        for trace in self._readers:
            if trace.live and trace.powered and (hertz := trace.samples[-1][1].hertz):
                if not self._hertz or trace.heard_ms > self._hertz[-1][0] + 400:  # noqa: PLR2004 - one a moment
                    self._hertz.append((trace.heard_ms, hertz))
                    if self._slow is None:
                        self._slow = hertz
                    if abs(hertz - self._slow) > self._stir:
                        self._stir_ms = self._board.time_ms
                    self._slow += 0.05 * (hertz - self._slow)
                self._watch_volts(trace)
                return hertz
        return None

    def _watch_volts(self, trace: Trace) -> None:
        """See whether the volts of a point move: an inverter's hertz don't tell."""
        part = (trace.volts or 0.0) / trace.nominal
        if self._part is None or self._watched is not trace:
            self._part, self._watched = part, trace
        if abs(part - self._part) > _MOVED:
            self._stir_ms = self._board.time_ms
        self._part += 0.03 * (part - self._part)

    def _follow(self, hertz: float | None) -> None:
        """Follow the source up to its speed and down from it."""
        board, nominal = self._board, self._source.hertz
        if self.coming or hertz is None:
            powered = any(board.standing(t) for t in self._readers)
            at_speed = powered and (hertz is None or abs(hertz / nominal - 1) <= _AT_SPEED)
            if not at_speed:
                self._speed_ms, self.coming = None, True
                return
            if self._speed_ms is None:
                self._speed_ms = board.time_ms
            up = not self._generator or board.time_ms - self._speed_ms >= _AT_SPEED_MS
            self.coming = not up
        elif self._speaks and abs(hertz / nominal - 1) > _AT_SPEED and self._idle():
            self._speed_ms, self.coming = None, True

    def _idle(self) -> bool:
        load = self.load(self._board.time_ms - 15_000, self._board.time_ms)
        if load is None:
            return False
        rated = self._source.rated_kw or self._source.rated_kva
        return load.volt_amperes < (1000 * _IDLE * rated if rated else 100.0)

    def load(self, begin_ms: float, end_ms: float) -> Load | None:
        """Give the middle load of a stretch; None where nothing of it is known."""
        watts = apparent = 0.0
        known, whole = False, self._whole
        groups = [[trace] for trace in self._own] or self._circuits
        for group in groups:
            for trace in group:
                power = _power(trace, begin_ms, end_ms)
                if power is None:
                    whole = False
                    continue
                known = True
                watts, apparent = watts + power[0], apparent + power[1]
        if not known:
            return None
        source = self._source
        shares = [watts / 1000 / source.rated_kw] if source.rated_kw else []
        shares += [apparent / 1000 / source.rated_kva] if source.rated_kva else []
        return Load(watts, apparent, whole, max(shares, default=None))

    def _volts(self, begin_ms: float, end_ms: float) -> float | None:
        """Give the source's volts over a stretch, as a share of nominal."""
        traces = self._own or [t for t in self._readers if t.powered]
        shares = [
            median(volts) / t.nominal
            for t in traces
            if (volts := [v.volts for _, v in t.between(begin_ms, end_ms) if v.volts is not None])
        ]
        return max(shares) if shares else None  # what stands lower has a run before it

    def _since(self, beyond: str) -> int:
        """Give for how long the hertz have stood beyond a limit without a break [ms]."""
        first = None
        for at, hertz in reversed(self._hertz):
            if not (hertz < self._low if beyond == "low" else hertz > self._high):
                break
            first = at
        return 0 if first is None else self._hertz[-1][0] - first

    def _look(self) -> None:
        now = self._board.time_ms
        load = _higher(self.load(now - 6000, now), self.load(now - 30_000, now - 12_000))
        full = load is not None and load.share is not None and load.share >= _FULL
        if full and load is not None and self._overloaded(load):
            return
        if not self._speaks or len(self._hertz) < _DECLINES:
            return
        wait = max(_WAIT_MS, self._recovery_ms + 3000)
        for beyond in ("low", "high"):
            lasted = self._since(beyond)
            if lasted >= wait:
                self._governor(load, self._hertz[-1][0] - lasted, beyond)
                return
        self._hunting(load)

    def _overloaded(self, load: Load) -> bool:
        """Look for hertz or volts that fell under a load near or above the rating."""
        now = self._board.time_ms
        signs = self._falls(
            now, _SHORTEST_MS if not self._stepped(now) else max(_SHORTEST_MS, self._recovery_ms + 1000)
        )
        over = (load.share or 0.0) >= 1.0
        if not signs or (not over and len(signs) < 2):  # noqa: PLR2004 - both of them
            return False
        begin = self._fell_ms(now)
        case = Case(Kind.SOURCE_OVERLOAD, SOURCE_ID, self._points(), begin, begin - 1000, 0.85 if over else 0.7)
        case.covers = _HZ_HIDES
        self._tell_load(case, load, "for")
        for sign in signs:
            case.shows(sign)
        case.alternatives = {Kind.FUEL_OR_GOVERNOR: 0.1, Kind.UNDERVOLTAGE_SOURCE: 0.05}
        if len(signs) == 1 and "Hz" in signs[0]:
            case.alternatives[Kind.FUEL_OR_GOVERNOR] = 0.2
        self._bars = (0.5 * (1 - _HERTZ_FALL) + 0.5) * self._source.hertz, 1 - _VOLTS_FALL * 0.8
        self._open(case)
        return True

    def _stepped(self, now: int) -> bool:
        """Say whether load came on a moment ago: a set takes its class's time to come back."""
        last, before = self.load(now - 4000, now), self.load(now - 30_000, now - 18_000)
        if last is None or before is None:
            return False
        return last.volt_amperes - before.volt_amperes > _STEP * max(before.volt_amperes, last.volt_amperes)

    def _falls(self, now: int, lasting_ms: float) -> list[str]:
        signs = []
        if self._speaks:
            base = [h for at, h in self._hertz if at <= now - 30_000] or [self._source.hertz]
            level = median(base[-60:])
            last = [h for at, h in self._hertz if at >= now - lasting_ms]
            low = min(level, self._source.hertz) * (1 - _HERTZ_FALL)
            low = min(low, self._low) if self._source.governor == "droop" else low
            if len(last) >= _DECLINES and max(last) < low:
                signs.append(f"the source fell from {level:.2f} Hz to {median(last):.2f} Hz")
        before, volts = self._volts(now - 120_000, now - 30_000), self._volts(now - lasting_ms, now)
        recent = self._volts(now - lasting_ms, now - lasting_ms / 2)
        if volts is not None and recent is not None:
            level_v = 1.0 if before is None else min(before, 1.0)
            if max(volts, recent) < level_v - _VOLTS_FALL:
                signs.append(f"its volts fell from {100 * level_v:.1f} % to {100 * volts:.1f} % of nominal")
        return signs

    def _fell_ms(self, now: int) -> int:
        """Give the first moment at which hertz or volts left where they were [ms]."""
        level = median([h for at, h in self._hertz if at <= now - 30_000] or [self._source.hertz])
        begin = now
        for at, hertz in reversed(self._hertz):
            if hertz > level * (1 - _HERTZ_FALL / 2):
                break
            begin = at
        lows = [t.low_ms for t in self._board.powered if t.low_ms is not None]
        return min([begin, *lows])

    def _governor(self, load: Load | None, begin: int, beyond: str) -> None:
        case = Case(Kind.FUEL_OR_GOVERNOR, SOURCE_ID, self._points(), begin, begin - 1000, 0.75)
        hertz = self._hertz[-1][1]
        limit = self._low if beyond == "low" else self._high
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
        source = self._source
        rated = [f"{source.rated_kw:g} kW"] if source.rated_kw else []
        rated += [f"{source.rated_kva:g} kVA"] if source.rated_kva else []
        least = "" if load.whole else "at least "
        case.shows(
            f"it gave {least}{load.watts / 1000:.1f} kW, {load.volt_amperes / 1000:.1f} kVA, {100 * (load.share or 0):.0f} %"
            f" of its rating of {' and '.join(rated)}",
            speaks,
        )

    def _hunting(self, load: Load | None) -> None:
        now = self._board.time_ms
        last = [h for at, h in self._hertz if at > now - _HUNT_MS]
        before = [h for at, h in self._hertz if now - 120_000 < at <= now - _HUNT_MS - 5000]
        if len(last) < 10 or self._board.time_ms - (self._speed_ms or 0) < _HUNT_MS + _AT_SPEED_MS:  # noqa: PLR2004
            return
        usual = _spread(before) if len(before) >= 15 else 0.0  # noqa: PLR2004 - a usual spread
        limit = max(_HUNT_HERTZ, _HUNT_TIMES * usual, _HUNT_BAND * self._width)
        std = _spread(last)
        if std <= limit or _turns(last, 1.5 * limit) < _HUNT_TURNS or not self._flat(now):
            return
        usual_hz = median(before or last)
        begin = next((at for at, h in self._hertz if at > now - _HUNT_MS and abs(h - usual_hz) > limit), now)
        case = Case(Kind.FUEL_OR_GOVERNOR, SOURCE_ID, self._points(), begin, begin - 1000, 0.7)
        case.shows(
            f"its hertz hunt between {min(last):.2f} and {max(last):.2f} Hz at an unchanged load,"
            f" {std:.2f} Hz of spread against {usual:.2f} Hz before"
        )
        case.alternatives = {Kind.SOURCE_OVERLOAD: 0.1}
        self._doubt(case, load)
        self._open(case)

    def _flat(self, now: int) -> bool:
        loads = [self.load(now - _HUNT_MS - 10_000 + 5000 * n, now - _HUNT_MS - 5000 + 5000 * n) for n in range(8)]
        watts = [one.watts for one in loads if one is not None]
        rated = 1000 * (self._source.rated_kw or self._source.rated_kva or 0.0)
        return not watts or max(watts) - min(watts) <= max(_FLAT * max(watts), 0.06 * rated)

    def _points(self) -> tuple[Point, ...]:
        return (Point(SOURCE_ID), *(t.point for t in self._own if t.point != Point(SOURCE_ID)))

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
            return
        self._case = self._register.open(case)
        self._good_ms = 0

    def _end(self) -> None:
        """End the case once hertz and volts are back for a while; without power it lasts."""
        case, now = self._case, self._board.time_ms
        if case is None or case.closed:
            self._case = None
            return
        standing = [t for t in (self._own or self._readers) if self._board.standing(t)]
        if not standing:
            self._good_ms = 0
            return
        hertz = self._hertz[-1][1] if self._hertz else self._source.hertz
        low = False
        if case.kind is Kind.SOURCE_OVERLOAD:
            volts = self._volts(now - 3000, now)
            low = (volts or 0.0) < self._bars[1] or (
                self._speaks and hertz < self._bars[0] and self._source.governor != "droop"
            )
        last = [h for at, h in self._hertz if at > now - _CLOSE_MS]
        hunts = case.kind is Kind.FUEL_OR_GOVERNOR and len(last) > 1 and max(last) - min(last) > _HUNT_HERTZ * 2
        good = not low and not hunts and (not self._speaks or self._low <= hertz <= self._high)
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
        load = self.load(end - 8000, end + 500)
        hertz = [h for at, h in self._hertz if end - 60_000 <= at <= case.begin_ms]
        older = [h for at, h in self._hertz if at < end - 20_000]
        base = median(older or hertz or [self._source.hertz])
        if load is not None and load.share is not None and load.whole:
            self._tell_load(case, load, "beside")
        over = load is not None and load.share is not None and load.share >= 1.02  # noqa: PLR2004 - above its rating
        declines = 0
        for one in reversed(hertz):
            if one > base - max(_DECLINE * self._source.hertz, 0.6 * self._width):
                break
            declines += 1
        least = max(_SWING * self._source.hertz, 1.3 * self._width)
        swings = _turns(hertz[-25:], least) if self._speaks else 0
        usual = _turns(older[-25:], least) if self._speaks else 0
        if over:
            case.kind, case.confidence = Kind.SOURCE_OVERLOAD, 0.65
            case.alternatives = {Kind.SOURCE_STOPPED: 0.25, Kind.FUEL_OR_GOVERNOR: 0.05}
        elif self._speaks and (declines >= _DECLINES or (swings >= 2 and swings > usual)):  # noqa: PLR2004
            case.kind, case.confidence = Kind.FUEL_OR_GOVERNOR, 0.7
            case.alternatives = {Kind.SOURCE_STOPPED: 0.2, Kind.SOURCE_OVERLOAD: 0.08}
            shown = ", ".join(f"{h:.1f}" for h in hertz[-8:])
            case.shows(f"before it stopped its hertz went {shown}, {base:.2f} Hz usually")
            case.misses("fuel, air, filters and the governor itself are not measured")
        elif hertz and self._speaks:
            case.shows(f"{hertz[-1]:.2f} Hz in the last sample, {base:.2f} Hz usually", "beside")


def _power(trace: Trace, begin_ms: float, end_ms: float) -> tuple[float, float] | None:
    """Give the middle watts and volt-amperes of a stretch."""
    samples = [v for _, v in trace.between(begin_ms, end_ms)]
    products = sorted(v.volts * v.amps for v in samples if v.volts is not None and v.amps is not None)
    watts = sorted(abs(v.watts) for v in samples if v.watts is not None)
    if not products and not watts:
        return None
    apparent = products[len(products) // 2] if products else watts[len(watts) // 2]
    real = watts[len(watts) // 2] if watts else apparent
    return real, max(real, apparent)


def _higher(first: Load | None, second: Load | None) -> Load | None:
    """Give the higher load: what it gave before its volts fell counts too."""
    known = [one for one in (first, second) if one is not None]
    return max(known, key=lambda one: (one.share or 0.0, one.volt_amperes)) if known else None


def _spread(values: list[float]) -> float:
    middle = fmean(values)
    return (fmean([(value - middle) ** 2 for value in values])) ** 0.5


def _turns(values: list[float], least: float) -> int:
    """Count how often values turn by at least so much."""
    if not values:
        return 0
    turns, way, extreme = 0, 0, values[0]
    for value in values:
        if (value - extreme) * way > 0 or (way == 0 and abs(value - extreme) >= least):
            way = way or (1 if value > extreme else -1)
            extreme = value
        elif way and (extreme - value) * way >= least:
            turns, way, extreme = turns + 1, -way, value
    return turns
