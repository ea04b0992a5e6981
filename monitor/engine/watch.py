"""The watch: readings judged second by second, the same way live and in a replay.

Every whole second of the log's time is a moment. Its state holds the readings stamped up to then, so what is judged
depends on the readings and their times alone, never on how they were grouped. After more than ``PAUSE_MS`` without a
moment (the logger stood still, or the clock jumped) the next moment is one after a pause: nothing is known of the time
between, and timers start anew.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import TYPE_CHECKING

from drivers.reading import Quality
from monitor.alarms.conditions import Conditions
from monitor.alarms.judge import Judge
from monitor.alarms.model import Now, PointNow
from monitor.engine.memory import Memories, PointMemory
from monitor.incidents.finder import IncidentFinder
from monitor.incidents.model import Found

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from drivers.reading import Values
    from monitor.alarms.model import Alarm, AlarmChange
    from monitor.engine.reading import Reading
    from monitor.incidents.model import Incident
    from monitor.show.model import Point, Show

SECOND_MS = 1_000
PAUSE_MS = 10_000
_USABLE = (Quality.GOOD, Quality.IMPLAUSIBLE)


@dataclass(frozen=True, slots=True)
class Outside:
    """What the watch must be told besides readings.

    Attributes:
        not_kept: readings that could not be written so far.
        log_problem: why not, or empty.
        clock_step_s: how far the wall clock was moved since the last call [s].

    """

    not_kept: int = 0
    log_problem: str = ""
    clock_step_s: float = 0.0


_NOTHING = Outside()


class Watch:
    """Judges one show.

    Attributes:
        conditions: what is observed, with the figures it has added up.
        judge: the alarms.
        finder: steps and incidents.

    """

    def __init__(self, show: Show, standing: Iterable[Alarm] = (), known: Iterable[Incident] = ()) -> None:
        """Begin with the alarms that stand and the incidents that are known from the log, oldest first."""
        self.conditions = Conditions(show)
        self.judge = Judge(show)
        self.judge.restore(tuple(standing))
        self.finder = IncidentFinder(show)
        self.finder.adopt(known)
        self._found: list[Found] = []
        self._memories = Memories.for_points(show.points())
        self._old_after_ms = {
            point: 1000.0
            * show.setting("old_after_seconds", next((c for c in show.circuits if c.id == point.place), None))
            for point in self._memories.of
        }
        self._waiting: deque[Reading] = deque()
        self._earlier: dict[Point, tuple[tuple[int, Values], ...]] = {}
        self._last_ms: int | None = None
        self._step_s = 0.0

    def advance(self, readings: Iterable[Reading], now_ms: int, outside: Outside = _NOTHING) -> tuple[AlarmChange, ...]:
        """Judge every moment up to ``now_ms`` [ms, the log's clock] that has not been judged yet.

        Args:
            readings: in time order, none older than the last moment judged.
            now_ms: no reading older than this will come any more.
            outside: holds for all moments of this call; a clock step for the next moment, in whichever call.

        """
        self._waiting.extend(readings)
        changes: list[AlarmChange] = []
        for now in self._nows(now_ms, outside):
            changes += self.judge.judge(self.conditions.observe(now), now)
            self._find(now)
        return tuple(changes)

    def take_found(self) -> Found:
        """Give the steps and incidents found since the last call; of one incident only how it was told last."""
        found, self._found = self._found, []
        last = {incident.number: incident for one in found for incident in one.incidents}
        return Found(tuple(step for one in found for step in one.steps), tuple(last.values()))

    def finish(self) -> None:
        """Settle what waits for more readings: none will come."""
        self._found.append(self.finder.finish())

    def _find(self, now: Now) -> None:
        found = self.finder.observe(now)
        if found.steps or found.incidents:
            self._found.append(found)

    def live_through(self, readings: Iterable[Reading], now_ms: int) -> None:
        """Observe the past up to ``now_ms`` [ms, the log's clock] without judging it; before the first ``advance``."""
        self._waiting.extend(readings)
        for now in self._nows(now_ms, _NOTHING):
            self.conditions.observe(now)
            self._find(now)
        self._found = [Found((), one.incidents) for one in self._found if one.incidents]  # the log has those steps

    def _nows(self, now_ms: int, outside: Outside) -> Iterator[Now]:
        self._step_s += outside.clock_step_s  # a call without a moment must not lose it
        for moment_ms in self._moments(now_ms):
            self._take(moment_ms)
            yield self._now(moment_ms, Outside(outside.not_kept, outside.log_problem, self._step_s))
            self._step_s = 0.0
            self._last_ms = moment_ms

    def _moments(self, now_ms: int) -> Iterator[int]:
        """Give the moments that are due; over a pause only the first one after it."""
        end_ms = now_ms // SECOND_MS * SECOND_MS
        next_ms = None if self._last_ms is None else self._last_ms + SECOND_MS
        while next_ms is None or next_ms <= end_ms:
            if next_ms is None or self._first_waiting_ms(end_ms) - next_ms > PAUSE_MS:
                next_ms = -(-self._first_waiting_ms(end_ms) // SECOND_MS) * SECOND_MS
                if next_ms > end_ms:
                    return
            yield next_ms
            next_ms += SECOND_MS

    def _first_waiting_ms(self, end_ms: int) -> int:
        return self._waiting[0].time_ms if self._waiting else end_ms

    def _take(self, moment_ms: int) -> None:
        """Take what is stamped up to a moment; readings that a newer one follows within it are kept beside it."""
        since_ms = moment_ms - SECOND_MS if self._last_ms is None else self._last_ms
        self._earlier.clear()
        while self._waiting and self._waiting[0].time_ms <= moment_ms:
            reading = self._waiting.popleft()
            memory = self._memories.of.get(reading.point)
            before = memory.valued if memory is not None else None
            if memory is None or not memory.take(reading) or before is None or before.time_ms <= since_ms:
                continue
            if memory.valued is reading and before.quality in _USABLE:
                self._earlier[reading.point] = (*self._earlier.get(reading.point, ()), (before.time_ms, before.values))

    def _now(self, moment_ms: int, outside: Outside) -> Now:
        last_ms = self._last_ms
        points = {
            point: _point_now(memory, moment_ms, last_ms, self._old_after_ms[point], self._earlier.get(point, ()))
            for point, memory in self._memories.of.items()
        }
        return Now(
            time_ms=moment_ms,
            points=points,
            resumed=last_ms is None or moment_ms - last_ms > SECOND_MS,
            not_kept=outside.not_kept,
            log_problem=outside.log_problem,
            clock_step_s=outside.clock_step_s,
        )


def _point_now(
    memory: PointMemory,
    moment_ms: int,
    last_ms: int | None,
    old_after_ms: float,
    earlier: tuple[tuple[int, Values], ...],
) -> PointNow:
    if memory.last is None:
        return PointNow()
    valued = memory.valued
    age_ms = None if valued is None else moment_ms - valued.time_ms
    live = valued is not None and age_ms is not None and age_ms <= old_after_ms
    return PointNow(
        values=valued.values if live and valued is not None else None,
        quality=memory.last.quality,
        detail=memory.last.detail,
        age_s=None if age_ms is None else age_ms / 1000.0,
        fresh=last_ms is None or memory.last.time_ms > last_ms,
        earlier=earlier,
    )
