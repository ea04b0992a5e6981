"""The log's schema, step by step; each step is applied once, by name, and never changed afterwards.

The only file that imports sqlite-utils: that costs about 0.12 s and 26 MB (measured), so only a logger that makes a
new log, or brings an older one forward, loads it. A change of schema is a new step here and a higher
``SCHEMA_VERSION``; table ``reading`` is WITHOUT ROWID, which sqlite-utils' ``transform()`` can't change, so use SQL.
"""

from __future__ import annotations

import sqlite3

from sqlite_utils import Database
from sqlite_utils.migrations import Migrations

from monitor.log.scaled import QUALITY_CODES, QUALITY_MEANINGS
from monitor.log.tables import INCIDENT, INDEXES, STEP, TABLES
from monitor.log.views import INCIDENTS, STEPS, VIEWS

MIGRATIONS = Migrations("legwatch")
_STRICT_SINCE = (3, 37)


@MIGRATIONS(name="001-tables")
def _tables(db: Database) -> None:
    for sql in TABLES:
        db.execute(sql if sqlite3.sqlite_version_info >= _STRICT_SINCE else _loose(sql))


@MIGRATIONS(name="001-qualities")
def _qualities(db: Database) -> None:
    rows = ({"id": QUALITY_CODES[q], "name": q.value, "meaning": QUALITY_MEANINGS[q]} for q in QUALITY_CODES)
    db.table("quality").insert_all(rows)


@MIGRATIONS(name="001-views")
def _views(db: Database) -> None:
    for name, sql in VIEWS.items():
        db.create_view(name, sql)


@MIGRATIONS(name="002-found")
def _found(db: Database) -> None:
    """Make room for what is found in the readings; nothing ever wrote a step before, but what stands is kept."""
    db.execute("CREATE TEMP TABLE earlier AS SELECT * FROM step")
    db.execute("DROP VIEW steps")
    db.execute("DROP TABLE step")
    for sql in (STEP, INCIDENT):
        db.execute(sql if sqlite3.sqlite_version_info >= _STRICT_SINCE else _loose(sql))
    columns = "id, time_ms, point, watts_dw, amps_ma, match"
    db.execute(f"INSERT INTO step (earliest_ms, {columns}) SELECT time_ms, {columns} FROM earlier")  # noqa: S608 - fixed names
    db.execute("DROP TABLE earlier")
    db.execute("ALTER TABLE writer ADD COLUMN software TEXT")
    for sql in INDEXES:
        db.execute(sql)
    db.create_view("steps", STEPS)
    db.create_view("incidents", INCIDENTS)


def _loose(sql: str) -> str:
    """Take STRICT off a statement, for an SQLite that does not know it yet."""
    return sql.replace("WITHOUT ROWID, STRICT", "WITHOUT ROWID").replace(") STRICT", ")")


def apply(connection: sqlite3.Connection, application_id: int, version: int) -> None:
    """Apply what is missing, all or nothing, and mark the file."""
    db = Database(connection, execute_plugins=False)
    with db.atomic():
        MIGRATIONS.apply(db)
        db.execute(f"PRAGMA application_id = {application_id}")
        db.execute(f"PRAGMA user_version = {version}")
