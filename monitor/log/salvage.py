"""What SQLite can still read of a damaged log, into a new one.

Each table is read in the order of its key. Where SQLite can't go on, the next key from which it can is looked for:
ahead in growing strides, then back by halves down to the finest step, so that a damaged page costs the rows on it and
few others. A row that the new log has no room for (a key that was there before) is passed over and counted.
"""

from __future__ import annotations

import sqlite3
from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from monitor.log.problems import LogProblem, of_sqlite
from monitor.log.schema import connect, refuse_foreign

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

_KEYS = {"reading": ("time_ms", 100), "minute": ("minute", 1), "gap": ("point", 1)}  # and the finest step
_SINCE_2 = ("incident",)
_BY_ROW = ("rowid", 1)
_LAST = 1 << 44  # beyond every key: a time in ms of the year 2527
_BATCH = 5_000


@dataclass(slots=True)
class Salvaged:
    """What came of it.

    Attributes:
        kept: rows by table.
        passed_over: rows that were read but fit nowhere, by table.
        lost: stretches of the key that could not be read, by table, joined where they touch.
        unread: tables that could not be read at all.

    """

    kept: Counter[str] = field(default_factory=Counter)
    passed_over: Counter[str] = field(default_factory=Counter)
    lost: dict[str, list[tuple[int, int]]] = field(default_factory=dict)
    unread: list[str] = field(default_factory=list)

    @property
    def whole(self) -> bool:
        """Whether nothing was lost as far as can be seen."""
        return not (self.lost or self.unread or self.passed_over)


def salvage(log: Path, target: Path, progress: Callable[[str, int], None]) -> Salvaged:
    """Read what can be read of ``log`` into the new log ``target``; ``log`` is left as it is.

    Args:
        log: the damaged log.
        target: of the new one.
        progress: called with a table's name and the rows read of it so far.

    Raises:
        LogProblem: the target is there already, or nothing at all can be read.

    """
    if target.exists():
        raise LogProblem("other", f"{target} is there already: name another file, or move that one away")
    refuse_foreign(log)
    refuse_foreign(target)
    uri = f"{log.resolve().as_uri()}?mode=ro"
    old = sqlite3.connect(uri, uri=True, isolation_level=None)
    done = Salvaged()
    try:
        old.execute("PRAGMA cell_size_check = ON")
        old.execute("PRAGMA writable_schema = ON")  # on this read-only door: else a file that was cut off stays shut
        new = connect(target)
        try:
            new.execute("PRAGMA foreign_keys = OFF")  # what a lost row was referred to by is worth keeping
            new.execute("PRAGMA synchronous = OFF")  # nothing is lost by a power cut here: it is done again
            for table in _tables(new):
                _carry(old, new, table, done, progress)
            new.execute("UPDATE writer SET running = 0")
            new.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
        finally:
            new.close()
    except sqlite3.Error as error:
        raise of_sqlite(error, log) from error
    finally:
        old.close()
    if not done.kept["show_version"]:
        target.unlink()
        raise LogProblem("corrupt", f"nothing of {log} can be read any more: look for a copy of it")
    return done


def _tables(new: sqlite3.Connection) -> list[str]:
    """Give the log's own tables, what others refer to first."""
    names = [
        name
        for (name,) in new.execute("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'")
        if not name.startswith("_")
    ]
    first = ["show_version", "point", "quality"]
    return first + [name for name in names if name not in first]


def _carry(
    old: sqlite3.Connection,
    new: sqlite3.Connection,
    table: str,
    done: Salvaged,
    progress: Callable[[str, int], None],
) -> None:
    """Carry one table over."""
    shared = sorted(_columns(old, table) & _columns(new, table))
    if not shared and table in _SINCE_2 and old.execute("PRAGMA user_version").fetchone() < (2,):
        return  # an older log never had it
    if not shared:
        done.unread.append(table)
        return
    names, marks = ", ".join(shared), ", ".join("?" * len(shared))
    key, finest = _KEYS.get(table, _BY_ROW)
    shared_key = table in _KEYS  # rows of one key may stand on two pages
    sql = f"SELECT {key}, {names} FROM {table} WHERE {key} >= ? ORDER BY {key}"  # noqa: S608 - names of our own
    source = _Source(old, sql, finest, shared_key=shared_key)
    new.execute("BEGIN")
    for rows in source.rows():
        before = new.total_changes
        new.executemany(f"INSERT OR IGNORE INTO {table} ({names}) VALUES ({marks})", [row[1:] for row in rows])  # noqa: S608 - as above
        kept = new.total_changes - before
        done.kept[table] += kept
        if table != "quality" and kept < len(rows):  # a new log has its qualities
            done.passed_over[table] += len(rows) - kept
        progress(table, done.kept[table])
    new.execute("COMMIT")
    if source.lost:
        done.lost[table] = source.lost


class _Source:
    """The rows of one table, over what can't be read.

    Args:
        db: the damaged log.
        sql: gives rows from a key on, the key first, in its order.
        finest: smallest step of the key.
        shared_key: several rows may have one key.

    Attributes:
        lost: stretches of the key that could not be read, both ends included.

    """

    def __init__(self, db: sqlite3.Connection, sql: str, finest: int, *, shared_key: bool) -> None:
        self._db, self._sql, self._finest, self._shared_key = db, sql, finest, shared_key
        self.lost: list[tuple[int, int]] = []

    def rows(self) -> Iterator[list[tuple[Any, ...]]]:
        """Give batch after batch."""
        at = 0
        while at <= _LAST:
            last, ended = at - 1, False
            for batch, whole in self._batches(at):
                ended = whole
                if batch:
                    last = batch[-1][0]
                    yield batch
            if ended:
                return
            at = self._beyond(last + 1)

    def _batches(self, at: int) -> Iterator[tuple[list[tuple[Any, ...]], bool]]:
        """Give batches of rows from a key on; with each, whether the end was reached after it."""
        rows: list[tuple[Any, ...]] = []
        whole = True
        try:
            for row in self._db.execute(self._sql, (at,)):
                rows.append(row)
                if len(rows) == _BATCH:
                    yield rows, False
                    rows = []
        except sqlite3.DatabaseError:
            whole = False
        yield rows, whole

    def _beyond(self, start: int) -> int:
        """Find where reading can go on after a failure at ``start``, and note what lies between as lost."""
        bad, step = start, self._finest
        good = start + step
        while good <= _LAST and not self._readable(good):
            bad, step = good, 2 * step
            good += step
        good = min(good, _LAST + 1)
        while good - bad > self._finest:
            middle = (bad + good) // 2
            bad, good = (bad, middle) if self._readable(middle) else (middle, good)
        if self._shared_key and start:
            start -= 1  # more rows of the last key may have stood where reading ended
        if self.lost and self.lost[-1][1] >= start - 1:
            start = self.lost.pop()[0]
        self.lost.append((start, good - 1))
        return good

    def _readable(self, key: int) -> bool:
        try:
            self._db.execute(self._sql + " LIMIT 1", (key,)).fetchone()
        except sqlite3.DatabaseError:
            return False
        return True


def _columns(db: sqlite3.Connection, table: str) -> set[str]:
    try:
        return {row[1] for row in db.execute(f"PRAGMA table_info({table})")}
    except sqlite3.Error:
        return set()
