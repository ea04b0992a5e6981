"""Recorded readings through the same watch and into the same log as live ones."""

from __future__ import annotations

from dataclasses import replace
from itertools import chain, islice
from statistics import median
from types import MappingProxyType
from typing import TYPE_CHECKING

from drivers.clock import Instant
from monitor.engine.watch import SECOND_MS, Watch
from monitor.log.problems import LogProblem
from monitor.log.reader import LogReader
from monitor.log.writer import LogWriter

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path

    from monitor.engine.reading import Reading
    from monitor.incidents.model import Incident
    from monitor.show.model import Show

_LOOK_AHEAD = 5_000  # readings, to learn how often each point was read
_BATCH_MS = 60_000
_LIVE_INTERVALS, _HOLD_INTERVALS = 2.5, 5


def replay(show: Show, readings: Iterator[Reading], log_path: Path, progress: Callable[[int], None]) -> int:
    """Run readings into a new or older log; one commit a minute of their time.

    How long a value counts as live follows the recording's own pace where that is slower than the show's setting.

    Args:
        show: what was watched.
        readings: in time order.
        log_path: the log.
        progress: called now and then with the number of readings done.

    Returns:
        How many readings were taken.

    Raises:
        LogProblem: the log can't be written, or already holds later readings.

    """
    first = list(islice(readings, _LOOK_AHEAD))
    if not first:
        return 0
    interval_s = _interval_s(first)
    live_s = max(show.settings["old_after_seconds"], _LIVE_INTERVALS * interval_s)
    paced = replace(show, settings=MappingProxyType({**show.settings, "old_after_seconds": live_s}))
    hold_ms = max(5_000, round(interval_s * _HOLD_INTERVALS * 1000))
    _refuse_older(log_path, first[0].time_ms)
    watch = Watch(paced, known=_known(log_path))
    done = 0
    with LogWriter.open(log_path, show, _instant(first[0].time_ms), hold_ms=hold_ms) as writer:
        for batch in _minutes(chain(first, readings)):
            end_ms = batch[-1].time_ms // SECOND_MS * SECOND_MS
            changes = watch.advance(batch, end_ms)
            writer.write_cycle(batch, (), _instant(batch[-1].time_ms), changes, watch.take_found())
            done += len(batch)
            progress(done)
        last_ms = batch[-1].time_ms + SECOND_MS
        changes = watch.advance((), last_ms)
        watch.finish()
        writer.write_cycle((), (), _instant(last_ms), changes, watch.take_found())
    return done


def _refuse_older(log_path: Path, time_ms: int) -> None:
    """Refuse readings from before the log's end, while the log is still as it was: to sign on would move its clock."""
    if not log_path.is_file() or not log_path.stat().st_size:
        return
    with LogReader(log_path) as reader:
        last_ms = reader.last_time_ms()
    if last_ms is not None and time_ms <= last_ms:
        raise LogProblem("order", f"{log_path} already holds readings of that time or later; replay into a new file")


def _known(log_path: Path) -> list[Incident]:
    """Give the incidents that an older log holds: numbers go on from them."""
    if not log_path.is_file() or not log_path.stat().st_size:
        return []
    with LogReader(log_path) as reader:
        return reader.incidents()


def _interval_s(readings: Iterable[Reading]) -> float:
    """Give the median time between two readings of one point [s]; 1 where that can't be told."""
    last: dict[object, int] = {}
    steps = []
    for reading in readings:
        before = last.get(reading.point)
        if before is not None:
            steps.append(reading.time_ms - before)
        last[reading.point] = reading.time_ms
    return median(steps) / 1000.0 if steps else 1.0


def _minutes(readings: Iterable[Reading]) -> Iterator[list[Reading]]:
    batch: list[Reading] = []
    minute = -1
    for reading in readings:
        if batch and reading.time_ms // _BATCH_MS != minute:
            yield batch
            batch = []
        minute = reading.time_ms // _BATCH_MS
        batch.append(reading)
    if batch:
        yield batch


def _instant(time_ms: int) -> Instant:
    return Instant(time_ms, time_ms / 1000.0)
