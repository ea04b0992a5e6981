"""A stretch of a circuit's past in as many columns as a screen has: what was measured in each, and where nothing."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from math import ceil, floor
from statistics import median
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from monitor.engine.history import Sample, Spell, Switching

Span = tuple[float, float, float]  # lowest, mean, highest
_LONGEST_MS = 60_000.0  # a sample never stands for more than a minute
_WHOLE = 0.75  # a column of which less was measured has something missing


@dataclass(frozen=True, slots=True)
class Stretch:
    """What the log gave.

    Attributes:
        begin_ms: on the log's clock.
        end_ms: when it was asked.
        samples: oldest first.
        steps: loads that came on and went off in it, oldest first.
        spells: alarms that stood in it, oldest first.

    """

    begin_ms: int
    end_ms: int
    samples: tuple[Sample, ...]
    steps: tuple[Switching, ...] = ()
    spells: tuple[Spell, ...] = ()


class Column(NamedTuple):
    """What was measured in one column's time.

    Attributes:
        amps: lowest, mean, highest [A]; None where nothing was.
        volts: lowest, mean, highest [V]; None where nothing was.
        missing: whether readings are missing in it, some or all.

    """

    amps: Span | None
    volts: Span | None
    missing: bool


def in_columns(stretch: Stretch, count: int) -> tuple[Column, ...]:
    """Give the stretch in columns of one length; the newest may still be filling, and then nothing is missing in it.

    A sample stands for the time to the next one, as that usually is. Where that passes without one, nothing is known:
    no column is filled from its neighbours.
    """
    begin, step = _grid(stretch, count)
    reach = _reach(stretch.samples, step)
    found: list[list[Sample]] = [[] for _ in range(count)]
    covered = [0.0] * count
    for sample in stretch.samples:
        first, last = (sample.time_ms - begin) / step, (sample.time_ms + reach - begin) / step
        for n in range(max(int(first), 0), min(int(last), count - 1) + 1):
            share = min(last, n + 1) - max(first, n)
            if share > 0:
                found[n].append(sample)
                covered[n] += share if sample.amps or sample.volts else 0.0
    columns = []
    for n in range(count):
        ended = begin + (n + 1) * step + reach <= stretch.end_ms
        amps, volts = _joined([s.amps for s in found[n]]), _joined([s.volts for s in found[n]])
        columns.append(Column(amps, volts, ended and covered[n] < _WHOLE))
    return tuple(columns)


def column_of(stretch: Stretch, count: int, time_ms: int) -> int:
    """Give the column of ``in_columns`` that a moment falls in; below 0 before the first one."""
    begin, step = _grid(stretch, count)
    return min(floor((time_ms - begin) / step), count - 1)


def _grid(stretch: Stretch, count: int) -> tuple[float, float]:
    """Give when the first column begins and how long each is [ms]: on whole steps, so columns keep their samples."""
    step = (stretch.end_ms - stretch.begin_ms) / count
    return ceil(stretch.end_ms / step) * step - count * step, step


def _reach(samples: tuple[Sample, ...], step: float) -> float:
    """Give how long a sample stands for [ms]."""
    apart = [later.time_ms - sooner.time_ms for sooner, later in itertools.pairwise(samples)]
    return min(median(apart), _LONGEST_MS) if apart else min(step, _LONGEST_MS)


def _joined(spans: list[Span | None]) -> Span | None:
    known = [span for span in spans if span is not None]
    if not known:
        return None
    means = [span[1] for span in known]
    return min(span[0] for span in known), sum(means) / len(means), max(span[2] for span in known)
