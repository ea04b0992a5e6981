"""What the source's meters show: its hertz and volts over time, its load, whether it is up to speed."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, replace
from itertools import islice
from statistics import median
from typing import TYPE_CHECKING, Literal

from monitor.electrical.supply import hertz_band, performance
from monitor.show.model import SOURCE_ID

if TYPE_CHECKING:
    from monitor.alarms.conditions.layout import Layout
    from monitor.incidents.traces import Board, Trace

_STIR, _STIRRED_MS = 0.004, 45_000  # hertz that move by this share are looked at for so long
_AT_SPEED, _AT_SPEED_MS = 0.05, 6000
_ONE_MS = 400  # several points at one moment give one sample
_STEP = 0.08  # of the load
_MOVED = 0.02  # of nominal volts
_VOLTS_FALL, _HERTZ_FALL = 0.03, 0.02
_IDLE = 0.02  # of the rating: no load
_FEW = 4
_USUAL_BAND = 1.5  # % of nominal hertz, class G2: the usual towed set's
_BOTH, _LIKE = 110.0, 0.01  # 50 and 60 Hz together
_BEFORE_MS = (120_000, 30_000)  # before now: what counts as "before" a fall


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


class Gauge:
    """The source as its meters show it, or where it has none, the meters of the circuits.

    Attributes:
        source: as in the show.
        own: points of its legs, where all are metered.
        hertz: (time [ms], hertz [Hz]), oldest first.
        speaks: whether its hertz tell of its load: not an inverter's, not a house's.
        low: hertz below this are low [Hz].
        high: hertz above this are high [Hz].
        recovery_ms: what its class allows after a load step [ms].
        width: of its class's steady band [Hz]; of class G2's where the show names none.
        classed: whether the show names its class.
        coming: it is running up, or down with nothing on: nobody's limits apply.

    """

    def __init__(self, layout: Layout, board: Board) -> None:
        self._board = board
        source = self.source = layout.show.source
        place = layout.places[SOURCE_ID]
        self.own = [board.of[point] for point in place.own.values()] if len(place.own) == len(place.legs) else []
        self._loads = self.own or [board.of[point] for c in layout.circuits for point in c.points]
        self._whole = bool(self.own) or place.all_metered
        legs_amps = place.rated_amps * len(place.legs) if place.rated_amps else None
        self._leg_va = legs_amps * layout.leg_volts if legs_amps else None
        self.readers = sorted(board.powered, key=lambda t: t.place != SOURCE_ID)
        self.speaks = source.kind == "generator" and source.governor != "inverter"
        band, usual = hertz_band(source), hertz_band(replace(source, performance_class=None))
        low, high = (source.hertz * layout.show.setting(f"hertz_{side}_percent") / 100 for side in ("low", "high"))
        self.low = min(band.low or 0.0, low)
        self.high = max(band.high or 0.0, usual.high or 0.0, high)
        known = performance(source.performance_class) or performance("G1")
        self.recovery_ms = 1000 * (known.recovery_hertz_s if known else 10.0)
        named = performance(source.performance_class)
        band_percent = named.steady_band if named else _USUAL_BAND
        self.classed = named is not None
        self.width = source.hertz * band_percent / 100
        self._stir = max(_STIR * source.hertz, 0.55 * self.width)
        self.hertz: deque[tuple[int, float]] = deque(maxlen=150)
        self.speed_ms: int | None = None
        self.coming = True
        self.forget()

    def forget(self) -> None:
        """Forget everything: nothing is known of the time before."""
        self.hertz.clear()
        self._slow: float | None = None
        self._stir_ms = -(10**9)
        self._dark = False
        self._part: float | None = None
        self._watched: Trace | None = None
        self.speed_ms = None

    def observe(self) -> None:
        """Take one moment."""
        if self._board.resumed:
            self.forget()
        self._follow(self._take())

    @property
    def stirred(self) -> bool:
        """Whether hertz or volts moved lately."""
        return self._board.time_ms - self._stir_ms < _STIRRED_MS

    @property
    def foreign(self) -> bool:
        """Whether its hertz stand at the other of the world's two frequencies since it came: another service."""
        other = _BOTH - self.source.hertz
        first = [hertz for _, hertz in islice(self.hertz, _FEW)]
        last = self.hertz[-1][1] if self.hertz else 0.0
        return len(first) == _FEW and all(abs(hertz / other - 1) <= _LIKE for hertz in (*first, last))

    def _take(self) -> float | None:
        """Take the newest hertz."""
        for trace in self.readers:
            if trace.live and trace.powered and (hertz := trace.samples[-1][1].hertz):
                if not self.hertz or trace.heard_ms > self.hertz[-1][0] + _ONE_MS:
                    self.hertz.append((trace.heard_ms, hertz))
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
        board, nominal = self._board, self.source.hertz
        if self.coming or hertz is None:
            powered = any(board.standing(t) for t in self.readers)
            at_speed = powered and (hertz is None or self.foreign or abs(hertz / nominal - 1) <= _AT_SPEED)
            if powered and self._dark:
                self.hertz.clear()  # what it did before it stopped is told by now
            self._dark = not powered
            if not at_speed:
                self.speed_ms, self.coming = None, True
                return
            if self.speed_ms is None:
                self.speed_ms = board.time_ms
            self.coming = board.time_ms - self.speed_ms < _AT_SPEED_MS
        elif self.speaks and not self.foreign and abs(hertz / nominal - 1) > _AT_SPEED and self._idle():
            self.speed_ms, self.coming = None, True

    def _idle(self) -> bool:
        load = self.load(self._board.time_ms - 15_000, self._board.time_ms)
        if load is None:
            return False
        rated = self.source.rated_kw or self.source.rated_kva
        return load.volt_amperes < (1000 * _IDLE * rated if rated else 100.0)

    def load(self, begin_ms: float, end_ms: float) -> Load | None:
        """Give the middle load of a stretch; None where nothing of it is known."""
        watts = apparent = 0.0
        known, whole = False, self._whole
        for trace in self._loads:
            power = _power(trace, begin_ms, end_ms)
            if power is None:
                whole = False
                continue
            known = True
            watts, apparent = watts + power[0], apparent + power[1]
        if not known:
            return None
        source = self.source
        shares = [watts / 1000 / source.rated_kw] if source.rated_kw else []
        shares += [apparent / 1000 / source.rated_kva] if source.rated_kva else []
        shares += [apparent / self._leg_va] if self._leg_va and not shares else []
        return Load(watts, apparent, whole, max(shares, default=None))

    def volts(self, begin_ms: float, end_ms: float) -> float | None:
        """Give the source's volts over a stretch, as a share of nominal."""
        traces = self.own or [t for t in self.readers if t.powered]
        shares = [
            median(volts) / t.nominal
            for t in traces
            if (volts := [v.volts for _, v in t.between(begin_ms, end_ms) if v.volts is not None])
        ]
        return max(shares) if shares else None  # what stands lower has a run before it

    def since(self, beyond: Literal["low", "high"]) -> int:
        """Give for how long the hertz have stood beyond a limit without a break [ms]."""
        first = None
        for at, hertz in reversed(self.hertz):
            if not (hertz < self.low if beyond == "low" else hertz > self.high):
                break
            first = at
        return 0 if first is None else self.hertz[-1][0] - first

    def stepped(self, now: int) -> bool:
        """Say whether load came on a moment ago: a set takes its class's time to come back."""
        last, before = self.load(now - 4000, now), self.load(now - 30_000, now - 18_000)
        if last is None or before is None:
            return True  # nothing is known of the time before
        return last.volt_amperes - before.volt_amperes > _STEP * max(before.volt_amperes, last.volt_amperes)

    def falls(self, now: int, lasting_ms: float) -> list[str]:
        """Say how hertz and volts stand lower than before, all through the last ``lasting_ms`` [ms]."""
        signs = []
        if self.speaks:
            base = [h for at, h in self.hertz if at <= now - _BEFORE_MS[1]] or [self.source.hertz]
            level = median(base[-60:])
            last = [h for at, h in self.hertz if at >= now - lasting_ms]
            low = min(level, self.source.hertz) * (1 - _HERTZ_FALL)
            low = min(low, self.low) if self.source.governor == "droop" else low
            if len(last) >= _FEW and max(last) < low:
                signs.append(f"the source fell from {level:.2f} Hz to {median(last):.2f} Hz")
        before, volts = self.volts(now - _BEFORE_MS[0], now - _BEFORE_MS[1]), self.volts(now - lasting_ms, now)
        recent = self.volts(now - lasting_ms, now - lasting_ms / 2)
        if volts is not None and recent is not None:
            level_v = 1.0 if before is None else min(before, 1.0)
            if max(volts, recent) < level_v - _VOLTS_FALL:
                signs.append(f"its volts fell from {100 * level_v:.1f} % to {100 * volts:.1f} % of nominal")
        return signs

    def fell_ms(self, now: int) -> int:
        """Give the first moment at which hertz or volts left where they were [ms]."""
        level = median([h for at, h in self.hertz if at <= now - _BEFORE_MS[1]] or [self.source.hertz])
        begin = now
        for at, hertz in reversed(self.hertz):
            if hertz > level * (1 - _HERTZ_FALL / 2):
                break
            begin = at
        lows = [t.low_ms for t in self._board.powered if t.low_ms is not None]
        return min([begin, *lows])


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
