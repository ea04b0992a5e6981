"""The writer from start to start: restarts, show versions, order, retention."""

from __future__ import annotations

import sqlite3
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from drivers.bus.settings import BusSettings
from drivers.clock import Instant
from drivers.reading import Quality
from monitor.log.problems import LogProblem
from monitor.log.reader import LogReader
from monitor.log.writer import LogWriter
from monitor.show.model import Point
from tests.monitor.log.logs import A1, A2, BEGIN_MS, SHOW, instant, keep, opened, reading

if TYPE_CHECKING:
    from pathlib import Path

    from monitor.log.gaps import Gap


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Give the place of a log that is not there yet."""
    return tmp_path / "log.sqlite"


def seconds(gaps: list[Gap]) -> list[tuple[str, float, float | None, str]]:
    """Give gaps as (point, begin, end, reason), in s after the begin."""
    return [
        (
            str(g.point),
            (g.begin_ms - BEGIN_MS) / 1000,
            None if g.end_ms is None else (g.end_ms - BEGIN_MS) / 1000,
            g.reason,
        )
        for g in gaps
    ]


def one(path: Path, sql: str) -> tuple[Any, ...]:
    """Give the one row of a query."""
    db = sqlite3.connect(path)
    (row,) = db.execute(sql).fetchall()
    db.close()
    return tuple(row)


def test_a_restart_leaves_a_gap_at_every_point(path: Path) -> None:
    """From each point's last reading to its first new one, however short the stop."""
    with opened(path) as writer:
        keep(writer, reading(0, A1), reading(0.5, A2), reading(1, A1))
    with opened(path, 2) as writer:
        keep(writer, reading(3, A1))
        keep(writer, reading(4, A2))
    with LogReader(path) as log:
        assert seconds(log.gaps()) == [("boxA/L1", 0.5, 4, "not-logging"), ("A1", 1, 3, "not-logging")]


def test_a_gap_that_lasts_over_a_stop_ends_at_its_last_reading(path: Path) -> None:
    """What the logger did not see is not called silent."""
    with opened(path) as writer:
        keep(writer, reading(0), reading(1, quality=Quality.SILENT), reading(2, quality=Quality.SILENT))
    with opened(path, 60) as writer, LogReader(path) as log:
        assert seconds(log.gaps()) == [("A1", 1, 2, "silent")]
        keep(writer, reading(61, quality=Quality.SILENT))
        assert seconds(log.gaps())[1:] == [("A1", 2, 61, "not-logging"), ("A1", 61, None, "silent")]


def test_a_point_taken_out_long_ago_is_still_known(path: Path) -> None:
    """Its last reading lies hours back, behind those of others; its return closes the gap from there."""
    with opened(path) as writer:
        keep(writer, reading(17, A2))
        for minute in range(1, 30):
            keep(writer, reading(60 * minute, A1))
    with opened(path, 3600) as writer:
        keep(writer, reading(3601, A2))
    with LogReader(path) as log:
        assert ("boxA/L1", 17, 3601, "not-logging") in seconds(log.gaps())


def test_the_timeline_goes_on_after_the_log(path: Path) -> None:
    """A logger that starts with its clock an hour behind writes after the end of the log."""
    with opened(path) as writer:
        keep(writer, reading(5))
    with opened(path, -3600) as writer:
        time_ms, step = writer.timeline.stamp(instant(-3600))
        assert time_ms == BEGIN_MS + 5_001
        assert step is not None
        writer.write_cycle((replace(reading(0), time_ms=time_ms),), (), instant(-3600))
        with LogReader(path) as log:
            state = log.writer_state()
            assert (state.offset_ms, state.alive_ms) == (3_605_001, time_ms)


def test_a_clock_step_of_the_whole_chain_keeps_the_order(path: Path) -> None:
    """1970, then the true date, then an hour back: the log's readings stay in the order they were taken."""
    walls = [1000, 2000, BEGIN_MS, BEGIN_MS + 1000, BEGIN_MS - 3_600_000, BEGIN_MS - 3_599_000]
    volts = [float(n) for n in range(len(walls))]
    with LogWriter.open(path, SHOW, Instant(0, 0.0)) as writer:
        for n, wall_ms in enumerate(walls):
            at = Instant(wall_ms, float(n + 1))
            time_ms, _ = writer.timeline.stamp(at)
            values = replace(reading(0).values, volts=volts[n])
            writer.write_cycle((replace(reading(0, values=values), time_ms=time_ms, mono_s=at.mono_s),), (), at)
    with LogReader(path) as log:
        found = log.readings_since(0)
        assert [r.values.volts for r in found] == volts
        assert [g.reason for g in log.gaps()] == ["clock-step"]
        assert sum(m.watt_hours or 0.0 for m in log.minutes(A1, 0, 2 * BEGIN_MS)) == pytest.approx(1211.5 * 4 / 3600)


def test_a_show_is_recorded_when_its_text_is_new(path: Path) -> None:
    """The same text again adds no version; another does, and so does the first one when it comes back."""
    other = replace(SHOW, text=SHOW.text + "# moved the kettle\n")
    for second, show in enumerate((SHOW, SHOW, other, SHOW)):
        opened(path, second, show).close()
    assert one(path, "SELECT group_concat(time_ms - 1790000040000) FROM show_version") == ("0,2000,3000",)
    with LogReader(path) as log:
        assert log.latest_show() == SHOW.text


def test_who_writes_is_in_the_log(path: Path) -> None:
    """While it runs, and that it ended in order."""
    with opened(path) as writer, LogReader(path) as log:
        writer.write_cycle((), (), instant(7))
        state = log.writer_state()
        assert (state.running, state.since_ms, state.alive_ms) == (True, BEGIN_MS, BEGIN_MS + 7000)
    with LogReader(path) as log:
        assert not log.writer_state().running


def test_a_closed_log_is_one_file(path: Path) -> None:
    """Nothing is left beside it that somebody could forget to copy."""
    with opened(path) as writer:
        keep(writer, reading(0))
        assert len(list(path.parent.iterdir())) > 1
    assert list(path.parent.iterdir()) == [path]


def test_commits_are_synchronised_in_full(path: Path) -> None:
    """In WAL mode only FULL keeps every acknowledged commit over a power cut (https://www.sqlite.org/pragma.html)."""
    with opened(path) as writer:
        assert writer._db.execute("PRAGMA synchronous").fetchone() == (2,)
        assert writer._db.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        assert writer._db.execute("PRAGMA foreign_keys").fetchone() == (1,)


def test_a_point_that_the_show_does_not_name_is_kept_too(path: Path) -> None:
    """A replay may carry points of an older plan."""
    with opened(path) as writer:
        keep(writer, reading(0, Point("old", "L2")))
    assert one(path, "SELECT point FROM readings") == ("old/L2",)


@pytest.mark.parametrize("second", [4.0, 5.0, -70.0])
def test_old_readings_are_refused_whole(path: Path, second: float) -> None:
    """A reading that is not later than its point's last one is refused with its cycle; the log stays as it was."""
    with opened(path) as writer:
        keep(writer, reading(-90), reading(5))
        with pytest.raises(LogProblem, match="A1") as caught:
            writer.write_cycle((reading(second), reading(6, A2)), (), instant(6))
        assert caught.value.kind == "order"
        keep(writer, reading(6, A2))
    assert one(path, "SELECT count(*) FROM reading") == (3,)


def test_hold_follows_the_slowest_bus(path: Path) -> None:
    """A bus polled every ten seconds makes fifty seconds without a reading unbroken, a usual one five."""
    slow = replace(SHOW, buses=(*SHOW.buses, BusSettings("far", "modbus-rtu", port="/nowhere", interval_s=10.0)))
    LogWriter.open(path, slow, instant(0)).close()
    assert one(path, "SELECT hold_ms FROM writer") == (50_000,)
    LogWriter.open(path, SHOW, instant(1)).close()
    assert one(path, "SELECT hold_ms FROM writer") == (5_000,)


def test_retention_gives_up_readings_and_keeps_minutes(path: Path) -> None:
    """Readings older than the show keeps them go step by step, the oldest first; the minutes stay."""
    brief = replace(SHOW, retention_days=0.25 / 24)  # a quarter of an hour
    with opened(path, given=brief) as writer:
        for second in range(0, 3600, 5):
            keep(writer, reading(second))
        first, last = (BEGIN_MS + s * 1000 for s in (3540 - 900, 3595))
        with LogReader(path) as log:
            assert [r.time_ms for r in log.readings_since(0)] == list(range(first, last + 1, 5000))
            assert len(log.minutes(A1, 0, 2 * BEGIN_MS)) == 60


def test_retention_takes_small_steps(path: Path) -> None:
    """A long log that is to be kept short from now on loses a bounded part of it a minute."""
    with opened(path) as writer:
        keep(writer, *(reading(n / 100) for n in range(6000)))
    brief = replace(SHOW, retention_days=1e-6)
    with opened(path, 100, brief) as writer:
        left = []
        for minute in range(2, 7):
            keep(writer, reading(60 * minute))
            left.append(len(writer._db.execute("SELECT 1 FROM reading").fetchall()))
    assert left[0] == 6000 + 1 - 2000
    assert left[-1] < 10


def test_readers_do_not_hold_the_writer_up(path: Path) -> None:
    """A reader in the middle of a read neither blocks a commit nor sees it; its next read does."""
    with opened(path) as writer:
        keep(writer, reading(0))
        db = sqlite3.connect(path)
        db.execute("BEGIN")
        assert db.execute("SELECT count(*) FROM readings").fetchone() == (1,)
        keep(writer, reading(1))  # a lock in its way would make it give up
        assert db.execute("SELECT count(*) FROM readings").fetchone() == (1,)
        db.execute("COMMIT")
        assert db.execute("SELECT count(*) FROM readings").fetchone() == (2,)
        db.close()
