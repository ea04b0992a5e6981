"""A run whose drop per amp grows: both ends are read, its own past and its cable say what it should lose.

Every ten seconds each leg's drop is held against offset + factor x (what the cable explains): the offset is what the
two meters differ by, the factor what the run is to its table. Both are learned by Bayesian linear regression from what
lies a minute and a half back and more, so that a rise does not teach itself away; its predictive error is the doubt.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from math import sqrt
from statistics import median
from typing import TYPE_CHECKING

from monitor.electrical.cable import feeder_drop
from monitor.electrical.legs import lagging, on_legs
from monitor.show.model import Cable

if TYPE_CHECKING:
    from collections.abc import Sequence

    from monitor.alarms.conditions.layout import Layout, Place
    from monitor.incidents.traces import Board, Trace

BLOCK_MS = 10_000
_LAG, _KEPT = 9, 60  # blocks
_OFFSET, _NOISE = 0.004, 0.0012  # of nominal, one sigma: two meters' difference, what a block's drop wavers by
_FACTOR, _FACTOR_SIGMA, _UNKNOWN_SIGMA = 1.05, 0.6, 4.0  # of the table; of a run that the show doesn't describe
_STAND_IN = Cable(30.0, mm2=25.0)  # its shape alone counts
GROWN, _LEAST_OHMS, _SURE = 0.5, 0.015, 3.5  # of the run's own; the trade's least; errors
_RULES = ((30.0, 9), (10.0, 27))  # excess watts, blocks in a row
_MODEL = 0.04  # of the highest leg's drop: power factors and loads between legs are not known
_LEARNS_WATTS = 5.0
_UNSTEADY = 0.012  # of nominal, within a block: something moved
_LEARNS = 0.2  # of the run's own: more than warm copper adds is not learned
_RAMP = 0.25  # of the rise that was there before volts were low: it crept
_LEAST_VOLTS = 0.75  # of nominal
LEAST_AMPS = 3.0
_USUAL = 30  # blocks whose amps were usual
_CALM_AMPS = 1.25  # times the most amps of before: more is a heavier load


class _Line:
    """Offset and factor of one leg, as normal equations with priors."""

    def __init__(self, nominal: float, *, described: bool) -> None:
        noise = (_NOISE * nominal) ** 2
        sigma = _FACTOR_SIGMA if described else _UNKNOWN_SIGMA
        self._noise = noise
        self._a = noise / (_OFFSET * nominal) ** 2
        self._b = 0.0
        self._d = noise / sigma**2
        self._x, self._y = 0.0, _FACTOR * self._d

    def add(self, expected: float, dropped: float) -> None:
        """Learn one block."""
        self._a += 1.0
        self._b += expected
        self._d += expected**2
        self._x += dropped
        self._y += expected * dropped

    def predict(self, expected: float) -> tuple[float, float, float]:
        """Give the drop, its error (one sigma), and the factor's share of it [V]."""
        det = self._a * self._d - self._b**2
        offset = (self._d * self._x - self._b * self._y) / det
        factor = (self._a * self._y - self._b * self._x) / det
        variance = self._noise * (self._d - 2 * self._b * expected + self._a * expected**2) / det
        return offset + factor * expected, sqrt(max(variance, 0.0) + self._noise / 4), factor * expected


@dataclass(frozen=True, slots=True)
class Block:
    """Ten seconds of one run: what it lost above its own past [W, ohm, 1], its amps, and the legs that grew."""

    end_ms: int
    watts: float
    ohms: float
    share: float
    amps: float
    grown: tuple[str, ...]
    text: str


class Run:
    """One feeder's run."""

    def __init__(self, layout: Layout, board: Board, ends: tuple[Place, Place], cable: Cable | None) -> None:
        self._layout = layout
        self._upper, self.place = ends
        self._cable = cable or _STAND_IN
        self._described = cable is not None
        self._nominal = layout.leg_volts
        self.legs = self.place.legs
        self._near = [_readers(board, self._upper, leg) for leg in self.legs]
        self._far = [_readers(board, self.place, leg) for leg in self.legs]
        self._carry = [_carriers(board, self.place, leg) for leg in self.legs]
        self._lines = [_Line(self._nominal, described=self._described) for _ in self.legs]
        self._waiting: deque[tuple[list[float], list[float], float]] = deque()
        self.blocks: deque[Block] = deque(maxlen=_KEPT)
        self._learned = 0
        self._amps: deque[float] = deque(maxlen=_USUAL)
        self._steady = True
        self.readable = all(self._near) and all(self._far) and all(self._carry)

    @property
    def far_end(self) -> Trace:
        """Give a point at its far end."""
        return self._far[0][0]

    def forget(self) -> None:
        """Forget what waits: nothing is known of the time between."""
        self._waiting.clear()
        self.blocks.clear()

    def block(self, now: int) -> None:
        """Take the last ten seconds."""
        near, far, amps = (
            [_middle(leg, name, now) for leg in side]
            for side, name in ((self._near, "volts"), (self._far, "volts"), (self._carry, "amps"))
        )
        if None in near or None in far or None in amps:
            return
        dropped = [n - f for n, f in zip(near, far, strict=True) if n is not None and f is not None]
        load = [a for a in amps if a is not None]
        if min(f for f in far if f is not None) < _LEAST_VOLTS * self._nominal:
            return
        expected = self._expected(load)
        self._judge(now, expected, dropped, load)
        self._waiting.append((expected, dropped, max(load)))
        if len(self._waiting) > _LAG:
            expected, dropped, most = self._waiting.popleft()
            if self._steady:
                for line, e, d in zip(self._lines, expected, dropped, strict=True):
                    line.add(e, d)
                self._learned += 1
                self._amps.append(most)

    def _expected(self, load: list[float]) -> list[float]:
        system = self._layout.show.source.system
        by_leg = {leg: on_legs(system, (leg,), lagging(a))[leg] for leg, a in zip(self.legs, load, strict=True)}
        return [found.volts for found in feeder_drop(system, self._cable, by_leg).values()]

    def _judge(self, now: int, expected: list[float], dropped: list[float], load: list[float]) -> None:
        """Judge each leg by itself; the block keeps the worst one, and the watts of all that grew."""
        known = self._learned >= 3  # noqa: PLR2004 - half a minute of its own past: else nothing tells that it grew
        worst, grown, watts = (0.0, 0.0, 0.0), [], 0.0
        self._steady = True
        doubt = _MODEL * max(abs(e) for e in expected)
        for leg, line, e, d, a in zip(self.legs, self._lines, expected, dropped, load, strict=True):
            drop, error, own = line.predict(e)
            more, base = d - drop, abs(own)
            ohms = more / a if a > LEAST_AMPS else 0.0
            sure = known and more > _SURE * sqrt(error**2 + doubt**2)
            if sure and more > _LEARNS * base and a * more > _LEARNS_WATTS:
                self._steady = False
            if sure and ohms > _LEAST_OHMS and more > GROWN * base:
                grown.append(leg)
                watts += a * more
            worst = max(worst, (a * more, ohms, more / base if base > 0 else 0.0))
        figures = ", ".join(f"{leg} {d:.1f} V at {a:.0f} A" for leg, d, a in zip(self.legs, dropped, load, strict=True))
        self.blocks.append(Block(now, watts or worst[0], worst[1], worst[2], max(load), tuple(grown), figures))

    def rising(self) -> Block | None:
        """Give the newest block where the run has grown for long enough."""
        for least, count in _RULES:
            last = list(self.blocks)[-count:]
            good = [block for block in last if block.grown and block.watts >= least]
            if len(last) == count and len(good) >= count - 1 and self.blocks[-1].grown:
                return self.blocks[-1]
        return None

    @property
    def begin_ms(self) -> int:
        """When the last unbroken growth began [ms]."""
        begin = self.blocks[-1].end_ms
        for block in reversed(self.blocks):
            if not block.grown:
                break
            begin = block.end_ms - BLOCK_MS
        return begin

    def crept(self, low_ms: int) -> Block | None:
        """Give the newest block where the run's drop per amp had been growing before volts were low, at a like load."""
        now = self._now_block()
        before = [block for block in self.blocks if block.end_ms <= low_ms]
        if now is None or not now.grown or not before:
            return None
        heavier = bool(self._amps) and now.amps > _CALM_AMPS * max(self._amps)
        return now if before[-1].ohms >= _RAMP * now.ohms and not heavier else None

    def jumped(self) -> Block | None:
        """Give the newest block where the run loses more than its past explains."""
        now = self._now_block()
        return now if now is not None and now.grown else None

    def _now_block(self) -> Block | None:
        return self.blocks[-1] if self.blocks else None


def _readers(board: Board, place: Place, leg: str) -> list[Trace]:
    if leg in place.own:
        return [board.of[place.own[leg]]]
    return [board.of[point] for c in place.circuits for at, point in c.on_leg if at == leg]


def _carriers(board: Board, place: Place, leg: str) -> list[Trace]:
    if leg in place.own:
        return [board.of[place.own[leg]]]
    below = [c for c in place.below if leg in c.circuit.legs]
    return [board.of[dict(c.on_leg).get(leg, c.points[0])] for c in below]


def _middle(traces: Sequence[Trace], name: str, now: int) -> float | None:
    """Give the middle of the last block: the middle of several volts, the sum of several amps."""
    found: list[float] = []
    for trace in traces:
        if not trace.live or not (trace.powered or name == "amps"):
            if name == "amps":
                return None
            continue
        values: list[float] = []
        since = now - max(BLOCK_MS, 2.5 * trace.interval_ms)
        for at, one in reversed(trace.samples):
            value = one.volts if name == "volts" else one.amps
            if at <= since:
                break
            if value is not None:
                values.append(value)
        if name == "volts" and values and max(values) - min(values) > _UNSTEADY * trace.nominal:
            return None
        if values:
            found.append(sum(values) / len(values))
    if not found or (name == "amps" and len(found) < len(traces)):
        return None
    return sum(found) if name == "amps" else median(found)
