"""Writes the log: one transaction a poll cycle, all of it or nothing.

The hot path speaks to sqlite3 directly: sqlite-utils costs 0.12 s and 26 MB to load and 1.8 times the time of plain
inserts (measured), and table ``reading`` is not of a kind it makes.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import sqlite3
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Self

from monitor.incidents.model import Found
from monitor.log.cycle import plan
from monitor.log.found import write_incidents, write_steps
from monitor.log.journal import write_changes
from monitor.log.lock import WriterLock
from monitor.log.problems import LogProblem, of_sqlite, of_system
from monitor.log.resume import MINUTE_MS, resume
from monitor.log.schema import connect, refuse_foreign
from monitor.log.software import software_version
from monitor.log.timeline import Timeline
from monitor.log.upkeep import finish_minutes, forget
from monitor.show.model import Point

if TYPE_CHECKING:
    from collections.abc import Generator, Iterable, Sequence
    from pathlib import Path
    from types import TracebackType

    from drivers.clock import Instant
    from monitor.alarms.model import AlarmChange
    from monitor.engine.events import Event
    from monitor.engine.reading import Reading
    from monitor.log.gaps import Gap
    from monitor.show.model import Show

_HOLD_INTERVALS, _HOLD_LEAST_MS = 5, 5_000  # a point without a reading for longer has a gap
_NOTHING = Found()
_DAY_MS = 86_400_000
_FORGET_LEAST = 2_000  # old readings given up once a minute, at least


class LogWriter:
    """The one writer of a log; made by ``open``, a context manager. Use it from one thread at a time.

    Attributes:
        timeline: the log's clock; stamp every poll and event with it.

    """

    def __init__(self, db: sqlite3.Connection, lock: WriterLock, path: Path, show: Show, hold_ms: int) -> None:
        self._db, self._lock, self._path, self._show, self._hold_ms = db, lock, path, show, hold_ms
        self._file = path.stat()
        state = resume(db)
        self.timeline = Timeline(state.last_ms)
        self._ids, self._trails, self._minute = state.point_ids, state.trails, state.next_minute
        self._counters: dict[tuple[int, int], int] = {}
        self._rows = 0  # since the last finished minute

    @classmethod
    def open(cls, path: Path, show: Show, at: Instant, hold_ms: int | None = None) -> Self:
        """Open or make the log at ``path``, bring its schema forward and record ``show`` if it is a new version.

        Args:
            path: the log file.
            show: what is watched; its ``retention_days`` hold.
            at: now.
            hold_ms: longest time from one good reading of a point to the next that counts as unbroken [ms]; None is
                five times the longest interval of the show's buses, at least 5 s. A replay gives its own.

        Raises:
            LogProblem: it can't be; another's file is left as it was.

        """
        refuse_foreign(path)
        since = datetime.fromtimestamp(at.wall_ms / 1000, UTC).isoformat(timespec="seconds")
        lock = WriterLock(path, f"process {os.getpid()} on {os.uname().nodename}, since {since}")
        try:
            db = connect(path)
            try:
                writer = cls(db, lock, path, show, _hold_ms(show) if hold_ms is None else hold_ms)
                writer._sign_on(at)
            except BaseException:
                db.close()
                raise
        except BaseException as error:
            lock.release()
            if isinstance(error, sqlite3.Error):
                raise of_sqlite(error, path) from error
            raise
        return writer

    def write_cycle(
        self,
        readings: Sequence[Reading],
        events: Sequence[Event],
        at: Instant,
        changes: Sequence[AlarmChange] = (),
        found: Found = _NOTHING,
    ) -> None:
        """Commit one cycle: readings, gaps, events, what was found, finished minutes and a sign of life.

        Writes, all or nothing.

        Args:
            readings: of any points, each later than that point's last one; in any order.
            events: to keep.
            at: now.
            changes: of alarms, in the order they happened.
            found: new steps, and incidents; one whose number the log has replaces what it had.

        Raises:
            LogProblem: nothing of the cycle is in the log; give the same again later.

        """
        work = plan(readings, self._trails, self._minute, self._hold_ms)
        ids, counters = dict(self._ids), dict(self._counters)
        with self._transaction():
            self._add_points(work.trails, ids)
            self._db.executemany("INSERT INTO reading VALUES (?, ?, ?, ?, ?, ?, ?, ?)", work.rows(ids))
            self._write_gaps(work.gaps, ids)
            self._write_events(events)
            write_changes(self._db, changes)
            self._add_points((Point(step.circuit) for step in found.steps), ids)
            write_steps(self._db, found.steps, ids)
            write_incidents(self._db, found.incidents)
            counters.update(work.counters(ids))
            if work.minute > self._minute:
                finish_minutes(self._db, work.minute, counters)
                self._forget(work.readings[-1].time_ms, work.minute)
            self._sign(at)
        finished = work.minute > self._minute
        self._rows = len(readings) + (0 if finished else self._rows)
        self._counters = {key: raw for key, raw in counters.items() if key[0] >= work.minute}
        self._ids, self._minute = ids, work.minute
        self._trails.update(work.trails)

    def note(  # noqa: PLR0913 - an entry has that many parts; all but three by name
        self,
        time_ms: int,
        who: str,
        text: str,
        *,
        kind: str = "note",
        place: str = "",
        number: float | None = None,
        quantity: str | None = None,
    ) -> None:
        """Keep what somebody entered (see table ``note`` for ``kind``, ``number`` and ``quantity``). Writes.

        Raises:
            LogProblem: it is not in the log.

        """
        with self._transaction():
            self._db.execute(
                "INSERT INTO note (time_ms, who, kind, place, number, quantity, text) VALUES (?, ?, ?, ?, ?, ?, ?)",
                (time_ms, who, kind, place, number, quantity, text),
            )

    def close(self) -> None:
        """Sign off, move the WAL into the log file and give up the lock. What was committed is kept in any case."""
        with contextlib.suppress(sqlite3.Error):  # a full disk, say: the log then looks like one after a crash
            self._db.execute("UPDATE writer SET running = 0")
            self._db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
        self._db.close()
        self._lock.release()

    def __enter__(self) -> Self:
        """Give the writer."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close the log."""
        self.close()

    @contextlib.contextmanager
    def _transaction(self) -> Generator[None]:
        """Commit what is done inside, or roll all of it back and say what is wrong."""
        self._still_there()
        try:
            self._db.execute("BEGIN IMMEDIATE")
            yield
            self._db.execute("COMMIT")
        except BaseException as error:
            with contextlib.suppress(sqlite3.Error):
                self._db.rollback()  # does nothing where SQLite has rolled back already
            if isinstance(error, sqlite3.Error):
                raise of_sqlite(error, self._path) from error
            raise

    def _still_there(self) -> None:
        """Refuse to write into a file that has lost its name: SQLite would go on without a word."""
        try:
            there = os.path.samestat(self._path.stat(), self._file)
        except FileNotFoundError:
            there = False
        except OSError as error:
            raise of_system(error, self._path) from error
        if not there:
            text = f"{self._path} is gone (moved, deleted or on a disk that was taken out)"
            raise LogProblem("vanished", f"{text}: put it back, or start the logger again")

    def _sign_on(self, at: Instant) -> None:
        """Write who we are, the show where its text is new, its points, and the ends of gaps left without one."""
        last_ms = self.timeline.last_ms
        time_ms = at.wall_ms if last_ms is None else max(at.wall_ms, last_ms + 1)
        digest = hashlib.sha256(self._show.text.encode()).hexdigest()
        with self._transaction():
            self._db.execute(
                "INSERT OR REPLACE INTO writer VALUES (1, ?, ?, ?, ?, ?, 1, ?, ?)",
                (
                    os.getpid(),
                    os.uname().nodename,
                    time_ms,
                    time_ms,
                    time_ms - at.wall_ms,
                    self._hold_ms,
                    software_version(),
                ),
            )
            newest = self._db.execute("SELECT sha256 FROM show_version ORDER BY id DESC LIMIT 1").fetchone()
            if newest != (digest,):
                row = (time_ms, digest, self._show.text)
                self._db.execute("INSERT INTO show_version (time_ms, sha256, text) VALUES (?, ?, ?)", row)
            self._add_points(self._show.points(), self._ids)
            ends = [(trail.last_ms, self._ids[point]) for point, trail in self._trails.items()]
            self._db.executemany("UPDATE gap SET end_ms = ? WHERE point = ? AND end_ms IS NULL", ends)

    def _add_points(self, points: Iterable[Point], ids: dict[Point, int]) -> None:
        for point in points:
            if point not in ids:
                row = (point.place, point.leg, str(point))
                key = self._db.execute("INSERT INTO point (place, leg, name) VALUES (?, ?, ?)", row).lastrowid
                ids[point] = key or 0

    def _write_gaps(self, gaps: Iterable[Gap], ids: dict[Point, int]) -> None:
        self._db.executemany(
            "INSERT INTO gap (point, begin_ms, reason, end_ms, detail) VALUES (?, ?, ?, ?, ?)"
            " ON CONFLICT DO UPDATE SET end_ms = excluded.end_ms",
            [(ids[gap.point], gap.begin_ms, gap.reason, gap.end_ms, gap.detail) for gap in gaps],
        )

    def _write_events(self, events: Iterable[Event]) -> None:
        self._db.executemany(
            "INSERT INTO event (time_ms, kind, place, text, data) VALUES (?, ?, ?, ?, ?)",
            [(e.time_ms, e.kind, e.where, e.text, json.dumps(dict(e.data), ensure_ascii=False)) for e in events],
        )

    def _forget(self, now_ms: int, minute: int) -> None:
        """Give up readings of finished minutes that are older than the show keeps them, faster than new ones come."""
        if self._show.retention_days is not None:
            before_ms = min(now_ms - round(self._show.retention_days * _DAY_MS), minute * MINUTE_MS)
            forget(self._db, before_ms, max(_FORGET_LEAST, 4 * self._rows))

    def _sign(self, at: Instant) -> None:
        offset_ms = self.timeline.offset_ms
        self._db.execute("UPDATE writer SET alive_ms = ?, offset_ms = ?", (at.wall_ms + offset_ms, offset_ms))


def _hold_ms(show: Show) -> int:
    longest_s = max((bus.interval_s for bus in show.buses), default=0.0)
    return max(_HOLD_LEAST_MS, round(longest_s * _HOLD_INTERVALS * 1000))
