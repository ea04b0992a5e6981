"""The program ends at any statement of a migration: the old log is whole, and the next start brings it forward."""

from __future__ import annotations

import os
import sqlite3
from typing import TYPE_CHECKING

from sqlite_utils import Database

from monitor.log import migrations, schema
from monitor.log.reader import LogReader
from monitor.log.schema import APPLICATION_ID, SCHEMA_VERSION
from tests.monitor.log.logs import keep, opened, reading
from tests.support.measured import Measured

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

READINGS = 50
ENDED = 77


def first_version(path: Path) -> bytes:
    """Make a log as version 1 left it, with readings, and give its bytes."""
    db = sqlite3.connect(path, isolation_level=None)
    db.execute(f"PRAGMA page_size = {schema.PAGE_BYTES}")
    migrations.MIGRATIONS.apply(Database(db, execute_plugins=False), stop_before="002-found")
    db.execute("INSERT INTO point VALUES (1, 'A1', '', 'A1')")
    rows = [(1_790_000_040_000 + 1000 * n, 1, 119_500, 10_250, 9_980, 12_115, None, 0) for n in range(READINGS)]
    db.executemany("INSERT INTO reading VALUES (?, ?, ?, ?, ?, ?, ?, ?)", rows)
    db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    db.execute("PRAGMA user_version = 1")
    db.execute("PRAGMA journal_mode = WAL")
    db.close()
    return path.read_bytes()


class Ending(sqlite3.Connection):
    """A connection whose process ends before its ``left``-th statement."""

    left = 0

    def execute(self, *words: object) -> sqlite3.Cursor:
        """Run a statement, or end."""
        Ending.left -= 1
        if Ending.left < 0:
            os._exit(ENDED)
        return super().execute(*words)  # type: ignore[arg-type]


def ended_at(path: Path, number: int) -> bool:
    """Bring the log forward in a process that ends at that statement; say whether it came to that."""
    child = os.fork()
    if child == 0:
        Ending.left = number
        db = sqlite3.connect(path, isolation_level=None, factory=Ending)
        schema._prepare(db, path)
        os._exit(0)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == ENDED


def test_a_migration_cut_off_anywhere(tmp_path: Path, record_property: Callable[[str, object], None]) -> None:
    """At each statement in turn: still readable as it was, then brought forward by the next logger, all there."""
    path = tmp_path / "log.sqlite"
    old, statements, lost = first_version(path), 0, 0
    while True:
        for rest in tmp_path.glob("log.sqlite-*"):
            rest.unlink()
        path.write_bytes(old)
        if not ended_at(path, statements):
            break
        statements += 1
        with LogReader(path) as log:
            assert len(log.readings_since(0)) == READINGS
        with opened(path, 100) as writer:
            keep(writer, reading(100))
        db = sqlite3.connect(path)
        assert db.execute("PRAGMA user_version").fetchone() == (SCHEMA_VERSION,)
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert db.execute("SELECT count(*) FROM incidents").fetchone() == (0,)
        lost += READINGS + 1 - db.execute("SELECT count(*) FROM readings").fetchone()[0]
        db.close()
    how = "the process ends at each statement in turn"
    Measured("migration cut off", how, statements, lost, statements * (READINGS + 1), "readings").keep(record_property)
    assert statements > 15
    assert lost == 0


def test_a_new_log_cut_off_anywhere(tmp_path: Path) -> None:
    """The same where the log is being made, at every third statement: the next start makes it."""
    path, statements = tmp_path / "log.sqlite", 0
    while ended_at(path, statements):
        statements += 3
        with opened(path) as writer:
            keep(writer, reading(0))
        for file in tmp_path.iterdir():
            file.unlink()
    assert statements > 15
