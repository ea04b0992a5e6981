"""Demand and energy, folded over samples: sliding window, fixed clock blocks, energy with load factor.

Between two samples the watts are taken as a straight line. Where a sample is missing, or two stand further apart than
``MAX_GAP_S``, there is a gap: it counts neither as watts nor as time, and what is covered is always said.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import floor, fsum
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable

MAX_GAP_S = 10.0
QUARTER_HOUR_S = 900.0  # the usual interval: common practice
_NOTHING_S = 1e-6  # less is the rounding of sums


class Stretch(NamedTuple):
    """A straight line between two samples: times [s] and watts [W] at both ends."""

    begin_s: float
    end_s: float
    begin_w: float
    end_w: float

    def cut(self, begin_s: float, end_s: float) -> Stretch | None:
        """Give the part between two times [s], or None where there is none."""
        begin, end = max(self.begin_s, begin_s), min(self.end_s, end_s)
        return Stretch(begin, end, self._at(begin), self._at(end)) if begin < end else None

    @property
    def seconds(self) -> float:
        """Its length [s]."""
        return self.end_s - self.begin_s

    @property
    def joules(self) -> float:
        """Its energy [J]."""
        return (self.begin_w + self.end_w) / 2 * self.seconds

    def _at(self, time_s: float) -> float:
        part = (time_s - self.begin_s) / (self.end_s - self.begin_s)
        return self.begin_w + (self.end_w - self.begin_w) * part


@dataclass(frozen=True, slots=True)
class Demand:
    """A mean over an interval.

    Attributes:
        end_s: end of the interval [s].
        length_s: of the interval [s].
        covered_s: of it with readings [s].
        watts: mean over what is covered [W].

    """

    end_s: float
    length_s: float
    covered_s: float
    watts: float


@dataclass(frozen=True, slots=True)
class Window:
    """A sliding window.

    Attributes:
        length_s: [s].
        last: time [s] and watts [W] of the last sample, or None after a gap.
        stretches: what it holds, oldest first.
        joules: of all of them [J].
        covered_s: by all of them [s].

    """

    length_s: float = QUARTER_HOUR_S
    last: tuple[float, float] | None = None
    stretches: tuple[Stretch, ...] = ()
    joules: float = 0.0
    covered_s: float = 0.0

    def add(self, time_s: float, watts: float | None) -> Window:
        """Add a sample: time [s], not before the last one, and watts [W], or None for a gap."""
        last = None if watts is None else (time_s, watts)
        stretch = _between(self.last, time_s, watts)
        new = (stretch,) if stretch else ()
        start, held = time_s - self.length_s, self.stretches
        first = next((i for i, old in enumerate(held) if old.end_s > start), len(held))
        kept = held[first:] + new
        if not kept:
            return Window(self.length_s, last)
        joules = self.joules + sum(s.joules for s in new) - sum(s.joules for s in held[:first])
        covered = self.covered_s + sum(s.seconds for s in new) - sum(s.seconds for s in held[:first])
        return Window(self.length_s, last, kept, joules, covered)

    def demand(self, now_s: float) -> Demand | None:
        """Give the mean over the window that ends now [s], which is no earlier than the last sample; None if empty."""
        start, joules, covered = now_s - self.length_s, self.joules, self.covered_s
        for old in self.stretches:
            if old.begin_s >= start:
                break
            outside = old.cut(old.begin_s, start)
            if outside:
                joules, covered = joules - outside.joules, covered - outside.seconds
        return None if covered <= _NOTHING_S else Demand(now_s, self.length_s, covered, joules / covered)


@dataclass(frozen=True, slots=True)
class Blocks:
    """Fixed blocks of the clock: every ``length_s`` from time 0.

    Attributes:
        length_s: [s].
        last: time [s] and watts [W] of the last sample, or None after a gap.
        stretches: of the block that runs.

    """

    length_s: float = QUARTER_HOUR_S
    last: tuple[float, float] | None = None
    stretches: tuple[Stretch, ...] = ()

    def add(self, time_s: float, watts: float | None) -> tuple[Blocks, tuple[Demand, ...]]:
        """Add a sample as to a window; give the blocks that it ended too, where anything of them is covered."""
        stretch = _between(self.last, time_s, watts)
        held = self.stretches + ((stretch,) if stretch else ())
        last = None if watts is None else (time_s, watts)
        start = floor(time_s / self.length_s) * self.length_s
        if not held or held[0].begin_s >= start:
            return Blocks(self.length_s, last, held), ()
        ends = sorted({(floor(s.begin_s / self.length_s) + 1) * self.length_s for s in held})
        done = (_mean(held, end, self.length_s) for end in ends if end <= start)
        rest = tuple(part for part in (s.cut(start, time_s) for s in held) if part)
        return Blocks(self.length_s, last, rest), tuple(block for block in done if block)


@dataclass(frozen=True, slots=True)
class Running:
    """Energy and time of a set while it runs; don't add samples of standstill.

    Attributes:
        rated_watts: rating [W].
        last: time [s] and watts [W] of the last sample, or None after a gap.
        joules: [J].
        covered_s: time with readings [s].
        low_s: of it under 30 % of the rating [s].
        high_s: of it over 80 % of the rating [s].
        peak_watts: highest sample [W]; None before the first.

    """

    rated_watts: float
    last: tuple[float, float] | None = None
    joules: float = 0.0
    covered_s: float = 0.0
    low_s: float = 0.0
    high_s: float = 0.0
    peak_watts: float | None = None

    LOW = 0.30  # of the rating: the usual figure for wet stacking (NFPA 110 exercises at 30 % or more)
    HIGH = 0.80  # of the rating: a judgement

    def add(self, time_s: float, watts: float | None) -> Running:
        """Add a sample: time [s] and watts [W], or None for a gap."""
        stretch = _between(self.last, time_s, watts)
        now = replace(self, last=None if watts is None else (time_s, watts))
        if watts is not None:
            now = replace(now, peak_watts=watts if self.peak_watts is None else max(self.peak_watts, watts))
        if stretch is None:
            return now
        mean = stretch.joules / stretch.seconds
        return replace(
            now,
            joules=self.joules + stretch.joules,
            covered_s=self.covered_s + stretch.seconds,
            low_s=self.low_s + (stretch.seconds if mean < self.LOW * self.rated_watts else 0.0),
            high_s=self.high_s + (stretch.seconds if mean > self.HIGH * self.rated_watts else 0.0),
        )

    @property
    def kilowatt_hours(self) -> float:
        """Energy [kWh]."""
        return self.joules / 3.6e6

    @property
    def mean_watts(self) -> float | None:
        """Mean over what is covered [W]."""
        return self.joules / self.covered_s if self.covered_s else None

    @property
    def load_factor(self) -> float | None:
        """Mean / peak [1]: how even the load is, not how near the rating."""
        mean = self.mean_watts
        return None if mean is None or not self.peak_watts else mean / self.peak_watts


def _between(last: tuple[float, float] | None, time_s: float, watts: float | None) -> Stretch | None:
    if last is None or watts is None or not 0.0 < time_s - last[0] <= MAX_GAP_S:
        return None
    return Stretch(last[0], time_s, last[1], watts)


def _mean(stretches: Iterable[Stretch], end_s: float, length_s: float) -> Demand | None:
    inside = [part for part in (s.cut(end_s - length_s, end_s) for s in stretches) if part]
    covered = fsum(part.seconds for part in inside)
    if covered <= 0:
        return None
    return Demand(end_s, length_s, covered, fsum(part.joules for part in inside) / covered)
