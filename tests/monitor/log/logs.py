"""Logs of an invented set, for the tests of the log."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from drivers.clock import Instant
from drivers.reading import Quality, Values
from monitor.engine.reading import Reading
from monitor.log.writer import LogWriter
from monitor.show.model import Point
from tests.support.shows import circuit, show

if TYPE_CHECKING:
    from pathlib import Path

    from monitor.show.model import Show

BEGIN_MS = 1_790_000_040_000  # a whole minute: 2026-09-21T14:14:00Z
A1, A2 = Point("A1"), Point("boxA", "L1")
SHOW: Show = replace(show(circuit("A1"), points=("A1", "boxA/L1")), text='[show]\nname = "Weir house"\n')
LAMP = Values(volts=119.5, amps=10.25, hertz=59.98, watts=1211.5)


def instant(second: float) -> Instant:
    """Give the moment ``second`` s after the begin, on both clocks."""
    return Instant(BEGIN_MS + round(second * 1000), 500.0 + second)


def reading(
    second: float, point: Point = A1, quality: Quality = Quality.GOOD, values: Values = LAMP, detail: str = ""
) -> Reading:
    """Give a reading ``second`` s after the begin; one that is not good has no values unless some are given."""
    if quality is not Quality.GOOD and values is LAMP:
        values = Values()
    at = instant(second)
    return Reading(point, at.wall_ms, at.mono_s, quality, values, detail)


def opened(path: Path, second: float = 0.0, given: Show = SHOW, hold_ms: int = 5_000) -> LogWriter:
    """Open the log ``second`` s after the begin."""
    return LogWriter.open(path, given, instant(second), hold_ms=hold_ms)


def keep(writer: LogWriter, *readings: Reading) -> None:
    """Write one cycle at the time of its newest reading."""
    newest = max(readings, key=lambda reading: reading.time_ms)
    writer.write_cycle(readings, (), Instant(newest.time_ms, newest.mono_s))
