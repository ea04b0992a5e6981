"""Trouble as a user meets it, in real processes: one clear message, the right exit code, nothing lost."""

from __future__ import annotations

import os
import pty
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from monitor.log.reader import LogReader
from tests.support.sets import small_set

LEGWATCH = str(Path(sys.executable).with_name("legwatch"))
AS_ANOTHER_USER = """
import importlib, os, sys, zoneinfo
import monitor.cli.main as main, monitor.log.writer, monitor.log.migrations
for name in main.COMMANDS: importlib.import_module(f"monitor.cli.{name}_command")
zoneinfo.ZoneInfo("America/Halifax")
os.setgroups([]); os.setgid(65534); os.setuid(65534)
main.main()
"""


def legwatch(*words: str | Path) -> subprocess.CompletedProcess[str]:
    """Run the command to its end."""
    return subprocess.run([LEGWATCH, *map(str, words)], capture_output=True, text=True, timeout=50, check=False)


def as_another_user(*words: str | Path) -> subprocess.CompletedProcess[str]:
    """Run the command as a user without special rights."""
    if os.geteuid():
        pytest.skip("only root can become somebody else")
    for place in (Path(sys.prefix), Path(__file__).resolve()):
        if not all(above.stat().st_mode & 0o001 for above in place.parents):
            pytest.skip(f"{place} lies where nobody else may go: another user can't run legwatch from there")
    command = [sys.executable, "-c", AS_ANOTHER_USER, *map(str, words)]
    return subprocess.run(command, capture_output=True, text=True, timeout=50, check=False)


def logging(path: Path) -> subprocess.Popen[str]:
    """Start a logger and wait until it logs."""
    process = subprocess.Popen([LEGWATCH, "log", str(path)], stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    assert "logging 2 points" in process.stdout.readline()
    time.sleep(1.5)
    return process


def end(process: subprocess.Popen[str]) -> None:
    """End a logger."""
    process.send_signal(signal.SIGTERM)
    assert process.wait(10) == 0
    assert process.stdout is not None
    process.stdout.close()


@pytest.mark.parametrize(("name", "told"), [(".", "name the log file in it"), ("/dev/null", "not an SQLite file")])
def test_what_can_hold_no_log_is_refused(name: str, told: str, tmp_path: Path) -> None:
    """A directory and a device: what to name instead, exit 2, whether it is to be written or read."""
    with small_set(tmp_path) as (path, _):
        results = [
            legwatch("log", path, "--seconds", "1", "--log", tmp_path / name),
            legwatch("log", path, "--once", "--log", tmp_path / name),
            legwatch("watch", tmp_path / name, "--once"),
            legwatch("note", tmp_path / name, "moved", "--by", "Noor"),
        ]
    assert [result.returncode for result in results] == [2, 2, 2, 2]
    assert all(told in result.stderr and len(result.stderr.splitlines()) == 1 for result in results)


def test_a_note_that_may_not_be_written_says_who_may(tmp_path: Path) -> None:
    """Another user's note: beside a running logger, and into a log that nobody writes. Exit 2, and whose log it is."""
    for directory in (tmp_path, *tmp_path.parents[:3]):  # with several workers there is one more above it
        directory.chmod(0o755)
    log = tmp_path / "weir.sqlite"
    with small_set(tmp_path) as (path, _):
        process = logging(path)
        asked = [as_another_user("note", log, "moved", "--by", "Noor")]
        asked += [as_another_user("shelve", log, "over-plan", "A1", "--by", "Noor", "--why", "agreed", "--for", "5")]
        end(process)
    for result in (*asked, as_another_user("note", log, "moved", "--by", "Noor")):
        assert result.returncode == 2, result.stderr
        assert "nothing was written: this user may not write" in result.stderr
        assert "do it as root, whose log it is" in result.stderr
    with LogReader(log) as reader:
        assert reader.notes(10) == []


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_an_impatient_end_is_as_orderly(number: signal.Signals, tmp_path: Path) -> None:
    """The signal again and again until the process is gone: exit 0 and the log signed off."""
    with small_set(tmp_path) as (path, _):
        process = logging(path)
        end_s = time.monotonic() + 10.0
        while process.poll() is None and time.monotonic() < end_s:
            process.send_signal(number)
            time.sleep(0.002)
        end(process)
    with LogReader(tmp_path / "weir.sqlite") as log:
        assert not log.writer_state().running


def test_sentences_fit_a_narrow_terminal(tmp_path: Path) -> None:
    """48 columns: `check` breaks its sentences between words; in a pipe they stay whole."""
    with small_set(tmp_path) as (path, _):
        near, far = pty.openpty()
        words = [LEGWATCH, "check", str(path), "--file-only"]
        done = subprocess.run(words, stdout=far, timeout=50, check=False, env={**os.environ, "COLUMNS": "48"})
        printed = os.read(near, 65536).decode().splitlines()
        piped = legwatch("check", path, "--file-only").stdout.splitlines()
        os.close(near)
        os.close(far)
    assert done.returncode == 0
    assert max(map(len, printed)) <= 48
    assert max(map(len, piped)) > 80
    assert " ".join(" ".join(printed).split()) == " ".join(" ".join(piped).split())
