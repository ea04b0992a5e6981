"""Short statistics for steps: where a level turns, and whether it is a step or a slope."""

from __future__ import annotations

from math import sqrt
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

_LEAST_BEFORE, _LEAST_AFTER = 5, 3
_OWN = 0.3  # of the usual scatter
_TREND = 3.0  # times the error of a difference of halves


def mean(values: Sequence[float]) -> float:
    """Give the mean; there is at least one value."""
    return sum(values) / len(values)


def turning_point(values: Sequence[float]) -> int | None:
    """Give the index of the first value after the split into two levels that leaves the least scatter.

    None where there are too few values on both sides of any split.
    """
    total, count = sum(values), len(values)
    best, at = 0.0, None
    below = sum(values[:_LEAST_BEFORE])
    for split in range(_LEAST_BEFORE, count - _LEAST_AFTER + 1):
        gap = below / split - (total - below) / (count - split)
        explained = gap * gap * split * (count - split) / count
        if explained > best:
            best, at = explained, split
        if split < count:
            below += values[split]
    return at


def apart(values: Sequence[float], at: int, sigma: float) -> float:
    """Give how far two levels, split before index ``at``, stand apart, in errors of their difference."""
    before, after = values[:at], values[at:]
    return abs(mean(after) - mean(before)) / (sigma * sqrt(1.0 / len(before) + 1.0 / len(after)))


def better_as_step(times: Sequence[float], values: Sequence[float], at: int) -> bool:
    """Say whether two levels, split before index ``at``, fit better than one straight slope."""
    before, after = values[:at], values[at:]
    low, high, middle, centre = mean(before), mean(after), mean(values), mean(times)
    scatter = sum((v - low) ** 2 for v in before) + sum((v - high) ** 2 for v in after)
    slope = sum((t - centre) * v for t, v in zip(times, values, strict=True)) / sum((t - centre) ** 2 for t in times)
    leaning = sum((v - middle - slope * (t - centre)) ** 2 for t, v in zip(times, values, strict=True))
    return scatter < 0.9 * leaning


def climb(times: Sequence[float], values: Sequence[float], sigma: float) -> tuple[float, float]:
    """Give the rise of a straight line through some values, and its slope in errors of it.

    Args:
        times: of the values [s], at least three.
        values: one each.
        sigma: usual scatter of one value; a part of it counts even where these happen to lie on a line.

    """
    centre, middle = mean(times), mean(values)
    width = sum((t - centre) ** 2 for t in times)
    slope = sum((t - centre) * v for t, v in zip(times, values, strict=True)) / width
    left = sum((v - middle - slope * (t - centre)) ** 2 for t, v in zip(times, values, strict=True))
    scatter = max(sqrt(left / (len(values) - 2)), _OWN * sigma)
    return slope * (times[-1] - times[0]), slope * sqrt(width) / scatter


def trending(values: Sequence[float], sigma: float) -> bool:
    """Say whether the second half of some values stands clearly apart from the first."""
    half = len(values) // 2
    first, second = values[:half], values[half:]
    return abs(mean(second) - mean(first)) > _TREND * sigma * sqrt(1.0 / len(first) + 1.0 / len(second))
