"""Reads a log, beside the logger that writes it or long after; never writes, never holds the logger up.

Every call is one short read: a reader that stays in one would keep the logger's WAL from being reused.
"""

from __future__ import annotations

import contextlib
import json
import sqlite3
import stat
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

from monitor.engine.events import Event
from monitor.log.found import INCIDENTS, STEPS, read_incident, read_step
from monitor.log.gaps import Gap
from monitor.log.journal import CHANGES, NEWEST, STANDING, read_change
from monitor.log.problems import LogProblem, empty, not_sqlite, of_sqlite, of_system
from monitor.log.records import ABOVE, FIGURES, SLOTS, Minute, Note, ShowVersion, WriterState, read_minute
from monitor.log.resume import MINUTE_MS
from monitor.log.scaled import from_row
from monitor.log.schema import FOUND_SINCE, check
from monitor.show.model import Point

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from types import TracebackType

    from monitor.alarms.model import Alarm, AlarmChange
    from monitor.engine.reading import Reading
    from monitor.incidents.model import FoundStep, Incident
    from monitor.log.records import Figures

__all__ = ["LogReader", "Minute", "Note", "ShowVersion", "WriterState"]
_EVER_MS = 1 << 53
_BUSY_S = 2.0  # a log is locked for moments only: while its logger signs on or off
_READING = """
SELECT r.*, p.place, p.leg, CASE WHEN r.quality <> 0 THEN (
  SELECT detail FROM gap g WHERE g.point = r.point AND g.begin_ms <= r.time_ms AND g.reason = q.name
  ORDER BY g.begin_ms DESC LIMIT 1) END
FROM reading r CROSS JOIN point p ON p.id = r.point CROSS JOIN quality q ON q.id = r.quality
"""


class LogReader:
    """Reads the log at ``path``; a context manager. Use it from one thread at a time.

    Every method raises LogProblem where the log can't be read.

    Raises:
        LogProblem: the file is missing, no log, of a newer version, or can't be opened.

    """

    def __init__(self, path: Path) -> None:
        self._path = path
        try:
            found = path.stat()
            if not stat.S_ISREG(found.st_mode):
                raise not_sqlite(path)
            if not found.st_size:
                raise empty(path)
            self._db = _connect(path)
            self._has_found = check(self._db, path) >= FOUND_SINCE
        except OSError as error:
            raise of_system(error, path) from error
        except sqlite3.Error as error:
            raise of_sqlite(error, path) from error

    def latest_show(self) -> str:
        """Give the text of the newest version of the show file."""
        rows = self._rows("SELECT text FROM show_version ORDER BY id DESC LIMIT 1")
        if not rows:
            raise LogProblem("other", f"{self._path} holds no show yet: wait for its logger to start, or start one")
        return str(rows[0][0])

    def last_time_ms(self) -> int | None:
        """Give the time of the newest reading [ms, the log's clock]; None where there is none."""
        return self._rows("SELECT max(time_ms) FROM reading")[0][0]  # type: ignore[no-any-return]

    def first_time_ms(self) -> int | None:
        """Give the time of the oldest reading [ms, the log's clock]; None where there is none."""
        return self._rows("SELECT min(time_ms) FROM reading")[0][0]  # type: ignore[no-any-return]

    def readings_since(self, time_ms: int) -> list[Reading]:
        """Give every reading from ``time_ms`` [ms, the log's clock] on, oldest first."""
        return _readings(self._rows(f"{_READING} WHERE r.time_ms >= ? ORDER BY r.time_ms, r.point", time_ms))

    def pages(self, begin_ms: int, end_ms: int, size: int = 20_000) -> Iterator[list[Figures]]:
        """Give every reading from ``begin_ms`` to before ``end_ms`` [ms, the log's clock], oldest first, in pages.

        Each page is a read of its own, so that a logger beside it is not held up.
        """
        time_ms, point = begin_ms, -1
        while True:
            rows = self._rows(FIGURES, time_ms, point, end_ms, size)
            if rows:
                time_ms, point = rows[-1][:2]
                yield [(row[0], *row[2:]) for row in rows]
            if len(rows) < size:
                return

    def minute_page(self, begin_ms: int, end_ms: int) -> list[tuple[str, Minute]]:
        """Give the minutes of all points that begin from ``begin_ms`` to before ``end_ms``, with the points' names."""
        sql = (
            "SELECT p.name, m.* FROM minute_all m JOIN point p ON p.id = m.point"
            " WHERE m.minute >= ? AND m.minute < ? ORDER BY m.minute, m.point"
        )
        rows = self._rows(sql, -(-begin_ms // MINUTE_MS), -(-end_ms // MINUTE_MS))
        return [(name, read_minute(tuple(row))) for name, *row in rows]

    def slots(self, begin_ms: int, end_ms: int, each: int) -> dict[str, list[Minute]]:
        """Give minutes of all points from ``begin_ms`` to before ``end_ms``, ``each`` put together, by point's name.

        A slot begins at a whole number of ``each`` minutes of the log's clock, with the figures of a ``Minute`` over
        all its readings. All points together take one walk, however many there are.
        """
        by_point: dict[str, list[Minute]] = {}
        for name, *row in self._rows(SLOTS, each, each, -(-begin_ms // MINUTE_MS), -(-end_ms // MINUTE_MS), each):
            by_point.setdefault(name, []).append(read_minute(tuple(row)))
        return by_point

    def minutes_above(self, begin_ms: int, end_ms: int, amps: Mapping[str, float]) -> dict[str, int]:
        """Count the minutes in a stretch with a reading above so many amps [A], by point's name."""
        limits = json.dumps({name: 1000 * limit for name, limit in amps.items()})
        rows = self._rows(ABOVE, limits, -(-begin_ms // MINUTE_MS), -(-end_ms // MINUTE_MS))
        return {str(name): int(count) for name, count in rows}

    def readings_between(self, point: Point, begin_ms: int, end_ms: int) -> list[Reading]:
        """Give one point's readings from ``begin_ms`` to before ``end_ms`` [ms, the log's clock], oldest first."""
        where = "WHERE r.time_ms >= ? AND r.time_ms < ? AND r.point = ? ORDER BY r.time_ms"
        return _readings(self._rows(f"{_READING} {where}", begin_ms, end_ms, self._id(point)))

    def minutes(self, point: Point, begin_ms: int, end_ms: int) -> list[Minute]:
        """Give one point's minutes that begin from ``begin_ms`` to before ``end_ms`` [ms, the log's clock].

        The minute that is not finished yet is there with what it has so far.
        """
        sql = "SELECT * FROM minute_all WHERE minute >= ? AND minute < ? AND point = ? ORDER BY minute"
        rows = self._rows(sql, -(-begin_ms // MINUTE_MS), -(-end_ms // MINUTE_MS), self._id(point))
        return [read_minute(row) for row in rows]

    def events(self, limit: int) -> list[Event]:
        """Give the newest events, at most ``limit``, oldest first."""
        rows = self._rows("SELECT time_ms, kind, place, text, data FROM event ORDER BY id DESC LIMIT ?", limit)
        return [Event(time, kind, where, text, json.loads(data)) for time, kind, where, text, data in reversed(rows)]

    def alarms(self) -> tuple[Alarm, ...]:
        """Give every alarm that is not normal, as the logger judged it last, oldest change first."""
        return tuple(change.alarm for change in map(read_change, self._rows(STANDING)))

    def alarm_changes(self, begin_ms: int = 0, end_ms: int = _EVER_MS) -> list[AlarmChange]:
        """Give the changes of alarms from ``begin_ms`` to before ``end_ms`` [ms, the log's clock], in their order."""
        return [read_change(row) for row in self._rows(CHANGES, begin_ms, end_ms)]

    def newest_changes(self, limit: int) -> list[AlarmChange]:
        """Give the newest changes of alarms, at most ``limit``, oldest first."""
        return [read_change(row) for row in reversed(self._rows(NEWEST, limit))]

    def notes(self, limit: int) -> list[Note]:
        """Give the newest entries of people, at most ``limit``, oldest first."""
        sql = "SELECT time_ms, who, kind, place, number, quantity, text FROM note ORDER BY id DESC LIMIT ?"
        return [Note(*row) for row in reversed(self._rows(sql, limit))]

    def notes_between(self, begin_ms: int, end_ms: int) -> list[Note]:
        """Give the entries of people from ``begin_ms`` to before ``end_ms`` [ms, the log's clock], oldest first."""
        sql = "SELECT time_ms, who, kind, place, number, quantity, text FROM note WHERE time_ms >= ? AND time_ms < ?"
        return [Note(*row) for row in self._rows(f"{sql} ORDER BY time_ms, id", begin_ms, end_ms)]

    def events_between(self, begin_ms: int, end_ms: int) -> list[Event]:
        """Give the events from ``begin_ms`` to before ``end_ms`` [ms, the log's clock], oldest first."""
        sql = (
            "SELECT time_ms, kind, place, text, data FROM event WHERE time_ms >= ? AND time_ms < ? ORDER BY time_ms, id"
        )
        rows = self._rows(sql, begin_ms, end_ms)
        return [Event(time, kind, where, text, json.loads(data)) for time, kind, where, text, data in rows]

    def reach(self, since_ms: int = -_EVER_MS) -> tuple[int, int] | None:
        """Give the first and last time of anything from ``since_ms`` on [ms, the log's clock]; None: there is nothing.

        Minutes count too: they stay where old readings have been given up.
        """
        columns = [(table, "time_ms", 1) for table in ("reading", "event", "alarm", "note", "step")]
        columns += [("minute", "minute", MINUTE_MS)]
        columns += [("incident", "begin_ms", 1)] if self._has_found else []
        ends = [
            self._rows(
                f"SELECT {end}({column}) * {factor} FROM {table} WHERE {column} >= ?",  # noqa: S608 - fixed names
                -(-since_ms // factor),
            )[0][0]
            for table, column, factor in columns
            for end in ("min", "max")
        ]
        known = [time_ms for time_ms in ends if time_ms is not None]
        return (min(known), max(known)) if known else None

    def events_after(self, number: int) -> list[tuple[int, Event]]:
        """Give (number, event) of every event after the one of that number, oldest first."""
        rows = self._rows("SELECT id, time_ms, kind, place, text, data FROM event WHERE id > ? ORDER BY id", number)
        return [(i, Event(time, kind, where, text, json.loads(data))) for i, time, kind, where, text, data in rows]

    def gaps(self) -> list[Gap]:
        """Give every gap, by the time it began."""
        rows = self._rows(
            "SELECT p.place, p.leg, g.begin_ms, g.end_ms, g.reason, g.detail FROM gap g JOIN point p ON p.id = g.point"
            " ORDER BY g.begin_ms, g.point"
        )
        return [Gap(Point(place, leg), *rest) for place, leg, *rest in rows]

    def steps(self, begin_ms: int = 0, end_ms: int = _EVER_MS) -> list[FoundStep]:
        """Give the steps from ``begin_ms`` to before ``end_ms`` [ms, the log's clock], oldest first."""
        return [read_step(row) for row in self._rows(STEPS, begin_ms, end_ms)] if self._has_found else []

    def count_steps(self, begin_ms: int = 0, end_ms: int = _EVER_MS) -> tuple[int, int]:
        """Count the steps in a stretch as of ``steps``, and those of them that came on and fit no planned load."""
        if not self._has_found:
            return 0, 0
        unplanned = "coalesce(sum(match IS NULL AND coalesce(watts_dw, amps_ma) > 0), 0)"
        sql = f"SELECT count(*), {unplanned} FROM step WHERE time_ms >= ? AND time_ms < ?"  # noqa: S608 - fixed text
        counted, fit_none = self._rows(sql, begin_ms, end_ms)[0]
        return counted, fit_none

    def incidents(self, begin_ms: int = 0, end_ms: int = _EVER_MS) -> list[Incident]:
        """Give the incidents that began from ``begin_ms`` to before ``end_ms`` [ms, the log's clock], oldest first."""
        return [read_incident(row) for row in self._rows(INCIDENTS, begin_ms, end_ms)] if self._has_found else []

    def shows(self) -> list[ShowVersion]:
        """Give every version of the show file, oldest first."""
        return [
            ShowVersion(*row) for row in self._rows("SELECT id, time_ms, sha256, text FROM show_version ORDER BY id")
        ]

    def writer_software(self) -> str:
        """Give the version of legwatch that wrote the log last; empty where an older one did not say."""
        rows = self._rows("SELECT software FROM writer") if self._has_found else []
        return str(rows[0][0] or "") if rows else ""

    def writer_state(self) -> WriterState:
        """Say who writes the log, and when it last did."""
        rows = self._rows("SELECT running, pid, host, since_ms, alive_ms, offset_ms FROM writer")
        if not rows:
            raise LogProblem("other", f"{self._path} was never written: start a logger on it")
        running, *rest = rows[0]
        return WriterState(bool(running), *rest)

    def close(self) -> None:
        """Close the log."""
        self._db.close()

    def __enter__(self) -> Self:
        """Give the reader."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close the log."""
        self.close()

    def _id(self, point: Point) -> int:
        """Give the point's key, for which SQLite finds a quicker way than for its name; -1 where it has no readings."""
        rows = self._rows("SELECT id FROM point WHERE name = ?", str(point))
        return int(rows[0][0]) if rows else -1

    def _rows(self, sql: str, *parameters: int | str) -> list[tuple[Any, ...]]:
        """Run one query to its end, so that no read stays open."""
        try:
            return self._db.execute(sql, parameters).fetchall()
        except sqlite3.Error as error:
            raise of_sqlite(error, self._path) from error


def _connect(path: Path) -> sqlite3.Connection:
    """Open for reading; a log in a directory that can't be written is read as a file that nobody writes.

    A log in WAL mode needs two files beside it even to be read. Where they can't be made there is no logger either,
    so SQLite may take the file as it is, unless a crash left commits in a WAL.
    """
    uri = f"{path.resolve().as_uri()}?mode=ro"
    try:
        return _checked(uri, path)
    except sqlite3.OperationalError:
        wal = Path(f"{path}-wal")
        with contextlib.suppress(FileNotFoundError):
            if wal.stat().st_size:
                raise
        return _checked(f"{uri}&immutable=1", path)


def _checked(uri: str, path: Path) -> sqlite3.Connection:
    db = sqlite3.connect(uri, uri=True, timeout=_BUSY_S, isolation_level=None, check_same_thread=False)
    try:
        check(db, path)
    except BaseException:
        db.close()
        raise
    return db


def _readings(rows: Sequence[tuple[Any, ...]]) -> list[Reading]:
    return [from_row(row[:8], *row[8:]) for row in rows]
