"""The running logger: buses in, engine and log out, one commit a cycle.

Bus workers put their polls into a queue from their own threads. One thread of the recorder empties it just after
every whole second of the log's time, judges that moment, commits everything in one transaction and gives the screens
a Snapshot. When the log can't be written, polling, judging and Snapshots go on, and what is to be written waits
(``monitor.recorder.backlog``).
"""

from __future__ import annotations

import queue
import threading
from dataclasses import replace
from typing import TYPE_CHECKING, Self

from drivers.clock import Instant, monotonic, now
from monitor.alarms.lifecycle import WRONG
from monitor.engine.events import Event
from monitor.engine.fold import Engine
from monitor.engine.snapshot import LoggerView, Snapshot
from monitor.engine.watch import Outside, Watch
from monitor.log.reader import LogReader
from monitor.log.writer import LogWriter
from monitor.recorder.backlog import Backlog
from monitor.recorder.counter import refused, serve
from monitor.recorder.inbox import collect
from monitor.recorder.live import LiveWriter
from monitor.recorder.polling import PointNames, make_workers
from monitor.recorder.rebuild import rebuild
from monitor.recorder.tallies import Tallies
from monitor.recorder.urgency import Urgency

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path
    from types import TracebackType

    from drivers.reading import MeterPoll
    from monitor.alarms.model import Alarm, AlarmChange
    from monitor.engine.reading import Reading
    from monitor.engine.requests import Request
    from monitor.engine.tallied import Tallied
    from monitor.recorder.polling import Worker
    from monitor.show.model import Show

CYCLE_S = 1.0
AFTER_S = 0.005  # past the whole second, so that its moment is due
_LOOK_S, _TOGETHER_S = 0.02, 0.1  # at the start: how often to look for a reading, and how long to wait for more
HUNG_S = 5.0  # a cycle that is this late means that the recorder itself stands still


class Recorder:
    """Polls, judges, logs one show; a context manager, a feed and a desk for screens.

    Args:
        show: what to watch.
        log_path: the log file.
        cycle_s: from commit to commit [s].
        tell: called in the recorder's thread with the events and alarm changes of each cycle, once they are written
            or at least judged; it must not block.
        beat: called in the recorder's thread at the end of each cycle that is committed (with an empty text) or can't
            be (with the reason); it must not block.

    Raises:
        LogProblem: on entering: the log can't be opened.

    """

    def __init__(
        self,
        show: Show,
        log_path: Path,
        cycle_s: float = CYCLE_S,
        tell: Callable[[tuple[Event, ...], tuple[AlarmChange, ...]], None] | None = None,
        beat: Callable[[str], None] | None = None,
    ) -> None:
        self.show, self.log_path = show, log_path
        self._cycle_s, self._tell, self._beat = cycle_s, tell, beat
        self._polls: queue.SimpleQueue[MeterPoll] = queue.SimpleQueue()
        self._asked: queue.SimpleQueue[Request] = queue.SimpleQueue()
        self._noticed: queue.SimpleQueue[tuple[str, str]] = queue.SimpleQueue()
        self.workers: tuple[Worker, ...] = make_workers(show, self._polls.put)
        self._names, self._urgency = PointNames(show), Urgency(show)
        self._engine = Engine(show)
        self._tallies = Tallies(self.workers, rated=show.source.rated_kw is not None)
        self._backlog = Backlog(log_path)
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="recorder", daemon=True)
        self._publishing = threading.Lock()
        self._moment: tuple[int, float, LoggerView, tuple[Alarm, ...], Tallied]
        self._snapshot: Snapshot | None = None

    def __enter__(self) -> Self:
        """Open the log and start."""
        self._writer = LogWriter.open(self.log_path, self.show, now())
        with LogReader(self.log_path) as reader:
            self._watch = Watch(self.show, reader.alarms(), reader.incidents())
            rebuild(self._watch, self.show, reader)
            since_ms = reader.writer_state().since_ms
        self._live = LiveWriter(self.log_path, self.show, since_ms)
        self._backlog.start(self._writer)
        self._cycle(now())
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
        at = now()
        self._cycle(at)
        if self._backlog.finish(at, self._moment[0]):  # else its disk stands still, and would hold us too
            self._writer.close()
        self._live.close()

    @property
    def not_kept(self) -> int:
        """Readings that are not in the log: dropped, or still waiting for it to be writable."""
        return self._backlog.dropped + self._backlog.waiting

    def snapshot(self) -> Snapshot:
        """Give the newest Snapshot (see ``monitor.engine.feed.Feed``)."""
        with self._publishing:
            if self._snapshot is None:  # made only where somebody looks: a logger without a screen needs none
                self._snapshot = self._engine.snapshot(*self._moment)
            snapshot, published_s = self._snapshot, self._moment[1]
        if monotonic() - published_s <= HUNG_S:
            return snapshot
        stopped = replace(snapshot.logger, running=False, problem="the logger stands still")
        return replace(snapshot, logger=stopped)

    def standing(self) -> tuple[tuple[Alarm, ...], LoggerView]:
        """Give the alarms that somebody must act on and the logger, at less cost than a Snapshot."""
        with self._publishing:
            _, _, logger, alarms, _ = self._moment
        return tuple(alarm for alarm in alarms if alarm.state in WRONG), logger

    def ask(self, request: Request) -> None:
        """Take a request (see ``monitor.engine.requests.Desk``)."""
        self._asked.put(request)

    def note_event(self, kind: str, text: str) -> None:
        """Keep an event that was noticed elsewhere; may be called from any thread."""
        self._noticed.put((kind, text))

    def _run(self) -> None:
        self._await_first()
        while not self._stop.wait(self._until_next()):
            self._cycle(now())

    def _await_first(self) -> None:
        """Take the first readings when they come, not at the next whole second: somebody waits for the screen."""
        until_s = monotonic() + self._cycle_s
        while self._polls.empty() and monotonic() < until_s:
            if self._stop.wait(_LOOK_S):
                return
        if not self._stop.wait(_TOGETHER_S):
            self._cycle(now())

    def _until_next(self) -> float:
        """Give the time to the next whole cycle of the log's clock, and a little [s]."""
        cycle_ms = round(self._cycle_s * 1000)
        into_ms = (now().wall_ms + self._writer.timeline.offset_ms) % cycle_ms
        return (cycle_ms - into_ms) / 1000.0 + AFTER_S

    def _cycle(self, at: Instant) -> None:
        readings, now_ms, steps = self._take(at)
        events, changes = self._serve(now_ms)
        events = (*steps, *events)
        step_s = sum(float(step.data["seconds"] or 0.0) for step in steps)
        problem = self._backlog.problem
        changes += self._watch.advance(readings, now_ms, Outside(self.not_kept if problem else 0, problem, step_s))
        self._backlog.add(readings, events, changes, self._watch.take_found())
        committed, told = self._backlog.commit(at, now_ms)
        events = (*events, *told)
        self._publish(at, now_ms, readings, events)
        if self._tell is not None and (events or changes):
            self._tell(events, changes)
        if self._beat is not None and (committed or self._backlog.problem):
            self._beat(self._backlog.problem)

    def _publish(self, at: Instant, now_ms: int, readings: list[Reading], events: tuple[Event, ...]) -> None:
        """Give this moment to the screens, here and in other processes."""
        alarms = self._watch.judge.alarms()
        urgent = self._urgency.units((*self._watch.conditions.close, *(alarm.where for alarm in alarms)))
        for worker in self.workers:
            worker.urge(urgent[worker.bus])
        self._tallies.answered(events)
        tallied, counted = self._tallies.now(self._watch.conditions, now_ms)
        logger = self._logger(at)
        self._live.write(now_ms, logger.not_kept if logger.problem else 0, logger.problem, tallied, counted=counted)
        with self._publishing:
            self._engine.take(readings)
            self._moment = (now_ms, at.mono_s, logger, alarms, tallied)
            self._snapshot = None

    def _take(self, at: Instant) -> tuple[list[Reading], int, list[Event]]:
        """Empty the queue and stamp the polls with the log's clock, oldest first.

        Gives the readings, the log's time at ``at`` [ms], and what the clock did. ``at`` is stamped too: a poll that
        its bus still holds back then comes after this moment.
        """
        polls: list[MeterPoll] = []
        while not self._polls.empty():
            polls.append(self._polls.get())
        readings: list[Reading] = []
        steps: list[Event] = []
        for poll in sorted(polls, key=lambda poll: poll.at.mono_s):
            readings.extend(self._names.readings(poll, self._stamp(poll.at, steps)))
        return readings, self._stamp(at, steps), steps

    def _stamp(self, at: Instant, steps: list[Event]) -> int:
        time_ms, step = self._writer.timeline.stamp(at)
        if step is not None:
            steps.append(Event(time_ms, "clock-step", "", str(step), {"seconds": step.seconds}))
        return time_ms

    def _serve(self, now_ms: int) -> tuple[tuple[Event, ...], tuple[AlarmChange, ...]]:
        """Serve what people have asked, and take what was noticed elsewhere, since the last cycle."""
        asked: list[Request | str] = list(collect(self.log_path))
        while not self._asked.empty():
            asked.append(self._asked.get())
        events: list[Event] = []
        while not self._noticed.empty():
            kind, text = self._noticed.get()
            events.append(Event(now_ms, kind, "", text))
        changes: list[AlarmChange] = []
        for request in asked:
            if isinstance(request, str):
                events.append(refused(request, now_ms))
            else:
                event, made = serve(request, self._watch, None if self._backlog.under_way else self._writer, now_ms)
                events.append(event)
                changes += made
        return tuple(events), tuple(changes)

    def _logger(self, at: Instant) -> LoggerView:
        backlog = self._backlog
        age = None if backlog.last_commit_s is None else at.mono_s - backlog.last_commit_s
        return LoggerView(
            running=True,
            last_commit_age_s=age,
            not_kept=self.not_kept if backlog.problem else backlog.dropped,
            problem=backlog.problem,
            log_path=str(self.log_path),
        )
