"""Steps and incidents in the log: what goes in comes out, and logs from before there were any."""

from __future__ import annotations

import sqlite3
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from sqlite_utils import Database

from monitor.electrical.steps import Step
from monitor.incidents.model import Found, FoundStep, Kind
from monitor.log.migrations import MIGRATIONS, _loose
from monitor.log.reader import LogReader
from monitor.log.salvage import salvage
from monitor.log.schema import APPLICATION_ID
from monitor.log.tables import TABLES
from monitor.log.views import VIEWS
from monitor.show.model import Point
from tests.monitor.log.findings import found_step, incident
from tests.monitor.log.logs import BEGIN_MS, instant, keep, opened, reading

if TYPE_CHECKING:
    from pathlib import Path

CYCLING = Step(
    (BEGIN_MS + 9_000) / 1000, (BEGIN_MS + 8_000) / 1000, -1200.5, None, "off", "cycling", ("Urn", "Urn", "Fan"), 0.75,
    over_gap=True, since_s=(BEGIN_MS + 1_000) / 1000,
)  # fmt: skip
STEPS = (
    found_step(5, match=("Key light",)),
    FoundStep("A1", BEGIN_MS + 9_000, BEGIN_MS + 8_000, CYCLING, "an opening looks the same"),
    found_step(20, watts=None, amps=-4.2, circuit="B7"),
)


def old_log(path: Path) -> None:
    """Make a log as the first schema had it, with one reading."""
    db = sqlite3.connect(path)
    for sql in TABLES:
        db.execute(_loose(sql))
    for name, sql in VIEWS.items():
        db.execute(f"CREATE VIEW {name} AS {sql}")
    db.execute("INSERT INTO quality VALUES (0, 'good', 'measured')")
    db.execute("INSERT INTO point VALUES (1, 'A1', '', 'A1')")
    db.execute("INSERT INTO show_version VALUES (1, ?, 'x', 'old')", (BEGIN_MS,))
    db.execute("INSERT INTO reading VALUES (?, 1, 119000, 5000, 9980, NULL, NULL, 0)", (BEGIN_MS,))
    db.execute("INSERT INTO writer VALUES (1, 5, 'host', ?, ?, 0, 0, 5000)", (BEGIN_MS, BEGIN_MS))
    names = ("001-tables", "001-qualities", "001-views")
    db.execute(
        "CREATE TABLE _sqlite_migrations (id INTEGER PRIMARY KEY, migration_set TEXT, name TEXT, applied_at TEXT)"
    )
    db.executemany(
        "INSERT INTO _sqlite_migrations (migration_set, name, applied_at) VALUES ('legwatch', ?, '')",
        [(n,) for n in names],
    )
    db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    db.execute("PRAGMA user_version = 1")
    db.commit()
    db.close()


def test_steps_come_back_as_they_went_in(tmp_path: Path) -> None:
    """With every piece, in order, also at a circuit that is metered leg by leg only."""
    with opened(tmp_path / "log.sqlite") as writer:
        writer.write_cycle((reading(30),), (), instant(30), found=Found(STEPS))
    with LogReader(tmp_path / "log.sqlite") as reader:
        assert tuple(reader.steps()) == STEPS
        assert reader.steps(BEGIN_MS + 9_000, BEGIN_MS + 20_000) == [STEPS[1]]


def test_an_incident_told_again_replaces_what_was_there(tmp_path: Path) -> None:
    """One row a number, as it was told last."""
    first, again = incident(), replace(incident(end_s=900), confidence=0.5, last_on="", last_on_planned=None)
    other = incident(2, 100, Kind.LOST_NEUTRAL, (Point("boxA"), Point("boxA", "L1")))
    with opened(tmp_path / "log.sqlite") as writer:
        writer.write_cycle((), (), instant(310), found=Found((), (first,)))
        writer.write_cycle((), (), instant(320), found=Found((), (other, again)))
    with LogReader(tmp_path / "log.sqlite") as reader:
        assert reader.incidents() == [other, again]
        assert reader.incidents(BEGIN_MS + 100_001) == [again]


def test_what_is_found_is_written_with_its_cycle_or_not_at_all(tmp_path: Path) -> None:
    """A reading that can't be kept takes the step of the same cycle with it."""
    with opened(tmp_path / "log.sqlite") as writer:
        keep(writer, reading(10))
        with pytest.raises(Exception, match="older readings can't be added"):
            writer.write_cycle((reading(9),), (), instant(11), found=Found(STEPS, (incident(),)))
    with LogReader(tmp_path / "log.sqlite") as reader:
        assert (reader.steps(), reader.incidents()) == ([], [])


def test_views_show_what_was_found(tmp_path: Path) -> None:
    """In real units, loads by name, nobody's load as NULL."""
    with opened(tmp_path / "log.sqlite") as writer:
        writer.write_cycle((), (), instant(30), found=Found(STEPS, (incident(),)))
    db = sqlite3.connect(tmp_path / "log.sqlite")
    assert db.execute("SELECT * FROM steps").fetchall() == [
        ("2026-09-21T14:14:05.000Z", "A1", 1500.0, 12.5, "Key light"),
        ("2026-09-21T14:14:09.000Z", "A1", -1200.5, None, "Urn + Fan"),
        ("2026-09-21T14:14:20.000Z", "B7", None, -4.2, None),
    ]
    assert db.execute("SELECT number, kind, points, begin_utc, end_utc, last_on_planned FROM incidents").fetchall() == [
        (1, "overload-trip", '[["A1", ""]]', "2026-09-21T14:19:00.000Z", None, 0)
    ]
    db.close()


def test_an_older_log_is_read_as_it_is(tmp_path: Path) -> None:
    """A reader changes nothing; such a log holds no steps and no incidents."""
    path = tmp_path / "log.sqlite"
    old_log(path)
    before = path.read_bytes()
    with LogReader(path) as reader:
        assert (reader.steps(), reader.incidents()) == ([], [])
        assert reader.writer_software() == ""
        assert len(reader.readings_since(0)) == 1
    assert path.read_bytes() == before


def test_an_older_log_is_brought_forward_by_a_writer(tmp_path: Path) -> None:
    """Its readings stay, what is found is kept from now on, and a view reads the steps."""
    path = tmp_path / "log.sqlite"
    old_log(path)
    with opened(path, 60) as writer:
        writer.write_cycle((reading(61),), (), instant(61), found=Found((found_step(60),), (incident(3),)))
    with LogReader(path) as reader:
        assert len(reader.readings_since(0)) == 2
        assert [step.time_ms for step in reader.steps()] == [BEGIN_MS + 60_000]
        assert max(one.number for one in reader.incidents()) == 3
        assert reader.writer_software() != ""
        assert reader.shows()[0].text == "old"
    db = sqlite3.connect(path)
    assert db.execute("SELECT count(*) FROM steps").fetchone() == (1,)
    assert len(list(MIGRATIONS.applied(Database(db)))) == 4
    db.close()


def test_repairing_an_older_log_misses_nothing(tmp_path: Path) -> None:
    """That it has no incidents is no loss: it never had any."""
    old_log(tmp_path / "old.sqlite")
    done = salvage(tmp_path / "old.sqlite", tmp_path / "new.sqlite", lambda _table, _rows: None)
    assert done.whole
    with LogReader(tmp_path / "new.sqlite") as reader:
        assert len(reader.readings_since(0)) == 1
