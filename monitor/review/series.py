"""Readings and minutes as runs of figures to draw; a run ends wherever something is missing."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from statistics import median
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from monitor.engine.reading import Reading
    from monitor.log.records import Minute

_MINUTE_MS = 60_000
_INTERVALS = 3.5  # of a recording's own: further apart is a gap
_LEAST_HOLD_MS = 3_500


@dataclass(frozen=True, slots=True)
class Sample:
    """A figure at one time; of a minute its lowest, mean and highest."""

    time_ms: int
    low: float
    value: float
    high: float


@dataclass(frozen=True, slots=True)
class Series:
    """One quantity at one place.

    Attributes:
        runs: each without a gap, oldest first.
        step_ms: how long the time is that each sample stands for [ms]; 0: single readings.

    """

    runs: tuple[tuple[Sample, ...], ...]
    step_ms: int = 0

    @property
    def samples(self) -> list[Sample]:
        """Every sample."""
        return [sample for run in self.runs for sample in run]


def of_readings(readings: Sequence[Reading], quantity: str) -> Series:
    """Give one quantity of one point's readings, oldest first."""
    times = [reading.time_ms for reading in readings]
    usual = median(b - a for a, b in pairwise(times)) if len(times) > 1 else 0
    hold_ms = max(_LEAST_HOLD_MS, _INTERVALS * usual)
    samples = ((reading.time_ms, getattr(reading.values, quantity)) for reading in readings)
    return Series(_runs(samples, hold_ms))


def of_minutes(minutes: Iterable[Minute], quantity: str, each: int = 1) -> Series:
    """Give ``volts``, ``amps`` or ``hertz`` of one point's minutes, oldest first, ``each`` put together."""
    samples = ((minute.begin_ms, getattr(minute, quantity)) for minute in minutes)
    return Series(_runs(samples, each * _MINUTE_MS), each * _MINUTE_MS)


def of_values(values: Iterable[tuple[int, float | None]]) -> Series:
    """Give a figure a minute, None where there is none."""
    return Series(_runs(values, _MINUTE_MS), _MINUTE_MS)


def _runs(
    samples: Iterable[tuple[int, float | tuple[float, float, float] | None]], hold_ms: float
) -> tuple[tuple[Sample, ...], ...]:
    runs: list[list[Sample]] = [[]]
    for time_ms, value in samples:
        if value is None:
            runs.append([])
            continue
        if runs[-1] and time_ms - runs[-1][-1].time_ms > hold_ms:
            runs.append([])
        low, mean, high = value if isinstance(value, tuple) else (value, value, value)
        runs[-1].append(Sample(time_ms, low, mean, high))
    return tuple(tuple(run) for run in runs if run)


def thinned(run: Sequence[Sample], most: int) -> list[Sample]:
    """Give a run in at most ``most`` samples: what is put together keeps its lowest and highest."""
    if len(run) <= most:
        return list(run)
    size = -(-len(run) // most)
    parts = [run[i : i + size] for i in range(0, len(run), size)]
    return [
        Sample(
            part[0].time_ms,
            min(s.low for s in part),
            sum(s.value for s in part) / len(part),
            max(s.high for s in part),
        )
        for part in parts
    ]
