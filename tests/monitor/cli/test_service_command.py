"""``legwatch service install``: the unit that it would write, read by systemd itself."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from monitor.cli.service_unit import Unit
from tests.support.sets import small_set

LEGWATCH = str(Path(sys.executable).with_name("legwatch"))


def install(*words: str | Path) -> subprocess.CompletedProcess[str]:
    """Run the command to its end."""
    return subprocess.run(
        [LEGWATCH, "service", "install", *map(str, words)], capture_output=True, text=True, timeout=50, check=False
    )


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="this computer has no systemd")
@pytest.mark.parametrize("name", ["weir.toml", "a weir's $5 100% show.toml"])
def test_a_dry_run_shows_all_and_systemd_finds_no_fault(tmp_path: Path, name: str) -> None:
    """Nothing is written; the unit and each command are printed; any name of a show file will do."""
    with small_set(tmp_path) as (path, _):
        show = path.rename(tmp_path / name)
        result = install(show, "--dry-run")
    assert result.returncode == 0, result.stderr
    assert "systemd-analyze verify: no fault found" in result.stderr
    for line in (
        "Type=notify",
        "WatchdogSec=30",
        "User=legwatch",
        "SupplementaryGroups=dialout",
        "NoNewPrivileges=yes",
    ):
        assert line in result.stdout
    assert "systemctl enable --now legwatch.service" in result.stdout
    assert not Path("/etc/systemd/system/legwatch.service").exists()


def test_words_of_the_command_line_are_kept_whole() -> None:
    """Spaces, quotes, dollar and percent signs reach the program as they are (systemd.syntax(7))."""
    unit = Unit(Path("/opt/legwatch"), Path('/a b/c"$%.toml'), Path("/var/l.sqlite"), "legwatch")
    (line,) = [line for line in unit.text().splitlines() if line.startswith("ExecStart=")]
    assert line == 'ExecStart=/opt/legwatch log "/a b/c\\"$$%%.toml" --log /var/l.sqlite'


def test_a_faulty_show_is_not_installed(tmp_path: Path) -> None:
    """The show file is read first."""
    show = tmp_path / "show.toml"
    show.write_text("[show]\n")
    result = install(show, "--dry-run")
    assert result.returncode == 2
    assert "show.toml" in result.stderr


@pytest.mark.skipif(os.geteuid() == 0, reason="root may install")
def test_only_root_installs(tmp_path: Path) -> None:
    """Anybody else is told how."""
    with small_set(tmp_path) as (path, _):
        assert install(path).returncode == 2
