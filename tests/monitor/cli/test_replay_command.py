"""``legwatch replay`` and ``legwatch alarms`` as a reviewer meets them."""

from __future__ import annotations

import csv
import json
import sqlite3
import subprocess
from pathlib import Path

import pytest

from monitor.review.readings_csv import rows_of
from tests.monitor.cli.test_commands import LEGWATCH, legwatch
from tests.monitor.engine.test_watch import rows
from tests.support.sets import SHOW


@pytest.fixture
def files(tmp_path: Path) -> tuple[Path, Path]:
    """Give a show file, and ten minutes of readings with an overload in them."""
    show, readings = tmp_path / "weir.toml", tmp_path / "day.csv"
    show.write_text(SHOW.format(port=1502), encoding="utf-8")
    with readings.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream, lineterminator="\n").writerows(rows_of(rows([10.0] * 120 + [24.0] * 60 + [10.0] * 420)))
    return show, readings


def test_a_recorded_overload_is_found_again(files: tuple[Path, Path], tmp_path: Path) -> None:
    """The overload stands in the journal with its statistics, and in it that nobody planned it; nothing else does."""
    show, readings = files
    log = tmp_path / "again.sqlite"
    done = legwatch("replay", show, readings, "--log", log)
    assert done.returncode == 0, done.stderr
    assert "1200 readings" in done.stdout
    history = json.loads(legwatch("alarms", log, "--history", "--json").stdout)["alarms"]
    raised = [(a["code"], a["where"]) for a in history if a["before"] == "normal"]
    assert sorted(raised) == [("above-rating", "A1"), ("above-rating", "A2")]
    told = [a["folded"] for a in history if a["code"] == "above-rating" and a["folded"]]
    assert any("are planned" in sentence for sentences in told for sentence in sentences)
    counted = json.loads(legwatch("alarms", log, "--stats", "--json").stdout)
    assert counted["alarms"] == 2


def test_a_bad_row_ends_it_or_is_left_out(files: tuple[Path, Path], tmp_path: Path) -> None:
    """Refused with its line by default (exit 2); left out, counted and told with --skip-bad (exit 1)."""
    show, readings = files
    lines = readings.read_text(encoding="utf-8").splitlines()
    lines[5] = lines[5].replace("A1", "A7").replace("A2", "A7")
    readings.write_text("\n".join(lines) + "\n", encoding="utf-8")
    refused = legwatch("replay", show, readings, "--log", tmp_path / "one.sqlite")
    assert refused.returncode == 2
    assert f"{readings}:6:" in refused.stderr
    left_out = legwatch("replay", show, readings, "--log", tmp_path / "two.sqlite", "--skip-bad")
    assert left_out.returncode == 1
    assert "1 rows left out" in left_out.stdout
    assert "Traceback" not in refused.stderr + left_out.stderr


def test_a_refused_second_replay_leaves_the_log_as_it_was(files: tuple[Path, Path], tmp_path: Path) -> None:
    """The same readings again: exit 2, and neither the log's content nor its clock is touched."""
    show, readings = files
    log = tmp_path / "again.sqlite"
    legwatch("replay", show, readings, "--log", log)
    with sqlite3.connect(log) as db:
        before = list(db.iterdump())
    again = legwatch("replay", show, readings, "--log", log)
    assert again.returncode == 2
    assert "new file" in again.stderr
    with sqlite3.connect(log) as db:
        assert list(db.iterdump()) == before


def test_readings_without_a_row_are_used_wrongly(files: tuple[Path, Path], tmp_path: Path) -> None:
    """A header and nothing else: exit 2, and no log is claimed that isn't there."""
    show, readings = files
    readings.write_text("time,point,volts,amps,hertz,watts\n", encoding="utf-8")
    result = legwatch("replay", show, readings, "--log", tmp_path / "none.sqlite")
    assert result.returncode == 2
    assert "nothing was written" in result.stderr
    assert not (tmp_path / "none.sqlite").exists()


def test_output_that_can_not_be_written_is_told(files: tuple[Path, Path]) -> None:
    """A full disk under a redirected output: one sentence, no traceback."""
    with Path("/dev/full").open("w") as full:
        result = subprocess.run(
            [LEGWATCH, "plan", str(files[0])], stdout=full, stderr=subprocess.PIPE, text=True, timeout=50, check=False
        )
    assert result.returncode == 2
    assert result.stderr.startswith("legwatch: can't go on: No space left")
    assert "Traceback" not in result.stderr


def test_an_ended_log_takes_notes_but_no_acknowledgement(files: tuple[Path, Path], tmp_path: Path) -> None:
    """Without a logger a note is written directly; an alarm can't be acknowledged by nobody."""
    show, readings = files
    log = tmp_path / "again.sqlite"
    legwatch("replay", show, readings, "--log", log)
    noted = legwatch("note", log, "looked at\x1b[2J the tent", "--by", "Noor", "--where", "A1")
    assert noted.returncode == 0, noted.stderr
    with sqlite3.connect(log) as db:
        assert db.execute("SELECT text FROM notes").fetchall() == [("looked at [2J the tent",)]
    lost = legwatch("note", log, "looked at the tent", "--by", "Noor", "--where", "A9")
    assert lost.returncode == 2
    assert "known here: source, A1, A2" in lost.stderr
    acked = legwatch("ack", log, "--all", "--by", "Noor")
    assert acked.returncode == 1
    assert "no logger is running" in acked.stderr
    assert "No logger writes this log now" in legwatch("alarms", log).stdout
    assert json.loads(legwatch("alarms", log, "--json").stdout)["logger_running"] is False
