"""The commands as a user meets them: real processes, exit codes, messages."""

from __future__ import annotations

import json
import os
import signal
import sqlite3
import subprocess
import sys
import time
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from monitor.cli.main import COMMANDS
from tests.support.sets import small_set

LEGWATCH = str(Path(sys.executable).with_name("legwatch"))


def legwatch(*words: str | Path, **environ: str) -> subprocess.CompletedProcess[str]:
    """Run the command to its end."""
    env = {**os.environ, **environ}
    return subprocess.run(
        [LEGWATCH, *map(str, words)], capture_output=True, text=True, timeout=50, check=False, env=env
    )


@pytest.mark.parametrize("words", [(), *((name,) for name in COMMANDS)])
def test_help_reads_and_carries_the_caution(words: tuple[str, ...]) -> None:
    """Every command explains itself and says that it only observes."""
    result = legwatch(*words, "--help")
    assert result.returncode == 0
    assert "no protective device" in " ".join(result.stdout.split())
    assert "Qualified persons" in " ".join(result.stdout.split())


def test_unknown_command_is_used_wrongly() -> None:
    """A word that is no command: exit 2 and a hint."""
    result = legwatch("wach")
    assert result.returncode == 2
    assert "wach" in result.stderr


def test_log_once_prints_the_fixed_keys(tmp_path: Path) -> None:
    """One poll of each meter as JSON, good values as the far end holds them; exit 0."""
    with small_set(tmp_path) as (path, _):
        result = legwatch("log", path, "--once", "--json")
    assert result.returncode == 0, result.stderr
    rows = json.loads(result.stdout)["readings"]
    assert [(r["point"], r["volts"], r["amps"], r["hertz"], r["watts"], r["quality"]) for r in rows] == [
        ("A1", 120.0, 10.0, 60.0, 1200.0, "good"),
        ("A2", 120.0, 11.0, 60.0, 1320.0, "good"),
    ]
    at = [datetime.fromisoformat(r["time"]) for r in rows]
    assert all(one.utcoffset() == one.astimezone(ZoneInfo("America/Halifax")).utcoffset() for one in at)
    assert not (tmp_path / "weir.sqlite").exists()


def test_log_once_without_a_meter_is_silent_and_exit_1(tmp_path: Path) -> None:
    """Nobody there: values are null, quality says silent, the exit code says that something is wrong."""
    with small_set(tmp_path) as (path, meter):
        meter.stop()
        result = legwatch("log", path, "--once", "--json")
        table = legwatch("log", path, "--once").stdout.splitlines()
    assert result.returncode == 1
    rows = json.loads(result.stdout)["readings"]
    assert {(r["volts"], r["quality"]) for r in rows} == {(None, "silent")}
    assert [line.split() for line in table[1:3]] == [[point, *"----", "silent"] for point in ("A1", "A2")]
    assert table[3].startswith("A1, A2: 127.0.0.1:"), "the reason once, with what to do"
    assert "check its power" in table[3]


def test_log_for_some_seconds_then_watch_plain_and_json(tmp_path: Path) -> None:
    """The log lands beside the show file; an attached watch prints it and says that the logger has ended."""
    with small_set(tmp_path) as (path, _):
        logged = legwatch("log", path, "--seconds", "2")
    assert logged.returncode == 0, logged.stderr
    log = tmp_path / "weir.sqlite"
    plain = legwatch("watch", log, "--plain", "--once")
    assert "LOGGER STOPPED" in plain.stdout
    told = json.loads(legwatch("watch", log, "--json", "--once").stdout)
    assert told["logger"]["running"] is False
    assert [c["id"] for c in told["circuits"]] == ["A1", "A2"]


def test_sigterm_ends_the_logger_with_everything_written(tmp_path: Path) -> None:
    """A service manager's SIGTERM: exit 0, log signed off, readings there."""
    with small_set(tmp_path) as (path, _):
        process = subprocess.Popen([LEGWATCH, "log", str(path)], stdout=subprocess.PIPE, text=True)
        assert process.stdout is not None
        assert "logging 2 points" in process.stdout.readline()
        time.sleep(1.5)
        process.send_signal(signal.SIGTERM)
        assert process.wait(10) == 0
        process.stdout.close()
    with sqlite3.connect(tmp_path / "weir.sqlite") as db:
        assert db.execute("SELECT count(*) FROM readings WHERE quality = 'good'").fetchone()[0] >= 2


def test_check_tells_what_each_meter_reads(tmp_path: Path) -> None:
    """A good set: exit 0, every point with its values."""
    with small_set(tmp_path) as (path, _):
        result = legwatch("check", path)
    assert result.returncode == 0, result.stdout + result.stderr
    assert "120.0 V" in result.stdout
    assert "2 circuits, 0 feeders, 1 meter\n" in result.stdout
    assert "0 wrong, 2 remarks; 1 meter asked 3 times." in result.stdout


def test_check_finds_volts_of_another_system(tmp_path: Path) -> None:
    """230 V where 120 belongs: exit 1 and a sentence with value and limit."""
    with small_set(tmp_path) as (path, meter):
        meter.reads(1, 230.0, 0.0)
        result = legwatch("check", path, "--json")
    assert result.returncode == 1
    found = json.loads(result.stdout)["findings"]
    assert [f["where"] for f in found if f["severity"] == "wrong"] == ["A1"]
    assert "230.0 V without load where 120 V are planned" in result.stdout


def test_falling_fuel_points_are_told_by_check_and_at_the_start_of_a_logger(tmp_path: Path) -> None:
    """More load never burns less: `check` is wrong with 1, and the logger says why it watches no fuel."""
    fuel = "fuel = { tank_litres = 100, litres_per_hour = { 75 = 11.6, 100 = 3.4 } }"
    with small_set(tmp_path) as (path, _):
        path.write_text(
            path.read_text(encoding="utf-8").replace("rated_kw = 20", f"rated_kw = 20\n{fuel}"), encoding="utf-8"
        )
        checked, logged = legwatch("check", path, "--file-only"), legwatch("log", path, "--seconds", "1")
    assert checked.returncode == 1
    assert "wrong: source.fuel" in checked.stdout
    assert logged.returncode == 0
    assert "fuel is not watched" in logged.stderr


def test_check_tells_every_fault_of_a_file_with_its_line(tmp_path: Path) -> None:
    """Faults go to stderr, one a line, exit 1; the same file refused by log is exit 2."""
    with small_set(tmp_path) as (path, _):
        text = (
            path.read_text(encoding="utf-8")
            .replace('legs = ["L2"]', 'legs = ["L3"]')
            .replace("watts = 1300", "wats = 6")
        )
        path.write_text(text, encoding="utf-8")
        checked, logged = legwatch("check", path), legwatch("log", path, "--once")
    assert (checked.returncode, logged.returncode) == (1, 2)
    lines = [line for line in checked.stderr.splitlines() if line.startswith(f"{path}:")]
    assert len(lines) >= 2
    assert any('did you mean "watts"' in line for line in lines)
    assert "Traceback" not in checked.stderr + logged.stderr
    assert checked.stderr.splitlines()[-1] == f"{len(lines)} faults found in the file; no meter was asked"


@pytest.mark.parametrize("command", ["log", "check", "run"])
def test_a_missing_show_file_is_used_wrongly(command: str, tmp_path: Path) -> None:
    """No such file: one message, exit 2."""
    result = legwatch(command, tmp_path / "nothing.toml", TERM="dumb" if command == "run" else "xterm")
    assert result.returncode == 2
    assert "Traceback" not in result.stderr
    assert result.stderr.strip()


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"not a database, just text " * 50, "SQLite"),
        (b"", "no logger has written to it yet: start a logger with `legwatch log SHOW --log"),
        (None, "nothing.sqlite does not exist: correct its name, or start a logger"),
    ],
)
def test_watch_refuses_what_is_no_log(content: bytes | None, told: str, tmp_path: Path) -> None:
    """Text, an empty file, no file: one message that names it, exit 2."""
    path = tmp_path / ("nothing.sqlite" if content is None else "some.sqlite")
    if content is not None:
        path.write_bytes(content)
    result = legwatch("watch", path, "--plain", "--once")
    assert result.returncode == 2
    assert told in result.stderr
    assert "Traceback" not in result.stderr


def test_a_log_that_is_another_programs_is_left_alone(tmp_path: Path) -> None:
    """A foreign SQLite file is refused and not changed."""
    foreign = tmp_path / "other.sqlite"
    with sqlite3.connect(foreign) as db:
        db.execute("CREATE TABLE cat (name)")
    before = foreign.read_bytes()
    with small_set(tmp_path) as (path, _):
        result = legwatch("log", path, "--log", foreign, "--seconds", "1")
    assert result.returncode == 2
    assert foreign.read_bytes() == before


def test_run_on_a_poor_terminal_offers_the_plain_way(tmp_path: Path) -> None:
    """TERM=dumb can't carry a screen: a polite sentence, exit 2."""
    with small_set(tmp_path) as (path, _):
        result = legwatch("run", path, TERM="dumb")
    assert result.returncode == 2
    assert "legwatch log" in result.stderr


def test_demo_headless_logs_good_readings_of_every_point(tmp_path: Path) -> None:
    """The demo without a screen: exit 0, readings of every mapped point, volts near their nominal."""
    log = tmp_path / "demo.sqlite"
    result = legwatch("demo", "--headless", "--seconds", "6", "--speed", "5", "--log", log)
    assert result.returncode == 0, result.stderr
    with sqlite3.connect(log) as db:
        rows = db.execute(
            "SELECT point, count(*), avg(volts) FROM readings WHERE quality = 'good' GROUP BY 1"
        ).fetchall()
        mapped = db.execute("SELECT count(*) FROM point").fetchone()[0]
    assert len(rows) == mapped > 12
    assert all(volts is None or 100 < volts < 260 for _, _, volts in rows)


@pytest.mark.parametrize(
    "words",
    [
        ("breaker", "--amps", "20", "--load", "nan"),
        ("plan", "none.toml", "--hours", "nan"),
        ("demo", "--headless", "--seconds", "nan"),
        ("refuel", "none.sqlite", "nan", "--by", "Noor"),
        ("note", "none.sqlite", "moved", "--by", " "),
        ("note", "none.sqlite", "", "--by", "Noor"),
        ("note", "none.sqlite", "x" * 1001, "--by", "Noor"),
    ],
)
def test_what_is_no_number_name_or_note_is_used_wrongly(words: tuple[str, ...]) -> None:
    """Told in words before anything is begun: exit 2, no traceback."""
    result = legwatch(*words)
    assert result.returncode == 2
    assert "Traceback" not in result.stderr
    assert "does not exist" not in result.stderr
    assert result.stderr.strip()


def test_a_standard_may_be_typed_in_small_letters() -> None:
    """Nobody should have to find the shift key for a standard's name or a class."""
    result = legwatch("breaker", "--amps", "16", "--load", "20", "--standard", "iec 60898-1", "--class", "c", "--json")
    assert result.returncode == 0, result.stderr
    told = json.loads(result.stdout)
    assert (told["standard"], told["class"]) == ("IEC 60898-1", "C")


def test_breaker_json_has_the_fixed_keys() -> None:
    """IEC 60898-1 class C, 16 A at 1.45 times: by 1 h at the latest (gate), not before 1 s (gate at 2.55 times).

    Gates: IEC 60898-1's table as quoted in public text; see tests/outside.
    """
    words = ("--amps", "16", "--standard", "IEC 60898-1", "--class", "C", "--load", "23.2", "--json")
    told = json.loads(legwatch("breaker", *words).stdout)
    assert told["multiple"] == pytest.approx(1.45)
    assert told["soonest"] == {"kind": "time", "seconds": 1.0}
    assert told["latest"] == {"kind": "time", "seconds": 3600.0}
    assert {"standard", "amps", "load", "gates", "source"} <= told.keys()


def test_breaker_says_not_set_where_the_standard_sets_nothing() -> None:
    """UL 489 sets no lower time above its rating: never an invented one."""
    result = legwatch("breaker", "--amps", "20", "--load", "30")
    assert "not set by the standard" in result.stdout
    assert legwatch("breaker", "--amps", "20", "--load", "30", "--standard", "IEC 60898-1").returncode == 2


def test_the_logger_never_loads_textual() -> None:
    """A service pays neither the time nor the memory of the screens."""
    code = "import sys, monitor.cli.log_command; print(any(m.split('.')[0] == 'textual' for m in sys.modules))"
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert result.stdout.strip() == "False"
