"""A copy of a log beside the logger that writes it: whole, checked, and nobody's file overwritten."""

from __future__ import annotations

import sqlite3
import threading
from typing import TYPE_CHECKING

import pytest

from monitor.log.copying import copy_log
from monitor.log.problems import LogProblem
from monitor.log.reader import LogReader
from tests.monitor.log.logs import A1, A2, BEGIN_MS, keep, opened, reading

if TYPE_CHECKING:
    from pathlib import Path


def test_a_copy_beside_a_running_writer_ends_and_is_whole(tmp_path: Path) -> None:
    """Commits go on while the copy is made; the copy holds every commit up to one of them, in order, none torn."""
    log, target = tmp_path / "log.sqlite", tmp_path / "copy.sqlite"
    stop = threading.Event()
    with opened(log) as writer:
        for second in range(2_000):
            keep(writer, reading(second), reading(second, A2))

        def go_on() -> None:
            second = 2_000
            while not stop.is_set():
                keep(writer, reading(second), reading(second, A2))
                second += 1

        thread = threading.Thread(target=go_on)
        thread.start()
        copied = copy_log(log, target)
        stop.set()
        thread.join()
    assert copied.readings >= 4_000
    assert copied.readings % 2 == 0  # two readings a commit
    assert copied.first_ms == BEGIN_MS
    assert copied.last_ms == BEGIN_MS + (copied.readings // 2 - 1) * 1000
    db = sqlite3.connect(target)
    assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    db.close()
    with LogReader(target) as reader:
        assert reader.readings_between(A1, BEGIN_MS, BEGIN_MS + 1)[0].values.volts == 119.5
    assert sorted(p.name for p in tmp_path.iterdir()) == ["copy.sqlite", "log.sqlite"]


def test_a_logger_can_go_on_with_the_copy(tmp_path: Path) -> None:
    """The copy is a log like any other."""
    with opened(tmp_path / "log.sqlite") as writer:
        keep(writer, reading(0))
    copy_log(tmp_path / "log.sqlite", tmp_path / "copy.sqlite")
    with opened(tmp_path / "copy.sqlite", 10) as writer:
        keep(writer, reading(10))
    with LogReader(tmp_path / "copy.sqlite") as reader:
        assert len(reader.readings_between(A1, BEGIN_MS, BEGIN_MS + 60_000)) == 2


def test_a_file_that_is_there_stays(tmp_path: Path) -> None:
    """No file is overwritten, not even by a copy of the same log."""
    with opened(tmp_path / "log.sqlite") as writer:
        keep(writer, reading(0))
    target = tmp_path / "copy.sqlite"
    target.write_text("my notes")
    with pytest.raises(LogProblem, match="there already"):
        copy_log(tmp_path / "log.sqlite", target)
    assert target.read_text() == "my notes"


def test_a_copy_into_nowhere_is_told(tmp_path: Path) -> None:
    """A directory that is not there is named."""
    with opened(tmp_path / "log.sqlite") as writer:
        keep(writer, reading(0))
    with pytest.raises(LogProblem, match="does not exist"):
        copy_log(tmp_path / "log.sqlite", tmp_path / "nowhere" / "copy.sqlite")


def test_a_damaged_log_gives_no_copy(tmp_path: Path) -> None:
    """A copy of a damaged log would look like a good one: it is refused, and no file is left."""
    log = tmp_path / "log.sqlite"
    with opened(log) as writer:
        for second in range(500):
            keep(writer, reading(second))
    raw = bytearray(log.read_bytes())
    middle = len(raw) // 2 // 1024 * 1024
    raw[middle : middle + 4096] = bytes(4096)
    log.write_bytes(raw)
    with pytest.raises(LogProblem, match="damaged"):
        copy_log(log, tmp_path / "copy.sqlite")
    assert not list(tmp_path.glob("copy*"))
