"""Damaged, foreign and odd logs through every command that opens one: a plain message, exit 0, 1 or 2, no traceback."""

from __future__ import annotations

import random
import shutil
import traceback
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner

from monitor.cli.main import main
from tests.monitor.review.logs import TEXT, evening
from tests.support.badlogs import WAYS
from tests.support.measured import Measured

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

EACH = 2
READINGS = "time,point,volts,amps,hertz,watts\n2027-01-01T20:00:00Z,A1,119.5,10,60,1195\n"


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a sound log."""
    return evening(tmp_path_factory.mktemp("whole"))


def lines_of(log: Path) -> list[list[str]]:
    """Give a command line for every command that opens a log."""
    out = log.parent
    (out / "weir.toml").write_text(TEXT)
    (out / "readings.csv").write_text(READINGS)
    return [
        ["watch", str(log), "--plain", "--once"],
        ["watch", str(log), "--json", "--once"],
        ["alarms", str(log)],
        ["alarms", str(log), "--history"],
        ["alarms", str(log), "--stats"],
        ["review", str(log)],
        ["review", str(log), "1"],
        ["review", str(log), "--json"],
        ["report", str(log), "--incident", "1", "-o", str(out / "incident.html")],
        ["report", str(log), "--shift", "-o", str(out / "shift.html")],
        ["report", str(log), "--fuel", "-o", str(out / "fuel.html")],
        *(["export", str(log), what, "-o", str(out / f"{what}.csv")] for what in ("readings", "minutes", "events")),
        ["snapshot", str(log), str(out / "copy.sqlite")],
        ["repair", str(log), str(out / "new.sqlite")],
        ["note", str(log), "looked", "--by", "Noor"],
        ["replay", str(out / "weir.toml"), str(out / "readings.csv"), "--log", str(log)],
    ]


def faults_of(log: Path) -> list[str]:
    """Run every command on a log; give what no user should see."""
    found = []
    for words in lines_of(log):
        done = CliRunner().invoke(main, words)
        if done.exception is not None and not isinstance(done.exception, SystemExit):
            where = "".join(traceback.format_exception(done.exception)[-4:])
            found.append(f"{' '.join(words[:1] + words[2:])}: {where}")
        elif done.exit_code not in (0, 1, 2) or "Traceback" in done.output:
            found.append(f"{words}: exit {done.exit_code}: {done.output[-500:]}")
        elif done.exit_code == 2 and not 0 < len(done.stderr.strip().splitlines()) <= 2:
            found.append(f"{words}: says {done.stderr!r}")
    return found


@pytest.mark.parametrize("way", WAYS, ids=lambda way: way.__name__)
def test_no_command_breaks_down(
    way: Callable[[Path, random.Random], None],
    whole: Path,
    tmp_path: Path,
    record_property: Callable[[str, object], None],
) -> None:
    """Several logs damaged one way, each through every command."""
    found: list[str] = []
    for seed in range(EACH):
        folder = tmp_path / str(seed)
        folder.mkdir()
        log = folder / "log.sqlite"
        shutil.copy(whole, log)
        way(log, random.Random(seed))
        found += [f"seed {seed}: {fault}" for fault in faults_of(log)]
    Measured("damaged or odd log", "every command that opens one", EACH, len(found), EACH, "tracebacks").keep(
        record_property
    )
    assert not found, f"{len(found)}:\n" + "\n".join(found[:3])


def test_a_sound_log_passes(whole: Path, tmp_path: Path) -> None:
    """The same commands on the sound log, so that what the others show is the damage."""
    log = tmp_path / "log.sqlite"
    shutil.copy(whole, log)
    *others, replay = lines_of(log)
    codes = {" ".join(words[:1] + words[2:4]): CliRunner().invoke(main, words).exit_code for words in others}
    assert set(codes.values()) == {0}, codes
    refused = CliRunner().invoke(main, replay)
    assert (refused.exit_code, len(refused.stderr.splitlines())) == (2, 1)
