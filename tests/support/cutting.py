"""One logger that loses its power, and what is found in its log afterwards."""

from __future__ import annotations

import random
import sqlite3
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pytest

from monitor.log import schema
from monitor.log.reader import LogReader
from tests.monitor.log.logs import A1, A2, BEGIN_MS, instant, keep, opened, reading
from tests.support.cuts import DISKS, Book, Disk, Door, PowerCut

if TYPE_CHECKING:
    from pathlib import Path

MOST_STEPS = 400  # writes and syncs until the power goes: about twenty commits and some checkpoints
CHECKPOINT_PAGES = 24
SYNCHRONOUS = ""  # as the writer sets it; a test that the shim can find a fault sets another


@dataclass(frozen=True)
class Outcome:
    """What one cut left.

    Attributes:
        acknowledged: cycles that the writer had said were written.
        found: cycles in the log afterwards, whole ones.
        torn: cycles of which a part is there.
        sound: what SQLite's integrity check says.
        opened_again: whether a logger could go on with it.

    """

    acknowledged: int
    found: int
    torn: int
    sound: str
    opened_again: bool


def base_log(path: Path) -> bytes:
    """Give the bytes of a new log, as it lies on the disk after an orderly end."""
    opened(path).close()
    return path.read_bytes()


def cut_once(folder: Path, base: bytes, seed: int) -> Outcome:
    """Let a logger write two points a second until the power goes, and look at what the disk then holds."""
    chance = random.Random(seed)
    running, after = folder / "running", folder / "after"
    for each in (running, after):
        each.mkdir()
    log = running / "log.sqlite"
    log.write_bytes(base)
    disk = Disk()
    disk.books[str(log)] = Book(bytearray(base))
    DISKS[str(running)] = disk
    try:
        acknowledged = _run(log, disk, chance)
    finally:
        del DISKS[str(running)]
    for name, book in disk.books.items():
        (after / name.rpartition("/")[2]).write_bytes(book.after_a_cut(chance))
    return _look(after / "log.sqlite", acknowledged)


def _run(log: Path, disk: Disk, chance: random.Random) -> int:
    """Write until the power goes; give the cycles that were acknowledged."""
    door: list[Door] = []

    def connect(path: Path) -> Door:
        door.append(Door(path))
        schema._set_up(door[0], path)  # type: ignore[arg-type]
        door[0].execute(f"PRAGMA wal_autocheckpoint = {CHECKPOINT_PAGES}")
        if SYNCHRONOUS:
            door[0].execute(f"PRAGMA synchronous = {SYNCHRONOUS}")
        return door[0]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("monitor.log.writer.connect", connect)
        writer = opened(log)
    disk.left = chance.randrange(MOST_STEPS)
    acknowledged = 0
    try:
        while True:
            keep(writer, reading(acknowledged), reading(acknowledged, A2))
            acknowledged += 1
    except PowerCut:
        pass
    finally:
        door[0].abandon()
        writer._lock.release()
    return acknowledged


def _look(log: Path, acknowledged: int) -> Outcome:
    """Open what is left as the next logger would, and count."""
    with opened(log, 1_000) as writer:
        keep(writer, reading(1_000))
    db = sqlite3.connect(log)
    (sound,) = db.execute("PRAGMA integrity_check").fetchone()
    db.close()
    with LogReader(log) as reader:
        end_ms = instant(1_000).wall_ms
        first, second = ({r.time_ms for r in reader.readings_between(point, BEGIN_MS, end_ms)} for point in (A1, A2))
        again = bool(reader.readings_between(A1, end_ms, end_ms + 1))
    return Outcome(acknowledged, len(first & second), len(first ^ second), sound, again)
