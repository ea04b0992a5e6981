"""Finds where one circuit's load changes from one settled level to another, one sample at a time.

The value followed is watts, or amps times nominal volts, less what the loads that are on would draw at the volts of the
sample: what the volts do to them is no change. What is left over wavers about an offset. A sample far from it, or many
a little beside it (Page's cumulative sum), opens a *change*, which ends where samples agree again; the way between is
the load's own: an inrush, a motor's start, a fade. A change that ends where it began was none.
"""

from __future__ import annotations

from collections import deque
from math import inf, sqrt
from typing import TYPE_CHECKING, Protocol

from monitor.electrical.step_stats import apart, better_as_step, climb, mean, trending, turning_point
from monitor.electrical.step_way import Change, Way, gradual, overshoot

if TYPE_CHECKING:
    from collections.abc import Sequence

    from monitor.electrical.step_way import Sample

# All of these are judgements, tried on simulated days.
_KEPT = 40  # samples of a settled level
_BEFORE = 20  # of them count as "before"
_FOLLOW = 0.05  # share of a sample in the offset: what changes over minutes is drift
_FAR, _AGREE, _JUMP = 4.0, 3.5, 4.5  # times the flutter of one sample
_SURE = 4.5  # times the error of a difference of means
_SUM_DRIFT, _SUM_LIMIT = 0.5, 9.0  # in flutters: false about once in seven hours of samples, then looked at again
_SETTLED, _SETTLED_SLOW, _SLOW_S, _SHORTEST_S = 6, 3, 8.0, 3.0
_FADE_S, _LONGEST_S = 60.0, 240.0
_CLIMBS = 0.015  # of a change, over the samples that agree: less is drift
_CLIMBING, _MAY_CLIMB = 3.5, 2.0  # errors of a slope: it climbs; it may, so a few samples more are taken
_LEANING = 10  # samples before a change that show whether it was on its way already
_RELINE = 0.004  # volts move by this share before the loads' reaction is worked out anew
_DOUBT = 0.3  # of a load's reaction to volts: kinds are rough
_FIRST_FLUTTER, _LEAST_FLUTTER, _MOST_FLUTTER = 0.008, 0.001, 0.05
_MEAN_DIFFERENCE = 1.128  # mean |a - b| of two samples of a normal law, in its sigmas


class Loads(Protocol):
    """What is on, as far as is known."""

    @property
    def vague(self) -> float:
        """How much of the level reacts to volts in an unknown way [as ``Sample.value``]."""

    def level(self, share: float) -> float:
        """Give what is drawn at a share of nominal volts [as ``Sample.value``]."""


class Detector:
    """Follows one circuit.

    After each ``Change``, tell the loads, then call ``settle``.

    Args:
        least: the smallest change worth a step [as ``Sample.value``].
        grain: what a settled level may be off by the meter's last digit, one sigma [as ``Sample.value``].
        loads: what is on.

    """

    __slots__ = (
        "_at", "_down", "_flutter", "_grain", "_interval_s", "_kept", "_last", "_least", "_level", "_loads", "_next",
        "_offset", "_rest", "_share", "_slope", "_up", "_vague", "_way",
    )  # fmt: skip

    def __init__(self, least: float, grain: float, loads: Loads) -> None:
        self._least, self._grain, self._loads = least, grain, loads
        self._kept: deque[Sample] = deque(maxlen=_KEPT)
        self._way: Way | None = None
        self._last: Sample | None = None
        self._next: Sample | None = None
        self._flutter = _FIRST_FLUTTER
        self._interval_s = 1.0
        self._offset = self._rest = self._up = self._down = 0.0
        self._share = 1.0
        self._line(1.0)

    def add(self, sample: Sample) -> Change | None:
        """Take a sample, later than the one before."""
        last, self._last = self._last, sample
        if last is None:
            self._way = Way(sample.time_s, sample.time_s)
            return self._follow(sample)
        passed = sample.time_s - last.time_s
        if passed > max(4.5, 3.5 * self._interval_s):
            change = self.interrupt()
            if change is not None:
                self._next = sample
                return change
        self._interval_s += 0.1 * (passed - self._interval_s)
        return self._watch(sample) if self._way is None else self._follow(sample)

    def interrupt(self) -> Change | None:
        """Be told that nothing is known for a while; gives the change that was complete by then."""
        way = self._way
        change = None
        if way is not None and not way.gap and self._ready(way):
            change = self._finish(way)
        if change is None:
            self._break()
        return change

    def settle(self, *, broken: bool = False) -> Change | None:
        """Go on after a change that the loads know of by now; ``broken``: an interruption ended it."""
        tail = [sample for sample, _ in self._way.tail] if self._way is not None else []
        self._rest_on(tail)
        waiting, self._next = self._next, None
        if broken or (waiting is not None and tail and waiting.time_s - tail[-1].time_s > 3.5 * self._interval_s + 1.0):
            self._break()
        if waiting is None:
            return None
        return self._watch(waiting) if self._way is None else self._follow(waiting)

    def _break(self) -> None:
        if self._way is not None:
            self._way.gap, self._way.tail = True, []
        elif self._kept:
            self._open(self._kept[-1].time_s, inf, list(self._kept)[-_BEFORE:], gap=True)

    def _watch(self, sample: Sample) -> Change | None:
        """Take a sample of a settled level."""
        time_s, value, share, _ = sample
        if not -_RELINE < share - self._at < _RELINE:
            self._line(share)
        rest = value - self._level - self._slope * (share - self._at)
        flutter = self._flutter * value
        flutter = max(0.2 * self._least, flutter)
        off = rest - self._offset
        slack = self._vague * abs(share - self._share)
        beyond = off - slack if off > slack else off + slack if off < -slack else 0.0
        if not -_FAR * flutter - 0.5 * self._least < beyond < _FAR * flutter + 0.5 * self._least:
            before = list(self._kept)
            self._open(before[-1].time_s, time_s, before[-_BEFORE:])
            return self._follow(sample)
        self._learn(rest - self._rest, flutter, value)
        self._rest = rest
        self._kept.append(sample)
        self._offset += _FOLLOW * off
        self._share += _FOLLOW * (share - self._share)
        scaled = beyond / flutter
        up, down = self._up + scaled - _SUM_DRIFT, self._down - scaled - _SUM_DRIFT
        self._up, self._down = up if up > 0 else 0.0, down if down > 0 else 0.0
        if self._up > _SUM_LIMIT or self._down > _SUM_LIMIT:
            self._look_back(flutter)
        return None

    def _look_back(self, flutter: float) -> None:
        """Look among the kept samples for a small change that no single one showed; drift is followed, no step."""
        samples = list(self._kept)
        rests = [sample.value - self._loads.level(sample.share) for sample in samples]
        at = turning_point(rests)
        self._up = self._down = 0.0
        times = [sample.time_s for sample in samples]
        if at is None or apart(rests, at, flutter) < _SURE + 0.5 or not better_as_step(times, rests, at):
            self._offset = mean(rests[-10:])
            return
        self._open(samples[at - 1].time_s, samples[at].time_s, samples[:at][-_BEFORE:], abrupt=True)
        way = self._way
        if way is not None:
            way.tail = list(zip(samples[at:], rests[at:], strict=True))
            self._kept = deque(samples[:at], maxlen=_KEPT)

    def _open(
        self, earliest_s: float, begin_s: float, before: Sequence[Sample], *, gap: bool = False, abrupt: bool = False
    ) -> None:
        way = Way(earliest_s, begin_s, gap=gap, abrupt=abrupt)
        steady = before[:-1] if len(before) > 5 and not abrupt else before  # noqa: PLR2004 - the last may hold a part
        if steady:
            way.before = mean([sample.value - self._loads.level(sample.share) for sample in steady])
            way.count = len(steady)
            way.share = mean([sample.share for sample in steady])
            amps = [sample.amps for sample in steady if sample.amps is not None]
            way.amps = mean(amps) if amps else None
        self._way = way

    def _follow(self, sample: Sample) -> Change | None:
        """Take a sample of a change under way."""
        way = self._way
        if way is None:
            return None
        rest = sample.value - self._loads.level(sample.share)
        flutter = max(self._flutter * sample.value, 0.2 * self._least)
        near = _AGREE * flutter + 0.25 * self._least
        if way.begin_s == inf and way.before is not None and abs(rest - way.before) <= near:
            way.earliest_s, way.gap = sample.time_s, False  # nothing changed in the gap; what comes now has its moment
        elif way.begin_s == inf:
            way.begin_s = sample.time_s
        if way.tail and abs(rest - mean([r for _, r in way.tail[-_BEFORE:]])) > near:
            if self._ready(way) and abs(rest - way.tail[-1][1]) > _JUMP * flutter + 0.25 * self._least:
                return self._next_one(way, sample)
            way.tail = []
        elif way.tail:
            self._learn(rest - way.tail[-1][1], flutter, sample.value)
        way.tail.append((sample, rest))
        way.seen.append((rest, sample.amps))
        return self._judge(way, sample.time_s)

    def _next_one(self, way: Way, sample: Sample) -> Change | None:
        """End a change because another one begins."""
        change = self._finish(way)
        if change is None:
            return self._watch(sample)
        self._next = sample
        return change

    def _judge(self, way: Way, now_s: float) -> Change | None:
        """End a change once enough samples agree, or never will."""
        span = way.tail[-1][0].time_s - way.tail[0][0].time_s
        count = len(way.tail)
        waited = now_s - min(way.begin_s, way.tail[0][0].time_s)
        if waited > _LONGEST_S and len(way.seen) > 2 * _SETTLED:
            return self._finish(way)
        if not (count >= _SETTLED and span >= _SHORTEST_S) and not (count >= _SETTLED_SLOW and span >= _SLOW_S):
            return None
        flutter = max(self._flutter * way.tail[-1][0].value, 0.1 * self._least)
        climbs = self._climbs(way, flutter)
        if way.before is not None and (trending([rest for _, rest in way.tail], flutter) or climbs > _CLIMBING):
            way.tail = way.tail[count // 2 :]
            return None
        if climbs > _MAY_CLIMB and count < 2 * _SETTLED:
            return None
        return self._finish(way)

    def _climbs(self, way: Way, flutter: float) -> float:
        """Give how sure it is that a load that came on is still warming up: errors of its slope, 0 where it isn't."""
        rests = [rest for _, rest in way.tail]
        delta = mean(rests) - (way.before or 0.0)
        if way.before is None or delta <= 0 or len(rests) < _SETTLED_SLOW:
            return 0.0
        rise, errors = climb([sample.time_s for sample, _ in way.tail], rests, flutter)
        return errors if rise > max(_CLIMBS * delta, 2.0 * self._grain) else 0.0

    def _ready(self, way: Way) -> bool:
        """Say whether enough samples agree for a level, should nothing more come."""
        if len(way.tail) < 2:  # noqa: PLR2004 - one sample is no level
            return False
        span = way.tail[-1][0].time_s - way.tail[0][0].time_s
        return span >= min(1.9, 1.9 * self._interval_s) and way.tail[-1][0].time_s - way.earliest_s >= 1.9  # noqa: PLR2004

    def _finish(self, way: Way) -> Change | None:
        tail = way.tail[-_BEFORE:]
        value = mean([sample.value for sample, _ in tail])
        share = mean([sample.share for sample, _ in tail])
        level = mean([rest for _, rest in tail])
        amps = [sample.amps for sample, _ in tail if sample.amps is not None]
        settled = mean(amps) if amps else None
        if way.before is None:
            error = self._flutter * value / sqrt(len(tail)) + self._grain
            begin_s = tail[0][0].time_s
            return Change(begin_s, begin_s, value, error, value, share, (None, 1.0), settled, first=True)
        delta = level - way.before
        flutter = max(self._flutter * max(value, value - delta), 0.1 * self._least)
        random = flutter * sqrt(1.0 / way.count + 1.0 / len(tail))
        doubt = self._vague * abs(share - way.share)
        if abs(delta) < max(self._least, _SURE * random) + doubt:
            self._rest_on([*self._kept, *(sample for sample, _ in way.tail)])
            return None
        fading = not (way.gap or way.abrupt) and gradual(way, delta)
        if (fading and way.tail[0][0].time_s - way.begin_s > _FADE_S) or self._leaning(way):
            self._rest_on([sample for sample, _ in way.tail])
            return None
        peak, spell = overshoot(way, delta, settled)
        return Change(
            earliest_s=way.earliest_s,
            time_s=way.begin_s if way.begin_s < inf else max(way.earliest_s, way.tail[0][0].time_s),
            delta=delta,
            error=sqrt(random**2 + self._grain**2 + (0.6 * doubt) ** 2),
            value=value,
            share=share,
            before=(way.amps, way.share),
            amps=settled,
            peak=peak,
            spell=spell,
            gap=way.gap,
            gradual=fading,
            climbing=not way.gap and self._climbs(way, flutter) > _CLIMBING,
        )

    def _leaning(self, way: Way) -> bool:
        """Say whether the levels before and after lie on one slope: part of a slow change, no step."""
        if way.gap or way.abrupt:
            return False
        before = list(self._kept)[-_LEANING - 1 : -1]
        samples = [*before, *(sample for sample, _ in way.tail)]
        if len(before) < _LEANING // 2:
            return False
        rests = [sample.value - self._loads.level(sample.share) for sample in samples]
        return not better_as_step([sample.time_s for sample in samples], rests, len(before))

    def _rest_on(self, samples: Sequence[Sample]) -> None:
        """Go on from a settled level."""
        self._way = None
        self._kept.clear()
        self._kept.extend(samples)
        self._up = self._down = 0.0
        recent = list(self._kept)[-_BEFORE:]
        if recent:
            self._share = mean([sample.share for sample in recent])
            self._line(self._share)
            self._offset = mean([sample.value - self._loads.level(sample.share) for sample in recent])
            self._rest = recent[-1].value - self._loads.level(recent[-1].share)

    def _line(self, share: float) -> None:
        """Take the level as a straight line in volts near a share."""
        self._at = share
        self._level = self._loads.level(share)
        self._slope = (self._loads.level(share + _RELINE) - self._level) / _RELINE
        self._vague = self._loads.vague + _DOUBT * abs(self._level) + abs(self._offset)

    def _learn(self, difference: float, flutter: float, value: float) -> None:
        """Learn how much one sample flutters, as a share of the level, from neighbours."""
        if value > 4.0 * self._least:
            share = min(abs(difference), 4.0 * flutter) / (_MEAN_DIFFERENCE * value)
            learnt = self._flutter + 0.025 * (share - self._flutter)
            self._flutter = min(max(learnt, _LEAST_FLUTTER), _MOST_FLUTTER)
