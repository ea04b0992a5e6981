"""``legwatch snapshot`` and ``legwatch repair`` as a user meets them."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from tests.monitor.log.logs import A2, keep, opened, reading

LEGWATCH = str(Path(sys.executable).with_name("legwatch"))


def legwatch(*words: str | Path) -> subprocess.CompletedProcess[str]:
    """Run the command to its end."""
    return subprocess.run([LEGWATCH, *map(str, words)], capture_output=True, text=True, timeout=50, check=False)


def log_of(path: Path, seconds: int = 400) -> Path:
    """Make a log."""
    with opened(path) as writer:
        for second in range(seconds):
            keep(writer, reading(second), reading(second, A2))
    return path


def test_a_snapshot_says_what_it_holds_and_overwrites_nothing(tmp_path: Path) -> None:
    """Once it copies, twice it refuses with exit 2."""
    log, copy = log_of(tmp_path / "log.sqlite"), tmp_path / "copy.sqlite"
    first, second = legwatch("snapshot", log, copy), legwatch("snapshot", log, copy)
    assert first.returncode == 0, first.stderr
    assert "800 readings from 2026-09-21 14:14:00 +00:00 to 2026-09-21 14:20:39 +00:00" in first.stdout
    assert second.returncode == 2
    assert "there already" in second.stderr


def test_a_snapshot_of_nothing(tmp_path: Path) -> None:
    """No log, no copy: exit 2 and one sentence."""
    result = legwatch("snapshot", tmp_path / "none.sqlite", tmp_path / "copy.sqlite")
    assert result.returncode == 2
    assert "does not exist" in result.stderr
    assert "Traceback" not in result.stderr


def test_a_repair_tells_what_was_lost_in_times(tmp_path: Path) -> None:
    """A damaged log: exit 1, the new log is named with its rows, the lost stretch with its times; LOG stays."""
    log = log_of(tmp_path / "log.sqlite", 1_500)
    raw = bytearray(log.read_bytes())
    middle = len(raw) // 2 // 1024 * 1024
    raw[middle : middle + 8192] = bytes(8192)
    log.write_bytes(raw)
    result = legwatch("repair", log, tmp_path / "new.sqlite")
    assert result.returncode == 1, result.stderr
    assert "of reading" in result.stdout
    assert "lost: " in result.stdout
    assert log.read_bytes() == bytes(raw)


def test_a_repair_of_a_sound_log(tmp_path: Path) -> None:
    """Nothing to lose: exit 0."""
    result = legwatch("repair", log_of(tmp_path / "log.sqlite"), tmp_path / "new.sqlite")
    assert result.returncode == 0, result.stderr
    assert "every table could be read to its end" in result.stdout
