"""``legwatch doctor``: what it finds, and when it says that something is wrong."""

from __future__ import annotations

import json
import sqlite3
import subprocess
import sys
from pathlib import Path

from tests.monitor.log.logs import keep, opened, reading

LEGWATCH = str(Path(sys.executable).with_name("legwatch"))


def doctor(*words: str | Path) -> subprocess.CompletedProcess[str]:
    """Run the command to its end."""
    return subprocess.run(
        [LEGWATCH, "doctor", *map(str, words)], capture_output=True, text=True, timeout=50, check=False
    )


def findings(*words: str | Path) -> dict[str, dict[str, str]]:
    """Give the findings by subject."""
    return {one["what"]: one for one in json.loads(doctor(*words, "--json").stdout)["findings"]}


def log_of(path: Path, seconds: range = range(0, 1200, 10)) -> Path:
    """Make a log whose logger has ended."""
    with opened(path, hold_ms=60_000) as writer:
        for second in seconds:
            keep(writer, reading(second))
    return path


def test_without_a_log_it_tells_versions_and_disk() -> None:
    """The SQLite that is named is the one Python has; the disk is that of the folder one stands in."""
    found = findings()
    assert sqlite3.sqlite_version in found["SQLite"]["text"]
    assert (found["SQLite"]["state"] == "look") == (sqlite3.sqlite_version_info < (3, 51, 3))
    assert "GB free" in found["disk"]["text"]


def test_a_log_tells_for_how_long_the_disk_lasts(tmp_path: Path) -> None:
    """Twenty minutes of a log are enough to tell its rate; an ended logger is worth a look, not wrong."""
    log = log_of(tmp_path / "log.sqlite")
    found = findings(log)
    assert found["log"]["state"] == "look"
    assert "ended in order" in found["log"]["text"]
    assert "MB an hour" in found["disk"]["text"]
    assert "about" in found["disk"]["text"]


def test_a_log_that_anybody_may_write_is_wrong(tmp_path: Path) -> None:
    """World-writable: exit 1 and the command that mends it."""
    log = log_of(tmp_path / "log.sqlite")
    log.chmod(0o666)
    result = doctor(log)
    assert result.returncode == 1
    assert f"do: chmod o-w {log}" in result.stdout


def test_a_log_that_is_not_there_or_none_is_wrong(tmp_path: Path) -> None:
    """One clear line each, exit 1, and the rest is told all the same."""
    text = tmp_path / "notes.txt"
    text.write_text("notes " * 100)
    for path in (tmp_path / "none.sqlite", text):
        result = doctor(path)
        assert result.returncode == 1
        assert str(path) in result.stdout
        assert "Traceback" not in result.stderr
        assert "GB free" in result.stdout
