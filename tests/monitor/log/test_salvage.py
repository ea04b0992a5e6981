"""Damaged logs: what can be read is carried over unchanged, what can't is told."""

from __future__ import annotations

import random
import sqlite3
from typing import TYPE_CHECKING

import pytest

from monitor.log.problems import LogProblem
from monitor.log.reader import LogReader
from monitor.log.salvage import salvage
from tests.monitor.log.logs import A1, A2, BEGIN_MS, keep, opened, reading

if TYPE_CHECKING:
    from pathlib import Path

SECONDS = 3_000
PAGE = 1024


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """Give the bytes of a log of two points over 50 minutes."""
    path = tmp_path_factory.mktemp("good") / "log.sqlite"
    with opened(path) as writer:
        for second in range(SECONDS):
            keep(writer, reading(second), reading(second, A2))
        writer.note(BEGIN_MS, "Ines", "a note")
    return path.read_bytes()


def rows(path: Path, sql: str = "SELECT * FROM reading") -> set[tuple[object, ...]]:
    """Give the rows of a query."""
    db = sqlite3.connect(path)
    try:
        return set(db.execute(sql).fetchall())
    finally:
        db.close()


def test_a_sound_log_is_carried_over_whole(tmp_path: Path, good: bytes) -> None:
    """Nothing is lost, and what comes out is a log that opens, with its show, points, minutes and notes."""
    log, target = tmp_path / "log.sqlite", tmp_path / "new.sqlite"
    log.write_bytes(good)
    done = salvage(log, target, lambda *_: None)
    assert done.whole
    for table in ("reading", "minute", "point", "show_version", "note", "gap", "event", "alarm"):
        everything = f"SELECT * FROM {table}"  # noqa: S608 - names of our own
        assert rows(target, everything) == rows(log, everything), table
    with LogReader(target) as reader:
        assert len(reader.readings_between(A1, BEGIN_MS, BEGIN_MS + SECONDS * 1000)) == SECONDS
        assert reader.notes(5)[0].who == "Ines"
    with opened(target, SECONDS + 10) as writer:
        keep(writer, reading(SECONDS + 10))
    assert log.read_bytes() == good


@pytest.mark.parametrize("seed", range(40))
def test_damaged_pages_cost_little_and_nothing_is_invented(tmp_path: Path, good: bytes, seed: int) -> None:
    """Whole pages zeroed or filled with noise anywhere but at the head: most is kept, all of it as it was."""
    chance = random.Random(seed)
    log, target = tmp_path / "log.sqlite", tmp_path / "new.sqlite"
    log.write_bytes(good)
    whole = rows(log)
    raw = bytearray(good)
    leaves = _leaves(log)
    hit = chance.sample(leaves, 3)
    for page in hit:
        at = (page - 1) * PAGE
        raw[at : at + PAGE] = bytes(PAGE) if chance.random() < 0.5 else chance.randbytes(PAGE)
    log.write_bytes(raw)
    done = salvage(log, target, lambda *_: None)
    kept = rows(target)
    assert kept <= whole
    assert not done.whole
    assert len(kept) >= 0.97 * len(whole)
    for first, last in done.lost["reading"]:
        assert first <= last
    spoken_for = {row for row in whole if any(a <= row[0] <= b for a, b in done.lost["reading"])}  # type: ignore[operator]
    assert whole - kept <= spoken_for, "what was lost must be told"


def _leaves(log: Path) -> list[int]:
    """Give the pages that hold rows of table reading (dbstat is not built in everywhere: by a page's own mark)."""
    raw = log.read_bytes()
    (root,) = {row[0] for row in rows(log, "SELECT rootpage FROM sqlite_schema WHERE name = 'reading'")}
    found, waiting = [], [int(str(root))]
    while waiting:
        page = waiting.pop()
        at = (page - 1) * PAGE
        if raw[at] == 0x0A:  # https://www.sqlite.org/fileformat2.html, section 1.6: leaf of an index b-tree
            found.append(page)
            continue
        cells = int.from_bytes(raw[at + 3 : at + 5], "big")
        waiting.append(int.from_bytes(raw[at + 8 : at + 12], "big"))
        for cell in range(cells):
            start = at + int.from_bytes(raw[at + 12 + 2 * cell : at + 14 + 2 * cell], "big")
            waiting.append(int.from_bytes(raw[start : start + 4], "big"))
    return found


def test_a_log_that_was_cut_off_gives_what_is_there(tmp_path: Path, good: bytes) -> None:
    """The last third of the file is missing: what is kept is as it was, and the loss is told."""
    log, target = tmp_path / "log.sqlite", tmp_path / "new.sqlite"
    log.write_bytes(good)
    whole = rows(log)
    log.write_bytes(good[: len(good) * 2 // 3 // PAGE * PAGE])
    done = salvage(log, target, lambda *_: None)
    kept = rows(target)
    assert kept <= whole
    assert len(kept) > 0.3 * len(whole)
    assert not done.whole


def test_what_is_no_log_is_refused(tmp_path: Path) -> None:
    """A text file, a head without a body, a target that is there: one sentence each, nothing written."""
    log, target = tmp_path / "log.sqlite", tmp_path / "new.sqlite"
    log.write_text("time,point\n" * 50)
    with pytest.raises(LogProblem, match="not an SQLite file"):
        salvage(log, target, lambda *_: None)
    assert not target.exists()
    target.write_text("mine")
    with pytest.raises(LogProblem, match="there already"):
        salvage(log, target, lambda *_: None)
    assert target.read_text() == "mine"


def test_a_head_alone_gives_nothing(tmp_path: Path, good: bytes) -> None:
    """Only the first page is left: that is said, and no empty log is left behind."""
    log, target = tmp_path / "log.sqlite", tmp_path / "new.sqlite"
    log.write_bytes(good[:PAGE])
    with pytest.raises(LogProblem):
        salvage(log, target, lambda *_: None)
    assert not target.exists()
