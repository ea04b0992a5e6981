"""The file itself: what any SQLite tool finds in it."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from sqlite_utils import Database

from drivers.reading import Quality
from monitor.log import migrations
from monitor.log.schema import APPLICATION_ID, SCHEMA_VERSION
from monitor.log.tables import INCIDENT, STEP, STEP_1, TABLES
from tests.monitor.log.logs import keep, opened, reading

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parents[3]
VIEWS = {
    "readings": "time_utc point volts amps hertz watts power_factor quality",
    "minutes": "time_utc point volts_min volts_mean volts_max amps_min amps_mean amps_max"
    " hertz_min hertz_mean hertz_max watts_mean watt_hours samples",
    "events": "time_utc kind place text data",
    "alarms": "time_utc code place priority before state since_utc who why until_utc value threshold text folded",
    "steps": "time_utc point watts amps match",
    "incidents": "number kind points begin_utc earliest_utc end_utc confidence evidence not_shown alternatives"
    " last_on last_on_planned",
    "gaps": "point begin_utc end_utc seconds reason detail",
    "notes": "time_utc who kind place number quantity text",
    "shows": "id time_utc sha256 text",
}


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Give a closed log with two readings, one of them a gap."""
    with opened(tmp_path / "log.sqlite") as writer:
        keep(writer, reading(0), reading(1, quality=Quality.REFUSED))
    return tmp_path / "log.sqlite"


@pytest.fixture
def db(path: Path) -> Iterator[sqlite3.Connection]:
    """Open it with nothing but Python's own module."""
    connection = sqlite3.connect(path)
    yield connection
    connection.close()


@pytest.mark.parametrize("view", VIEWS)
def test_views_have_their_columns(db: sqlite3.Connection, view: str) -> None:
    """Other programs read these names."""
    columns = db.execute(f"SELECT * FROM {view}").description  # noqa: S608 - a name from above
    assert [name for name, *_ in columns] == VIEWS[view].split()


def test_the_file_says_whose_it_is(db: sqlite3.Connection) -> None:
    """SQLite's header carries the program's mark and the version of the schema."""
    assert db.execute("PRAGMA application_id").fetchone() == (APPLICATION_ID,)
    assert db.execute("PRAGMA user_version").fetchone() == (SCHEMA_VERSION,)
    assert db.execute("PRAGMA journal_mode").fetchone() == ("wal",)


def test_the_file_is_sound(db: sqlite3.Connection) -> None:
    """No page and no foreign key is wrong."""
    assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    assert db.execute("PRAGMA foreign_key_check").fetchall() == []


def test_tables_are_strict_and_commented(db: sqlite3.Connection) -> None:
    """Every table of ours refuses values of the wrong type, and says in its own SQL what it holds."""
    tables = db.execute("SELECT name, sql FROM sqlite_master WHERE type = 'table' AND name NOT LIKE '\\_%' ESCAPE '\\'")
    found = dict(tables.fetchall())
    assert len(found) == len(TABLES) + 1  # with the incidents of schema 2
    assert [name for name, sql in found.items() if "--" not in sql] == []
    strict = {name for _, name, _, _, _, strict in db.execute("PRAGMA table_list") if strict}
    assert set(found) <= strict


@pytest.mark.parametrize(
    "sql",
    [
        "INSERT INTO reading (time_ms, point, quality) VALUES (5, 99, 0)",
        "INSERT INTO reading (time_ms, point, quality) VALUES (5, 1, 17)",
        "INSERT INTO gap VALUES (99, 5, 'silent', NULL, '')",
        "INSERT INTO gap VALUES (1, 5, 'silent', 4, '')",
        "INSERT INTO step (time_ms, point) VALUES (5, 99)",
        "INSERT INTO reading (time_ms, point, quality, volts_mv) VALUES (5, 1, 0, 'many')",
        "INSERT INTO note (time_ms, who, kind, place, text) VALUES (5, 'Ada', 'gossip', '', '')",
        "INSERT INTO note (time_ms, who, kind, place, text, number) VALUES (5, 'Ada', 'refuel', '', '', 40)",
    ],
)
def test_the_file_refuses_what_can_not_be(db: sqlite3.Connection, sql: str) -> None:
    """References, types and ranges are checked by SQLite itself."""
    db.execute("PRAGMA foreign_keys = ON")
    with pytest.raises(sqlite3.IntegrityError):
        db.execute(sql)


def test_opens_with_sqlite_utils(path: Path) -> None:
    """A general tool reads the views as they are."""
    db = Database(path)
    rows = list(db.view("readings").rows)
    assert [(row["point"], row["watts"], row["quality"]) for row in rows] == [
        ("A1", 1211.5, "good"),
        ("A1", None, "refused"),
    ]
    db.close()


def test_migrations_are_named_and_applied_once(path: Path) -> None:
    """The file knows its migrations by name; applying them again changes nothing."""
    db = Database(path)
    before = list(db.query("SELECT sql FROM sqlite_master ORDER BY name"))
    names = ["001-tables", "001-qualities", "001-views", "002-found"]
    assert [done.name for done in migrations.MIGRATIONS.applied(db)] == names
    migrations.apply(db.conn, APPLICATION_ID, SCHEMA_VERSION)
    assert list(db.query("SELECT sql FROM sqlite_master ORDER BY name")) == before
    assert db.query("SELECT count(*) AS n FROM quality").__next__()["n"] == len(Quality)
    db.close()


def test_every_quality_has_a_code(db: sqlite3.Connection) -> None:
    """The table in the file and the drivers' list of qualities hold the same names; good is 0."""
    codes = dict(db.execute("SELECT name, id FROM quality").fetchall())
    assert set(codes) == {quality.value for quality in Quality}
    assert codes["good"] == 0


def test_an_existing_log_is_opened_without_sqlite_utils(path: Path) -> None:
    """Writing on and reading an existing log does not pay for loading what only a new one needs."""
    script = f"""
import sys
from pathlib import Path
from monitor.log.reader import LogReader
from monitor.log.tables import INCIDENT, STEP, STEP_1, TABLES
from tests.monitor.log.logs import keep, opened, reading
with opened(Path({str(path)!r}), 9) as writer:
    keep(writer, reading(10))
with LogReader(Path({str(path)!r})) as log:
    print(len(log.readings_since(0)), "sqlite_utils" in sys.modules)
"""
    done = subprocess.run([sys.executable, "-c", script], cwd=ROOT, check=True, capture_output=True, text=True)
    assert done.stdout == "3 False\n"


def test_an_sqlite_without_strict_gets_the_same_tables() -> None:
    """Taking STRICT off leaves statements that SQLite takes, with every column."""
    db = sqlite3.connect(":memory:")
    for sql in (*(sql for sql in TABLES if sql != STEP_1), STEP, INCIDENT):
        loose = migrations._loose(sql)
        assert "STRICT" not in loose
        db.execute(loose)
    assert len(db.execute("PRAGMA table_info(reading)").fetchall()) == 8
    db.close()
