"""``legwatch check`` against servers that this project did not write: wiring, scales, handheld, answers, clock."""

from __future__ import annotations

import json
import sqlite3
import struct
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.support.cable import Cable
from tests.support.responder import Responder, right
from tests.support.senders import printing_tcp
from tests.support.sets import small_set

if TYPE_CHECKING:
    from tests.support.sets import FarMeter
    from tests.support.wire import Asked

PLAIN = """
[meter]
name = "Plain"
source = "invented for this test"
protocol = "modbus"
table = "input"
[[value]]
channel = "ch1"
quantity = "volts"
address = 0
encoding = "float32"
[[example]]
at = 0
words = ["0x42F0", "0x0000"]
expect = { ch1 = { volts = 120.0 } }
"""
LINE = """
[show]
name = "Ferry slip"
region = "north-america"
timezone = "America/Halifax"
[source]
name = "Shore supply"
kind = "house"
system = "120/240"
[[circuit]]
id = "A1"
fed_from = "source"
legs = ["L1"]
breaker = {{ amps = 20 }}
[[bus]]
id = "line"
protocol = "modbus-rtu"
port = "{port}"
baud = 115200
timeout_seconds = 0.2
[[meter]]
bus = "line"
unit = 1
map = "plain"
points = {{ ch1 = "A1" }}
"""
LEGWATCH = str(Path(sys.executable).with_name("legwatch"))


def check(*words: str | Path) -> subprocess.CompletedProcess[str]:
    """Run the command to its end."""
    return subprocess.run(
        [LEGWATCH, "check", *map(str, words)], capture_output=True, text=True, timeout=60, check=False
    )


def found(path: Path, *words: str) -> list[dict[str, Any]]:
    """Give the findings of a run that found something wrong or not."""
    result = check(path, *words, "--json")
    assert result.returncode in (0, 1), result.stderr
    return list(json.loads(result.stdout)["findings"])


def reads(meter: FarMeter, channel: int, volts: float, amps: float, watts: float) -> None:
    """Set what a channel reads, watts apart."""
    words = struct.unpack(">8H", struct.pack(">4f", volts, amps, watts, 60.0))
    meter._bank.set_input_registers(8 * (channel - 1), list(words))


def test_a_turned_transformer_is_wrong_and_says_what_to_do(tmp_path: Path) -> None:
    """Negative watts: exit 1, the circuit named, what to do, and the cautions on live work."""
    with small_set(tmp_path) as (path, meter):
        reads(meter, 1, 120.0, 8.0, -940.0)
        result, rows = check(path), found(path)
    assert result.returncode == 1
    (row,) = [row for row in rows if row["code"] == "transformer-turned"]
    assert row["where"] == "A1"
    assert "do: have the load switched off" in result.stdout
    assert "Never open the secondary of a current transformer" in result.stdout


def test_exchanged_transformers_on_a_wye(tmp_path: Path) -> None:
    """Two channels at minus a half on 208Y/120: both named, and that they may be exchanged."""
    with small_set(tmp_path) as (path, meter):
        path.write_text(path.read_text(encoding="utf-8").replace("120/240", "208Y/120"), encoding="utf-8")
        reads(meter, 1, 120.0, 8.0, -480.0)
        reads(meter, 2, 120.0, 6.0, -360.0)
        rows = [row for row in found(path) if row["code"] == "transformer-leg"]
    assert [row["where"] for row in rows] == ["A1", "A2"]
    assert all("L1 and L2 may be exchanged" in row["text"] for row in rows)


def test_volts_between_two_legs_are_explained(tmp_path: Path) -> None:
    """240 V on a 120 V circuit: one finding, which says where such volts are met."""
    with small_set(tmp_path) as (path, meter):
        reads(meter, 2, 240.0, 0.0, 0.0)
        rows = [row for row in found(path) if row["severity"] == "wrong"]
    assert [row["where"] for row in rows] == ["A2"]
    assert "this system has such volts leg to leg" in rows[0]["text"]
    assert rows[0]["do"]


def test_no_load_is_a_remark_on_what_cannot_be_judged(tmp_path: Path) -> None:
    """Before any load the transformers are said not to be judged; nothing is called wrong."""
    with small_set(tmp_path) as (path, meter):
        for channel in (1, 2):
            reads(meter, channel, 120.0, 0.0, 0.0)
        rows = found(path)
    (row,) = [row for row in rows if row["code"] == "transformers-not-judged"]
    assert row["text"].startswith("A1, A2:")
    assert not [row for row in rows if row["severity"] == "wrong"]


def test_a_handheld_that_agrees_is_kept_and_shown_later(tmp_path: Path) -> None:
    """The comparison makes the log, with what the instrument showed; a later check shows it with its date."""
    with small_set(tmp_path) as (path, meter):
        reads(meter, 1, 120.0, 12.1, 1440.0)
        first = check(path, "--handheld", "A1=12.3", "--handheld", "A1/L1=119.8V", "--by", "Ines")
        later = check(path)
    assert first.returncode == 0, first.stdout + first.stderr
    with sqlite3.connect(tmp_path / "weir.sqlite") as db:
        rows = db.execute("SELECT kind, place, number, quantity, who FROM note ORDER BY id").fetchall()
    assert rows == [("handheld", "A1", 12.3, "amps", "Ines"), ("handheld", "A1", 119.8, "volts", "Ines")]
    assert "by Ines: meter 12.1 A, by hand 12.3 A: offset -0.2 A (-1.6 %)" in later.stdout


def test_a_scale_twice_too_high_is_wrong(tmp_path: Path) -> None:
    """The meter shows double: exit 1 and the usual factor; the JSON stays one object."""
    with small_set(tmp_path) as (path, meter):
        reads(meter, 1, 120.0, 16.0, 1900.0)
        result = check(path, "--handheld", "A1=8.0A", "--by", "Ines", "--json")
    assert result.returncode == 1
    data = json.loads(result.stdout)
    assert data["handheld"] == [
        {"point": "A1", "quantity": "amps", "by_hand": 8.0, "shown": 16.0, "offset": pytest.approx(8.0)}
    ]
    (row,) = [row for row in data["findings"] if row["code"] == "handheld-off"]
    assert "twice" in row["text"]


def test_a_running_logger_writes_the_comparison_itself(tmp_path: Path) -> None:
    """While a logger has the log, the note goes through it."""
    with small_set(tmp_path) as (path, meter):
        reads(meter, 1, 120.0, 12.1, 1440.0)
        logger = subprocess.Popen([LEGWATCH, "log", str(path)], stdout=subprocess.PIPE, text=True)
        assert logger.stdout is not None
        try:
            assert "logging" in logger.stdout.readline()
            time.sleep(2.0)
            result = check(path, "--handheld", "A1=12.0", "--by", "Ines")
        finally:
            logger.terminate()
            logger.wait(10)
            logger.stdout.close()
    assert result.returncode == 0, result.stdout + result.stderr
    assert "Ines measured by hand" in result.stdout
    with sqlite3.connect(tmp_path / "weir.sqlite") as db:
        assert db.execute("SELECT count(*) FROM note WHERE kind = 'handheld'").fetchone() == (1,)


@pytest.mark.parametrize("words", ["A1", "A1=twelve", "A1=12X", "Z9=4", "A1=12 volts"])
def test_a_handheld_that_makes_no_sense_is_used_wrongly(tmp_path: Path, words: str) -> None:
    """Exit 2 with what to write; nothing reaches the log."""
    with small_set(tmp_path) as (path, _):
        result = check(path, "--handheld", words)
    assert result.returncode == 2
    assert "Traceback" not in result.stderr
    assert not (tmp_path / "weir.sqlite").exists()


def test_a_clock_behind_the_log_is_told(tmp_path: Path) -> None:
    """A log whose newest entry lies in the future: the computer's clock was set back or not kept."""
    with small_set(tmp_path) as (path, _):
        assert check(path, "--handheld", "A1=10.0", "--by", "Ines").returncode == 0
        done = subprocess.run(
            [LEGWATCH, "log", path, "--once", "--log", tmp_path / "weir.sqlite"], capture_output=True, check=False
        )
        assert done.returncode == 0
        with sqlite3.connect(tmp_path / "weir.sqlite") as db:
            db.execute("UPDATE reading SET time_ms = time_ms + 3600000")
        rows = [row for row in found(path) if row["code"] == "clock-behind"]
    assert len(rows) == 1
    assert "behind the newest entry" in rows[0]["text"]


def test_the_bus_says_how_often_each_meter_is_read(tmp_path: Path) -> None:
    """One line a bus on the screen, and the same as JSON."""
    with small_set(tmp_path) as (path, _):
        printed, data = check(path), json.loads(check(path, "--json").stdout)
    assert "bus net: 1 meter: each is read every 0.2 s" in printed.stdout
    assert data["buses"][0]["keeps_up"] is True
    assert (data["meters"][0]["rounds"], data["meters"][0]["answered"]) == (3, 3)


def test_two_meters_of_one_number_are_told(tmp_path: Path) -> None:
    """Two of three replies come out broken, as where two talk at once: wrong, and how to find the second one."""

    def collide(asked: Asked) -> list[bytes | float]:
        whole = right(asked)
        return [bytes(byte | 0x11 for byte in whole) if asked.number % 3 else whole]

    with Cable(tmp_path) as cable, Responder(cable.far) as responder:
        responder.script = collide
        rows = [row for row in found(_on_a_line(tmp_path, cable.near)) if row["where"] == "line unit 1"]
    (row,) = [row for row in rows if row["code"] == "meter-garbled"]
    assert row["severity"] == "wrong"
    assert "unplug this meter" in row["do"]


def test_answers_that_jump_are_told(tmp_path: Path) -> None:
    """Whole replies by turns of 118 V and 60 V: no tap of a set moves so."""

    def by_turns(asked: Asked) -> list[bytes | float]:
        value = 118.0 if asked.number % 2 else 60.0
        high, low = struct.unpack(">HH", struct.pack(">f", value))
        return [asked.frame(asked.registers([high, low] * (asked.count // 2)))]

    with Cable(tmp_path) as cable, Responder(cable.far) as responder:
        responder.script = by_turns
        rows = found(_on_a_line(tmp_path, cable.near))
    assert [row["where"] for row in rows if row["code"] == "meter-varies"] == ["line unit 1"]


def _on_a_line(folder: Path, port: Path) -> Path:
    """Write a show with one meter of a volts and an amps register on a serial line."""
    (folder / "plain.toml").write_text(PLAIN, encoding="utf-8")
    path = folder / "line.toml"
    path.write_text(LINE.format(port=port), encoding="utf-8")
    return path


def test_a_meter_that_sends_too_seldom_is_told(tmp_path: Path) -> None:
    """A board that prints less often than readings stay live: how often it sends, and what to set."""
    with printing_tcp(lambda _: b"v1=120.5,a1=2.25,w1=270,hz=60\r\n", every_s=1.4) as port:
        text = LINE.format(port="").replace('protocol = "modbus-rtu"\nport = ""\nbaud = 115200', 'protocol = "text"')
        text = text.replace('id = "line"', f'id = "line"\ntcp = "127.0.0.1:{port}"').replace("unit = 1\n", "")
        text = text.replace("timeout_seconds = 0.2", "timeout_seconds = 5").replace('"plain"', '"text-lines"')
        path = tmp_path / "seldom.toml"
        path.write_text(f"{text}[alarms]\nold_after_seconds = 1\n", encoding="utf-8")
        rows = found(path)
    (row,) = [row for row in rows if row["code"] == "spacing-old"]
    assert row["where"] == "line unit 1"
    assert "readings count as old after 1 s" in row["text"]
    assert "old_after_seconds" in row["do"]


def test_a_line_that_cannot_keep_the_interval_is_told(tmp_path: Path) -> None:
    """A meter that takes 0.3 s where every 0.1 s is asked for: a remark with both figures."""
    with Cable(tmp_path) as cable, Responder(cable.far) as responder:
        responder.script = lambda asked: [0.3, right(asked)]
        path = _on_a_line(tmp_path, cable.near)
        text = path.read_text(encoding="utf-8").replace("timeout_seconds = 0.2", "timeout_seconds = 2")
        path.write_text(text.replace("baud = 115200", "baud = 115200\npoll_seconds = 0.1"), encoding="utf-8")
        rows = found(path)
    (row,) = [row for row in rows if row["code"] == "bus-slow"]
    assert "where poll_seconds asks for 0.1 s" in row["text"]
    assert row["severity"] == "remark"
