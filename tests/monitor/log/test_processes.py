"""More than one process at a log: a second writer, a killed writer, a reader beside a writer."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from monitor.log.lock import WriterLock
from monitor.log.problems import LogProblem
from monitor.log.reader import LogReader
from tests.monitor.log.logs import A1, A2, BEGIN_MS, keep, opened, reading

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parents[3]
POINTS = 40

# Opens the log, says so, then commits a cycle of POINTS readings for each second, each with an event of its own, and
# says each second that is committed.
WRITER = f"""
import sys
from pathlib import Path
from monitor.engine.events import Event
from monitor.show.model import Point
from tests.monitor.log.logs import instant, opened, reading
with opened(Path(sys.argv[1])) as writer:
    print("open", flush=True)
    for second in range(100_000):
        at = instant(second)
        cycle = [reading(second, Point("c%d" % n)) for n in range({POINTS})]
        writer.write_cycle(cycle, [Event(at.wall_ms, "cycle", "", str(second))], at)
        print(second, flush=True)
"""
# Opens the log, says so and waits.
HOLDER = WRITER[: WRITER.index("    for second")] + "    sys.stdin.read()\n"


@contextmanager
def running(script: str, path: Path) -> Iterator[subprocess.Popen[str]]:
    """Run a script on the log in another process, from when it has the log open; kill it in the end."""
    command = [sys.executable, "-c", script, str(path)]
    with subprocess.Popen(command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "open\n"
        try:
            yield process
        finally:
            process.kill()


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Give the place of a log that is not there yet."""
    return tmp_path / "log.sqlite"


def test_a_second_writer_is_told_who_is_first(path: Path) -> None:
    """It is refused with the first one's process and computer, and may write once that one is gone."""
    with running(HOLDER, path) as first:
        with pytest.raises(LogProblem) as caught:
            opened(path)
        assert caught.value.kind == "held"
        assert f"process {first.pid} on {os.uname().nodename}, since 2026-09-21T14:14:00+00:00" in caught.value.detail
        with pytest.raises(LogProblem):
            opened(path)
        assert first.stdin is not None
        first.stdin.close()
        first.wait(10)
        opened(path, 1).close()


def test_a_killed_writer_locks_nobody_out(path: Path) -> None:
    """After kill -9 the side file is still there, and no hindrance."""
    with running(HOLDER, path) as first:
        first.send_signal(signal.SIGKILL)
        first.wait(10)
        assert Path(f"{path}.lock").exists()
        opened(path, 1).close()
    assert not Path(f"{path}.lock").exists()


@pytest.mark.parametrize("cycles", [3, 40, 90])
def test_a_killed_writer_loses_at_most_the_cycle_in_hand(path: Path, cycles: int) -> None:
    """After kill -9 in the middle: every cycle that was reported is there, each is whole, and the file is sound."""
    with running(WRITER, path) as writer:
        assert writer.stdout is not None
        for _ in range(cycles):
            writer.stdout.readline()
        writer.send_signal(signal.SIGKILL)
        reported = cycles + len(writer.stdout.readlines())
    db = sqlite3.connect(path)
    kept = [int(text) for (text,) in db.execute("SELECT text FROM events")]
    assert kept == list(range(len(kept)))
    assert len(kept) - reported in (0, 1)  # it may have been killed between the commit and the word
    counts = db.execute("SELECT count(*) FROM reading GROUP BY time_ms").fetchall()
    assert counts == [(POINTS,)] * len(kept)
    assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    minutes = db.execute("SELECT sum(samples) FROM minutes").fetchone()
    assert minutes == (POINTS * len(kept),)
    db.close()
    with opened(path, 200_000) as again:
        keep(again, reading(200_001))


def test_a_reader_beside_a_writer_in_another_process(path: Path) -> None:
    """Reads see whole cycles only, ever later ones, and who is writing."""
    with running(WRITER, path) as writer, LogReader(path) as log:
        assert writer.stdout is not None
        seen = -1
        for _ in range(20):
            second = int(writer.stdout.readline())
            newest = log.last_time_ms()
            assert newest is not None
            assert newest >= BEGIN_MS + second * 1000
            assert newest >= seen
            assert len(log.readings_since(newest)) % POINTS == 0
            seen = newest
        state = log.writer_state()
        assert (state.running, state.pid) == (True, writer.pid)


def test_a_lock_file_that_was_removed_is_not_trusted(path: Path) -> None:
    """Whoever holds a side file that lost its name does not keep the next one from a new one, nor removes it."""
    first = WriterLock(path, "first")
    Path(f"{path}.lock").unlink()
    second = WriterLock(path, "second")
    first.release()
    with pytest.raises(LogProblem, match="second"):
        WriterLock(path, "third")
    second.release()


def test_two_logs_side_by_side(tmp_path: Path) -> None:
    """Each log has a lock of its own."""
    with opened(tmp_path / "a.sqlite") as a, opened(tmp_path / "b.sqlite") as b:
        keep(a, reading(0, A1))
        keep(b, reading(0, A2))
