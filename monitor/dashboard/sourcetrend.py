"""Hertz over volts of the source over a stretch of time: what a load does to both is seen at one place."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING

from monitor.dashboard import words
from monitor.dashboard.pieces import padded
from monitor.dashboard.stretch import in_columns
from monitor.dashboard.trend import LABEL, around_lines, times_line, volts_lines

if TYPE_CHECKING:
    from monitor.dashboard.pieces import Cells, Line
    from monitor.dashboard.stretch import Stretch

_LEAST, _MOST = 3, 9  # lines of each plot
_HERTZ_STEPS = (0.01, 0.025, 0.05, 0.1)  # of nominal hertz above and below it


@dataclass(frozen=True, eq=False)
class Trace:
    """The source's past as it was read once; told from others by identity, so that it is drawn once."""

    stretch: Stretch

    @cached_property
    def empty(self) -> bool:
        """Whether neither hertz nor volts were read in it."""
        return not any(sample.volts or sample.hertz for sample in self.stretch.samples)


@lru_cache(maxsize=2)  # a screen draws the same past for some seconds
def trace_lines(trace: Trace, nominal: tuple[float, float], size: Cells, timezone: str) -> tuple[Line, ...]:
    """Draw both plots and their times.

    Args:
        trace: what was read.
        nominal: hertz [Hz] and volts to neutral [V]; 0 V where no leg has volts.
        size: width, and the lines that there are; each plot has three at least, whatever there is.
        timezone: to write times in.

    """
    stretch, (hertz, volts) = trace.stretch, nominal
    across, high = size.width - 1 - LABEL, min(max(_odd((size.height - 1) // 2), _LEAST), _MOST)
    as_hertz = replace(stretch, samples=tuple(replace(s, amps=None, volts=s.hertz) for s in stretch.samples))
    as_volts = replace(stretch, samples=tuple(replace(s, amps=None) for s in stretch.samples))
    plots = [*around_lines(in_columns(as_hertz, across), hertz, high, ("Hz", _HERTZ_STEPS))]
    plots += volts_lines(in_columns(as_volts, across), volts, high) if volts else ()
    length = words.age((stretch.end_ms - stretch.begin_ms) / 1000)
    plots.append(times_line((stretch.begin_ms, stretch.end_ms), timezone, across, length))
    return tuple(padded(line, size.width) for line in plots)


def _odd(number: int) -> int:
    return number - 1 + number % 2
