"""What the log does not have yet, and the thread that writes it: a disk may stand still, the recorder may not.

Everything waits in bounded queues, oldest first, and goes to the writer in batches, one transaction each. The recorder
waits a moment for each batch and then goes on judging: where a write lasts, the batch stays in hand until the writer
says how it ended, and nothing else is written meanwhile. A batch that could not be written goes back to the front.
"""

from __future__ import annotations

import queue
import threading
from collections import deque
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from drivers.clock import monotonic
from monitor.engine.events import Event
from monitor.incidents.model import Found
from monitor.log.problems import LogProblem

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from drivers.clock import Instant
    from monitor.alarms.model import AlarmChange
    from monitor.engine.reading import Reading
    from monitor.incidents.model import FoundStep, Incident
    from monitor.log.writer import LogWriter

READINGS_MAX = 200_000  # kept in memory while the log can't be written: over an hour at 48 circuits
CHANGES_MAX = 10_000
BATCH = 5_000  # readings in one transaction: well under a second's work on a small computer
BATCHES = 4  # in one cycle
WAIT_S = 0.5  # for one batch, before the recorder goes on without knowing
SLOW_S = 3.0  # a write that lasts longer is told
END_S = 10.0  # for a write under way when the logger ends
NOT_KEPT = "readings-not-kept"
_NOTHING = Found()


@dataclass(frozen=True, slots=True)
class _Batch:
    readings: tuple[Reading, ...]
    events: tuple[Event, ...] = ()
    changes: tuple[AlarmChange, ...] = ()
    found: Found = _NOTHING


class Backlog:
    """Takes what a cycle gives and has it written; use it from one thread, but for the counts.

    Args:
        path: of the log, for what is told.

    Attributes:
        problem: why the log is not being written, or empty.
        last_commit_s: when the last batch that was committed was given to the writer, on the monotonic clock [s].
        dropped: readings given up because too many waited.

    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self.problem = ""
        self.last_commit_s: float | None = None
        self.dropped = 0
        self._readings: deque[Reading] = deque()
        self._events: deque[Event] = deque()
        self._changes: deque[AlarmChange] = deque()
        self._steps: deque[FoundStep] = deque()
        self._incidents: dict[int, Incident] = {}  # as last told, by number
        self._hand: _Batch | None = None
        self._given_s = 0.0
        self._given_up: list[tuple[int, int, int]] = []  # readings, first and last time [ms], not told yet
        self._jobs: queue.SimpleQueue[tuple[_Batch, Instant] | None] = queue.SimpleQueue()
        self._ends: queue.SimpleQueue[BaseException | None] = queue.SimpleQueue()

    def start(self, writer: LogWriter) -> None:
        """Begin to write with ``writer``, which nobody else may use while a write is under way."""
        self._writer = writer
        threading.Thread(target=self._write, name="log-writer", daemon=True).start()

    @property
    def waiting(self) -> int:
        """Readings that wait, or are in hand."""
        hand = self._hand
        return len(self._readings) + (len(hand.readings) if hand else 0)

    @property
    def under_way(self) -> bool:
        """Whether a write has been given and has not ended as far as is known."""
        return self._hand is not None

    def add(
        self, readings: Iterable[Reading], events: Iterable[Event], changes: Iterable[AlarmChange], found: Found
    ) -> None:
        """Take what is to be written, later than all that was given before."""
        self._readings.extend(readings)
        self._events.extend(events)
        self._changes.extend(changes)
        self._steps.extend(found.steps)
        self._incidents.update({incident.number: incident for incident in found.incidents})
        self._bound()

    def commit(self, at: Instant, now_ms: int) -> tuple[bool, tuple[Event, ...]]:
        """Write what waits, as far as it goes in a moment.

        Args:
            at: now.
            now_ms: now on the log's clock [ms].

        Returns:
            Whether a batch was committed, and what there is to tell besides; it is written too.

        """
        committed, told = False, []
        for _ in range(BATCHES):
            if self._hand is None:
                self._give(at)
            if not self._ended(at, WAIT_S) or self.problem:
                break
            committed = True
            told += self._own_up(now_ms)
            if not self._readings and not self._events:
                break
        if self._readings and not self.problem and self._hand is None:
            self.problem = f"{len(self._readings)} readings still wait to be written to {self._path}"
        return committed, tuple(told)

    def finish(self, at: Instant, now_ms: int) -> bool:
        """Write all that waits, as far as it can be; False where a write is still under way, so that all must be left.

        Takes up to ``END_S`` for a write that lasts.
        """
        if self._hand is not None and not self._ended(at, END_S):
            return False
        while self._hand is None and (self._readings or self._events) and self.commit(at, now_ms)[0]:
            pass
        done = self._hand is None or self._ended(at, END_S)
        if done:
            self._jobs.put(None)
        return done

    def _give(self, at: Instant) -> None:
        """Put the oldest of what waits into the writer's hand; what is no reading goes with the last of them."""
        last = len(self._readings) <= BATCH
        readings = tuple(self._readings.popleft() for _ in range(min(BATCH, len(self._readings))))
        if last:
            found = Found(tuple(self._steps), tuple(self._incidents.values()))
            self._hand = _Batch(readings, tuple(self._events), tuple(self._changes), found)
            for rest in (self._events, self._changes, self._steps, self._incidents):
                rest.clear()
        else:
            self._hand = _Batch(readings)
        self._given_s = monotonic()
        self._jobs.put((self._hand, at))

    def _ended(self, at: Instant, wait_s: float) -> bool:
        """Wait for the write under way; True once it has ended, well or not."""
        try:
            error = self._ends.get(timeout=wait_s)
        except queue.Empty:
            lasted_s = monotonic() - self._given_s
            if lasted_s >= SLOW_S:
                self.problem = f"{self._path}: a write has lasted {lasted_s:.0f} s: look at its disk"
            return False
        if error is None:
            self._hand, self.problem, self.last_commit_s = None, "", at.mono_s
        else:
            self._put_back()
            if not isinstance(error, LogProblem):
                raise error
            self.problem = str(error)
        return True

    def _put_back(self) -> None:
        hand, self._hand = self._hand, None
        if hand is None:
            return
        self._readings.extendleft(reversed(hand.readings))
        self._events.extendleft(reversed(hand.events))
        self._changes.extendleft(reversed(hand.changes))
        self._steps.extendleft(reversed(hand.found.steps))
        self._incidents = {incident.number: incident for incident in hand.found.incidents} | self._incidents
        self._bound()

    def _bound(self) -> None:
        """Give up the oldest where too many wait."""
        over = len(self._readings) - READINGS_MAX
        if over > 0:
            gone = [self._readings.popleft().time_ms for _ in range(over)]
            self.dropped += over
            self._given_up.append((over, gone[0], gone[-1]))
        changes: tuple[deque[Any], ...] = (self._events, self._changes, self._steps)
        for rest in changes:
            while len(rest) > CHANGES_MAX:
                rest.popleft()

    def _own_up(self, now_ms: int) -> list[Event]:
        """Tell, now that the log can be written again, how many readings it will never have."""
        if not self._given_up:
            return []
        count = sum(part[0] for part in self._given_up)
        data = {"readings": count, "first_ms": self._given_up[0][1], "last_ms": self._given_up[-1][2]}
        self._given_up.clear()
        text = f"{count} readings could not be kept: the log could not be written, and no more fitted into memory"
        event = Event(now_ms, NOT_KEPT, "", text, data)
        self._events.append(event)
        return [event]

    def _write(self) -> None:
        """Write what is given, until told to end; in a thread of its own."""
        while (job := self._jobs.get()) is not None:
            batch, at = job
            try:
                self._writer.write_cycle(batch.readings, batch.events, at, batch.changes, batch.found)
            except BaseException as error:  # noqa: BLE001 - raised again in the recorder's thread
                self._ends.put(error)
            else:
                self._ends.put(None)
