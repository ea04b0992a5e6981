"""What can go wrong with the file: one clear sentence each, nothing half-written, nobody's file touched."""

from __future__ import annotations

import contextlib
import os
import shutil
import sqlite3
import subprocess
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from drivers.reading import Quality
from monitor.engine.events import Event
from monitor.log.problems import LogProblem
from monitor.log.reader import LogReader
from monitor.log.schema import APPLICATION_ID, SCHEMA_VERSION
from tests.monitor.log.logs import A1, A2, BEGIN_MS, instant, keep, opened, reading
from tests.monitor.log.mounts import tmpfs

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from monitor.log.writer import LogWriter


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Give the place of a log that is not there yet."""
    return tmp_path / "log.sqlite"


def text_file(path: Path) -> None:
    """Make a file that is no SQLite file."""
    path.write_text("time,point,volts\n" * 50)


def short_file(path: Path) -> None:
    """Make a file that begins like an SQLite file and ends soon after."""
    path.write_bytes(b"SQLite format 3\x00\x10\x00")


def marked_file(path: Path) -> None:
    """Make an SQLite file that carries another program's mark."""
    db = sqlite3.connect(path)
    db.execute("CREATE TABLE guests (name)")
    db.execute("PRAGMA application_id = 77")
    db.close()


def unmarked_file(path: Path) -> None:
    """Make an SQLite file of a program that leaves no mark."""
    db = sqlite3.connect(path)
    db.execute("CREATE TABLE guests (name)")
    db.close()


def newer_log(path: Path) -> None:
    """Make a log that says it is of the next version."""
    opened(path).close()
    db = sqlite3.connect(path)
    db.execute("PRAGMA journal_mode = DELETE")
    db.execute(f"PRAGMA user_version = {SCHEMA_VERSION + 1}")
    db.close()


FOREIGN = [
    (text_file, "not-sqlite", "not an SQLite file"),
    (short_file, "not-sqlite", "not an SQLite file"),
    (marked_file, "foreign", "another program"),
    (unmarked_file, "foreign", "another program"),
    (newer_log, "newer", f"log version {SCHEMA_VERSION + 1}"),
]


@pytest.mark.parametrize(("make", "kind", "words"), FOREIGN)
@pytest.mark.parametrize("open_it", [opened, LogReader])
def test_a_file_that_is_no_log_of_ours_is_left_alone(
    path: Path, open_it: Callable[[Path], object], make: Callable[[Path], None], kind: str, words: str
) -> None:
    """Writer and reader refuse it, name it, and change neither a byte of it nor its directory."""
    make(path)
    before = path.read_bytes()
    with pytest.raises(LogProblem, match=words) as caught:
        open_it(path)
    assert caught.value.kind == kind
    assert str(path) in str(caught.value)
    assert path.read_bytes() == before
    assert list(path.parent.iterdir()) == [path]


def test_an_empty_file_becomes_a_log(path: Path) -> None:
    """A file of no bytes, as an unlucky first start may leave it, is nobody's."""
    path.touch()
    with opened(path) as writer:
        keep(writer, reading(0))
    with LogReader(path) as log:
        assert len(log.readings_since(0)) == 1


def test_a_missing_directory_is_named(tmp_path: Path) -> None:
    """The directory is not made: a wrong name should be seen."""
    with pytest.raises(LogProblem, match=r"directory .*nowhere does not exist") as caught:
        opened(tmp_path / "nowhere" / "log.sqlite")
    assert caught.value.kind == "missing"


def test_a_missing_log_is_not_made_by_reading(path: Path) -> None:
    """A reader of a log that is not there says so and leaves nothing."""
    with pytest.raises(LogProblem, match="does not exist"):
        LogReader(path)
    assert list(path.parent.iterdir()) == []


def test_a_directory_is_no_log(tmp_path: Path) -> None:
    """The name of a directory is refused with the system's own word for it."""
    with pytest.raises(LogProblem, match="directory"):
        opened(tmp_path)


@contextlib.contextmanager
def plain_user(place: Path) -> Iterator[None]:
    """Be a user without special rights, for whom ``place`` is another's; root becomes one for a moment."""
    if os.geteuid():
        yield
        return
    for directory in (place, *place.parents):
        if directory.stat().st_mode & 0o1 == 0:
            pytest.skip(f"{directory} is closed to other users")
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)


@pytest.fixture
def place() -> Iterator[Path]:
    """Give a directory that every user can reach, with a log in it."""
    with tempfile.TemporaryDirectory() as directory:
        place = Path(directory)
        place.chmod(0o755)
        with opened(place / "log.sqlite") as writer:
            keep(writer, reading(0))
        yield place
        place.chmod(0o755)


@pytest.mark.parametrize(
    ("use", "directory", "file", "kind"),
    [
        (lambda place: opened(place / "new.sqlite"), 0o555, 0o644, "no-permission"),
        (lambda place: opened(place / "log.sqlite", 1), 0o555, 0o644, "no-permission"),
        (lambda place: opened(place / "log.sqlite", 1), 0o777, 0o444, "read-only"),
        (lambda place: opened(place / "log.sqlite", 1), 0o777, 0o000, "no-permission"),
        (lambda place: LogReader(place / "log.sqlite"), 0o777, 0o000, "no-permission"),
    ],
)
def test_no_permission(place: Path, use: Callable[[Path], object], directory: int, file: int, kind: str) -> None:
    """A directory or a file that this user may not write or read is told as such, and stays as it is."""
    (place / "log.sqlite").chmod(file)
    place.chmod(directory)
    with plain_user(place), pytest.raises(LogProblem) as caught:
        use(place)
    assert caught.value.kind == kind
    assert str(place) in str(caught.value)


@pytest.mark.parametrize("use", [opened, LogReader])
def test_a_log_behind_a_closed_door(place: Path, use: Callable[[Path], object]) -> None:
    """A directory that this user may not enter is told as such, not as a missing file."""
    door = place / "door"
    door.mkdir(mode=0o000)
    with plain_user(place), pytest.raises(LogProblem) as caught:
        use(door / "log.sqlite")
    assert caught.value.kind == "no-permission"


def test_a_log_that_may_only_be_read_is_read(place: Path) -> None:
    """A user who may read the file but not write beside it sees all of it."""
    place.chmod(0o555)
    with plain_user(place), LogReader(place / "log.sqlite") as log:
        assert len(log.readings_since(0)) == 1


def test_a_read_only_disk(path: Path, tmp_path: Path) -> None:
    """A log on a read-only file system can't be written on, and says why."""
    opened(path).close()
    with tmpfs(tmp_path / "disk", "1m") as disk:
        shutil.copy(path, disk / "log.sqlite")
        subprocess.run(["mount", "-o", "remount,ro", disk], check=True)
        with pytest.raises(LogProblem, match="read-only") as caught:
            opened(disk / "log.sqlite", 1)
    assert caught.value.kind == "read-only"


def test_a_damaged_log(path: Path) -> None:
    """A log with rubbish in its pages is told as damaged, by the writer and by the reader."""
    with opened(path) as writer:
        keep(writer, *(reading(s, p) for s in range(300) for p in (A1, A2)))
    with path.open("r+b") as file:
        file.seek(1024)
        file.write(b"\xa5" * (path.stat().st_size - 2048))
    before = path.read_bytes()
    for use in (opened, lambda path: LogReader(path).last_time_ms()):
        with pytest.raises(LogProblem, match="damaged") as caught:
            use(path)
        assert caught.value.kind == "corrupt"
    assert path.read_bytes() == before


def write(writer: LogWriter, begin: int, end: int) -> int:
    """Write a cycle a second; give the second whose cycle found no space, ``end`` where all went in."""
    for second in range(begin, end):
        event = Event(BEGIN_MS + second, "cycle", "", str(second))
        silent = second // 10 % 2 == 1  # ten seconds in twenty: a gap
        cycle = (reading(second, A1), reading(second, A2, Quality.SILENT if silent else Quality.GOOD))
        try:
            writer.write_cycle(cycle, (event,), instant(second))
        except LogProblem as problem:
            if problem.kind != "full":
                raise
            return second
    return end


def assert_whole(path: Path, cycles: int) -> None:
    """Check that exactly the first ``cycles`` cycles are in the log, whole, with their gaps and minutes."""
    db = sqlite3.connect(path)
    assert [int(text) for (text,) in db.execute("SELECT text FROM events")] == list(range(cycles))
    assert db.execute("SELECT count(*) FROM reading").fetchone() == (2 * cycles,)
    assert db.execute("SELECT count(*) FROM gap").fetchone() == (sum(s % 20 == 10 for s in range(cycles)),)
    assert db.execute("SELECT sum(good + bad) FROM minute_all").fetchone() == (2 * cycles,)
    assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    db.close()


def test_a_full_disk_keeps_whole_cycles_and_goes_on_when_there_is_space(tmp_path: Path) -> None:
    """The cycle that did not fit is not there in part; once there is space the same cycle goes in, nothing is lost."""
    with tmpfs(tmp_path / "disk", "1m") as disk:
        ballast = disk / "ballast"
        ballast.write_bytes(bytes(600_000))
        path = disk / "log.sqlite"
        with opened(path) as writer:
            second = write(writer, 0, 100_000)
            assert 10 < second < 100_000
            assert write(writer, second, second + 1) == second  # it stays full
            copy = tmp_path / "copy.sqlite"
            for end in ("", "-wal"):
                shutil.copy(f"{path}{end}", f"{copy}{end}")
            assert_whole(copy, second)
            ballast.unlink()
            assert write(writer, second, second + 100) == second + 100
        assert_whole(path, second + 100)


def test_a_file_at_its_limit_keeps_whole_cycles(path: Path) -> None:
    """The same where the limit is SQLite's own, which needs no disk of its own to be reached."""
    with opened(path) as writer:
        (pages,) = writer._db.execute("PRAGMA page_count").fetchone()
        writer._db.execute(f"PRAGMA max_page_count = {pages + 20}")
        second = write(writer, 0, 100_000)
        assert 10 < second < 100_000
        writer._db.execute("PRAGMA max_page_count = 100000")
        assert write(writer, second, second + 100) == second + 100
    assert_whole(path, second + 100)


def test_no_space_for_a_new_log(tmp_path: Path) -> None:
    """A log can't be begun on a full disk; it can once there is space."""
    with tmpfs(tmp_path / "disk", "64k") as disk:
        ballast = disk / "ballast"
        with pytest.raises(OSError, match="space"):
            ballast.write_bytes(bytes(1_000_000))
        with pytest.raises(LogProblem) as caught:
            opened(disk / "log.sqlite")
        assert caught.value.kind == "full"


def test_a_log_that_was_moved_away(path: Path) -> None:
    """Readings must not go into a file that nobody will find; put back, it takes them."""
    with opened(path) as writer:
        keep(writer, reading(0))
        path.rename(path.with_name("moved"))
        with pytest.raises(LogProblem, match="is gone") as caught:
            keep(writer, reading(1))
        assert caught.value.kind == "vanished"
        path.with_name("moved").rename(path)
        keep(writer, reading(1))
    with LogReader(path) as log:
        assert len(log.readings_since(0)) == 2


def test_another_file_in_the_logs_place(path: Path) -> None:
    """A new file of the same name is not the log."""
    with opened(path) as writer:
        path.rename(path.with_name("moved"))
        path.touch()
        with pytest.raises(LogProblem) as caught:
            keep(writer, reading(0))
    assert caught.value.kind == "vanished"


def test_another_program_holds_a_write(path: Path) -> None:
    """An open transaction of somebody's tool is named as what it is, and the cycle goes in afterwards."""
    with opened(path) as writer:
        writer._db.execute("PRAGMA busy_timeout = 10")
        other = sqlite3.connect(path, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(LogProblem, match="locked by another program"):
            keep(writer, reading(0))
        other.execute("ROLLBACK")
        other.close()
        keep(writer, reading(0))
    with LogReader(path) as log:
        assert log.last_time_ms() == BEGIN_MS


def test_an_unfinished_first_start_is_begun_anew(path: Path) -> None:
    """A file of SQLite's with nothing in it, as a crash in the first moment leaves it, becomes a log."""
    db = sqlite3.connect(path)
    db.execute("CREATE TABLE t (x)")
    db.execute("DROP TABLE t")
    db.close()
    opened(path).close()
    db = sqlite3.connect(path)
    assert db.execute("PRAGMA application_id").fetchone() == (APPLICATION_ID,)
    db.close()
