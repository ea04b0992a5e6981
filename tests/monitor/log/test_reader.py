"""Reading a log beside its writer, after it, and where nothing can be written."""

from __future__ import annotations

import shutil
import subprocess
from typing import TYPE_CHECKING

import pytest

from drivers.reading import Quality, Values
from monitor.engine.events import Event
from monitor.log.gaps import Gap
from monitor.log.problems import LogProblem
from monitor.log.reader import LogReader
from tests.monitor.log.logs import A1, A2, BEGIN_MS, LAMP, instant, keep, opened, reading
from tests.monitor.log.mounts import tmpfs

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Give the place of a log that is not there yet."""
    return tmp_path / "log.sqlite"


def test_readings_come_back_whole(path: Path) -> None:
    """With point, values, quality and the reason in words, oldest first."""
    with opened(path) as writer, LogReader(path) as log:
        keep(writer, reading(0, A1), reading(0.2, A2, Quality.SILENT, detail="no reply in 0.5 s"))
        keep(writer, reading(1, A1), reading(1.2, A2, Quality.SILENT, detail="no reply in 0.5 s"))
        keep(writer, reading(2, A2, Quality.CORRUPT, detail="wrong CRC"), reading(2.1, A2))
        found = log.readings_since(BEGIN_MS + 200)
    assert [(r.point, r.time_ms - BEGIN_MS, r.quality.value, r.detail) for r in found] == [
        (A2, 200, "silent", "no reply in 0.5 s"),
        (A1, 1000, "good", ""),
        (A2, 1200, "silent", "no reply in 0.5 s"),
        (A2, 2000, "corrupt", "wrong CRC"),
        (A2, 2100, "good", ""),
    ]
    assert [r.values for r in found] == [Values(), LAMP, Values(), Values(), LAMP]
    assert found[0].mono_s == found[0].time_ms / 1000


def test_one_points_readings_between_two_times(path: Path) -> None:
    """From the first to before the last moment, of that point only."""
    with opened(path) as writer, LogReader(path) as log:
        keep(writer, *(reading(s, p) for s in range(5) for p in (A1, A2)))
        found = log.readings_between(A2, BEGIN_MS + 1000, BEGIN_MS + 3000)
        assert [(r.point, r.time_ms - BEGIN_MS) for r in found] == [(A2, 1000), (A2, 2000)]
        assert log.last_time_ms() == BEGIN_MS + 4000


def test_an_empty_log_says_so(path: Path) -> None:
    """No reading is no time, and no list has anything in it."""
    with opened(path), LogReader(path) as log:
        assert log.last_time_ms() is None
        assert (log.readings_since(0), log.minutes(A1, 0, 2 * BEGIN_MS), log.events(9), log.gaps()) == ([], [], [], [])


def test_the_newest_events_oldest_first(path: Path) -> None:
    """As many as asked for, as they went in."""
    events = [Event(BEGIN_MS + n, "said", "A1", f"number {n}", {"n": n, "x": None}) for n in range(5)]
    with opened(path) as writer, LogReader(path) as log:
        writer.write_cycle((), events, instant(0))
        assert log.events(2) == events[3:]


def test_gaps_come_back_as_they_were_made(path: Path) -> None:
    """With their point, their times and their words."""
    with opened(path) as writer, LogReader(path) as log:
        keep(writer, reading(0, A2, Quality.REFUSED, detail="exception 2"))
        assert log.gaps() == [Gap(A2, BEGIN_MS, None, "refused", "exception 2")]


def test_minutes_by_their_begin(path: Path) -> None:
    """A minute belongs to the span in which it begins."""
    with opened(path) as writer, LogReader(path) as log:
        for second in range(0, 300, 5):
            keep(writer, reading(second))
        found = log.minutes(A1, BEGIN_MS + 1, BEGIN_MS + 180_001)
        assert [m.begin_ms - BEGIN_MS for m in found] == [60_000, 120_000, 180_000]


def test_a_closed_log_is_read_from_a_place_that_can_not_be_written(path: Path, tmp_path: Path) -> None:
    """A log on a read-only file system opens although SQLite can't put its files beside it."""
    with opened(path) as writer:
        keep(writer, reading(0))
    with tmpfs(tmp_path / "disk", "1m") as disk:
        shutil.copy(path, disk / "log.sqlite")
        subprocess.run(["mount", "-o", "remount,ro", disk], check=True)
        with LogReader(disk / "log.sqlite") as log:
            assert [r.values for r in log.readings_since(0)] == [LAMP]


def test_commits_that_can_not_be_read_are_not_passed_over(path: Path, tmp_path: Path) -> None:
    """A copy of a running log on a read-only file system, with its WAL but without the rest, is refused."""
    with opened(path) as writer, tmpfs(tmp_path / "disk", "8m") as disk:
        keep(writer, reading(0))
        shutil.copy(path, disk / "log.sqlite")
        shutil.copy(f"{path}-wal", disk / "log.sqlite-wal")
        subprocess.run(["mount", "-o", "remount,ro", disk], check=True)
        with pytest.raises(LogProblem) as caught:
            LogReader(disk / "log.sqlite")
    assert str(disk / "log.sqlite") in str(caught.value)


def test_a_copy_of_a_running_log_with_its_wal_is_whole(path: Path, tmp_path: Path) -> None:
    """What was committed and is still in the WAL is read from a copy of both files."""
    (tmp_path / "copy").mkdir()
    with opened(path) as writer:
        keep(writer, reading(0))
        for name in ("log.sqlite", "log.sqlite-wal"):
            shutil.copy(tmp_path / name, tmp_path / "copy" / name)
    with LogReader(tmp_path / "copy" / "log.sqlite") as log:
        assert len(log.readings_since(0)) == 1
