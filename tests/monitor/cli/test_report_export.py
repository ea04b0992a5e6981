"""``legwatch report`` and ``legwatch export`` as a reviewer meets them."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from tests.monitor.cli.test_commands import legwatch
from tests.monitor.review.logs import TEXT, evening

_BLOCK = "import sys; sys.modules['pyarrow'] = None; from monitor.cli.main import main; main()"


@pytest.fixture
def log(tmp_path: Path) -> Path:
    """Give the log of the evening."""
    return evening(tmp_path)


@pytest.mark.parametrize("words", [("--incident", "1"), ("--shift",), ("--fuel", "--since", "2026-09-21T11:20")])
def test_a_report_is_one_file(log: Path, tmp_path: Path, words: tuple[str, ...]) -> None:
    """Where -o says, and nothing beside it."""
    out = tmp_path / "out"
    out.mkdir()
    done = legwatch("report", log, *words, "-o", out / "report.html")
    assert done.returncode == 0, done.stderr
    assert [path.name for path in out.iterdir()] == ["report.html"]
    assert (out / "report.html").read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


def test_without_a_name_it_lies_beside_the_log(log: Path) -> None:
    """Named after both; the register map's scale is in it."""
    assert legwatch("report", log, "--incident", "1").returncode == 0
    text = (log.parent / "log-incident-1.html").read_text(encoding="utf-8")
    assert "scale factors" in text
    assert "volts x 1" in text


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "say which report"),
        (("--shift", "--fuel"), "say which report"),
        (("--incident", "9"), "it has 1 to 2"),
        (("--shift", "--since", "2027-01-01"), "nothing from --since"),
        (("--shift", "-o", "/nowhere/x.html"), "name another file"),
    ],
)
def test_wrong_use_is_told(log: Path, words: tuple[str, ...], said: str) -> None:
    """Exit 2, one or two lines, no traceback."""
    done = legwatch("report", log, *words)
    assert done.returncode == 2
    assert said in done.stderr
    assert "Traceback" not in done.stderr


def test_exported_readings_can_be_replayed(log: Path, tmp_path: Path) -> None:
    """Out and in again: every value of every reading as it was."""
    (tmp_path / "weir.toml").write_text(TEXT, encoding="utf-8")
    out = legwatch("export", log, "readings", "-o", tmp_path / "all.csv")
    assert out.returncode == 0, out.stderr
    assert (tmp_path / "all.csv").read_text(encoding="utf-8").startswith("time,point,volts,amps,hertz,watts\n")
    again = legwatch("replay", tmp_path / "weir.toml", tmp_path / "all.csv", "--log", tmp_path / "again.sqlite")
    assert again.returncode == 0, again.stderr
    tables = []
    for path in (log, tmp_path / "again.sqlite"):
        db = sqlite3.connect(path)
        tables.append(db.execute("SELECT time_utc, point, volts, amps, hertz, watts FROM readings").fetchall())
        db.close()
    assert len(tables[0]) > 3000
    assert sorted(tables[0]) == sorted(tables[1])


def test_parquet_without_its_library_says_what_to_do(log: Path, tmp_path: Path) -> None:
    """Exit 2, the name of the package, no file left."""
    done = subprocess.run(
        [sys.executable, "-c", _BLOCK, "export", log, "minutes", "--parquet", "-o", tmp_path / "x.parquet"],
        capture_output=True,
        text=True,
        check=False,
        cwd=Path(__file__).parents[3],
    )
    assert done.returncode == 2
    assert "pip install 'legwatch[parquet]'" in done.stderr
    assert list(tmp_path.glob("x.parquet*")) == []


def test_the_log_is_never_overwritten(log: Path) -> None:
    """Neither by an export nor by a report that is given its name."""
    before = log.read_bytes()
    for words in (("export", log, "events"), ("report", log, "--shift")):
        done = legwatch(*words, "-o", log)
        assert done.returncode == 2
        assert "is the log itself" in done.stderr
    assert log.read_bytes() == before
