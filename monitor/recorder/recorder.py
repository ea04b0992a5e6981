"""The running logger: buses in, engine and log out, one commit a cycle.

Bus workers put their polls into a queue from their own threads. One thread of the recorder empties it once a
cycle, commits everything in one transaction and folds it into the Snapshot that screens take. When the log can't
be written, polling and Snapshots go on, readings wait in a bounded queue and what had to be dropped is counted.
"""

from __future__ import annotations

import queue
import threading
from collections import deque
from dataclasses import replace
from typing import TYPE_CHECKING, Self

from drivers.clock import Instant, monotonic, now
from monitor.engine.events import Event
from monitor.engine.fold import Engine
from monitor.engine.snapshot import LoggerView, Snapshot
from monitor.log.problems import LogProblem
from monitor.log.writer import LogWriter
from monitor.recorder.polling import PointNames, make_workers

if TYPE_CHECKING:
    from pathlib import Path
    from types import TracebackType

    from drivers.bus.worker import BusWorker
    from drivers.reading import MeterPoll
    from monitor.engine.reading import Reading
    from monitor.show.model import Show

CYCLE_S = 1.0
WAITING_MAX = 200_000  # readings kept in memory while the log can't be written: over an hour at 48 circuits
HUNG_S = 5.0  # a cycle that is this late means that the recorder itself stands still


class Recorder:
    """Polls, logs and folds one show; a context manager.

    Args:
        show: what to watch.
        log_path: the log file.
        cycle_s: from commit to commit [s].

    Raises:
        LogProblem: on entering: the log can't be opened.
        NotPollable: on making: a bus without a driver.

    """

    def __init__(self, show: Show, log_path: Path, cycle_s: float = CYCLE_S) -> None:
        self._show, self._path, self._cycle_s = show, log_path, cycle_s
        self._polls: queue.SimpleQueue[MeterPoll] = queue.SimpleQueue()
        self.workers: tuple[BusWorker, ...] = make_workers(show, self._polls.put)
        self._names = PointNames(show)
        self._engine = Engine(show)
        self._waiting: deque[Reading] = deque()
        self._events: deque[Event] = deque()
        self._dropped = 0
        self._problem = ""
        self._last_commit_s: float | None = None
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="recorder", daemon=True)
        self._published: tuple[float, Snapshot]

    def __enter__(self) -> Self:
        """Open the log and start."""
        at = now()
        self._writer = LogWriter.open(self._path, self._show, at)
        self._cycle(at)
        for worker in self.workers:
            worker.start()
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Stop polling, write what is left, close the log."""
        for worker in self.workers:
            worker.stop(timeout=3.0)
        self._stop.set()
        self._thread.join()
        self._cycle(now())
        self._writer.close()

    @property
    def not_kept(self) -> int:
        """Readings that are not in the log: dropped, or still waiting for it to be writable."""
        return self._dropped + len(self._waiting)

    def snapshot(self) -> Snapshot:
        """Give the newest Snapshot (see ``monitor.engine.feed.Feed``)."""
        published_s, snapshot = self._published
        if monotonic() - published_s <= HUNG_S:
            return snapshot
        stopped = replace(snapshot.logger, running=False, problem="the logger stands still")
        return replace(snapshot, logger=stopped)

    def _run(self) -> None:
        due = monotonic() + self._cycle_s
        while not self._stop.wait(max(0.0, due - monotonic())):
            due = max(due + self._cycle_s, monotonic())
            self._cycle(now())

    def _cycle(self, at: Instant) -> None:
        readings = self._take()
        self._waiting.extend(readings)
        self._commit(at)
        while len(self._waiting) > WAITING_MAX:
            self._waiting.popleft()
            self._dropped += 1
        # Not stamped: a poll that is still held back by its bus may be older than this moment.
        now_ms = at.wall_ms + self._writer.timeline.offset_ms
        snapshot = self._engine.advance(readings, now_ms, at.mono_s, self._logger(at))
        self._published = (at.mono_s, snapshot)

    def _take(self) -> list[Reading]:
        """Empty the queue and stamp the polls with the log's clock, oldest first."""
        polls: list[MeterPoll] = []
        while not self._polls.empty():
            polls.append(self._polls.get())
        readings: list[Reading] = []
        for poll in sorted(polls, key=lambda poll: poll.at.mono_s):
            time_ms, step = self._writer.timeline.stamp(poll.at)
            if step is not None:
                self._events.append(Event(time_ms, "clock-step", "", str(step), {"seconds": step.seconds}))
            readings.extend(self._names.readings(poll, time_ms))
        return readings

    def _commit(self, at: Instant) -> None:
        try:
            self._writer.write_cycle(tuple(self._waiting), tuple(self._events), at)
        except LogProblem as problem:
            self._problem = str(problem)
            return
        self._waiting.clear()
        self._events.clear()
        self._problem = ""
        self._last_commit_s = at.mono_s

    def _logger(self, at: Instant) -> LoggerView:
        age = None if self._last_commit_s is None else at.mono_s - self._last_commit_s
        return LoggerView(
            running=True,
            last_commit_age_s=age,
            not_kept=self.not_kept,
            problem=self._problem,
            log_path=str(self._path),
        )
