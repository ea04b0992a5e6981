"""A change of load under way: its samples, where it came from, and what it looked like once it has settled."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import NamedTuple

_LONGEST = 64  # samples of a way that are kept
_ABRUPT = 0.3  # of the change in one sample: less is a fade


class Sample(NamedTuple):
    """One sample: time [s]; watts, or amps times nominal volts; volts as a share of nominal; amps or None."""

    time_s: float
    value: float
    share: float
    amps: float | None


@dataclass(frozen=True, slots=True)
class Change:
    """From one settled level to another.

    Attributes:
        earliest_s: time of the last sample before it [s].
        time_s: time of the first sample that shows it [s].
        delta: what came or went, the others' reaction to volts taken off [as ``Sample.value``].
        error: of ``delta``, one sigma.
        value: settled level after it.
        share: settled volts after it, as a share of nominal.
        before: (amps, share of nominal volts) before it; amps None where not measured.
        amps: settled amps after it [A], or None.
        peak: furthest point on the way, in parts of ``delta``.
        spell: samples on the way that were above 1.5 times ``delta``.
        gap: nothing was measured, or no volts were there, at some time within it.
        gradual: it came in many small parts.
        first: the first settled level: nothing is known before it.
        climbing: it ended, for something else changed, while it still rose: a load that warms up.

    """

    earliest_s: float
    time_s: float
    delta: float
    error: float
    value: float
    share: float
    before: tuple[float | None, float]
    amps: float | None
    peak: float = 1.0
    spell: int = 0
    gap: bool = False
    gradual: bool = False
    first: bool = False
    climbing: bool = False


class Way:
    """A change under way: where it came from, what was seen on the way, and the samples that agree by now."""

    __slots__ = ("abrupt", "amps", "before", "begin_s", "count", "earliest_s", "gap", "seen", "share", "tail")

    def __init__(self, earliest_s: float, begin_s: float, *, gap: bool = False, abrupt: bool = False) -> None:
        self.earliest_s, self.begin_s = earliest_s, begin_s
        self.before: float | None = None  # offset before; None: nothing is known
        self.count = 0  # samples behind it
        self.amps: float | None = None
        self.share = 1.0
        self.gap, self.abrupt = gap, abrupt
        self.seen: deque[tuple[float, float | None]] = deque(maxlen=_LONGEST)
        self.tail: list[tuple[Sample, float]] = []


def gradual(way: Way, delta: float) -> bool:
    """Say whether a change came in small parts: no sample moved by ``_ABRUPT`` of it."""
    last, largest = way.before or 0.0, 0.0
    for rest, _ in way.seen:
        largest = max(largest, (rest - last) / delta)
        last = rest
    return largest < _ABRUPT


def overshoot(way: Way, delta: float, amps: float | None) -> tuple[float, int]:
    """Give the furthest point on the way in parts of the change, and the samples above 1.5 of it.

    Amps tell more than watts: a motor that does not turn yet draws mostly reactive power.
    """
    before = way.before or 0.0
    parts = [(rest - before) / delta for rest, _ in way.seen]
    if amps is not None and way.amps is not None and delta > 0 and amps - way.amps > 0:
        base, change = way.amps, amps - way.amps
        beside = [0.0 if seen is None else (seen - base) / change for _, seen in way.seen]
        parts = list(map(max, parts, beside))
    return max([1.0, *parts]), sum(part > 1.5 for part in parts)  # noqa: PLR2004 - see Change.spell
