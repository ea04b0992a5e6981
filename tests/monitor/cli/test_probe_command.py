"""``legwatch probe`` as a newcomer uses it: real processes against another project's server over TCP."""

from __future__ import annotations

import json
import os
import pty
import select
import socket
import struct
import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from pyModbusTCP.server import DataBank, ModbusServer

from drivers.maps.mapfile import load_map

if TYPE_CHECKING:
    from collections.abc import Iterator

LEGWATCH = str(Path(sys.executable).with_name("legwatch"))


def probe(*words: str | Path) -> subprocess.CompletedProcess[str]:
    """Run the command to its end, without a terminal."""
    return subprocess.run(
        [LEGWATCH, "probe", *map(str, words)],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        stdin=subprocess.DEVNULL,
    )


@contextmanager
def meter() -> Iterator[tuple[str, DataBank]]:
    """Serve a meter that holds volts at 30 (CDAB), amps at 32 (CDAB) and hertz x 100 at 50; give its address."""
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = int(free.getsockname()[1])
    bank = DataBank(h_regs_size=100, i_regs_size=1, coils_size=1, d_inputs_size=1)
    show(bank, 121.3, 7.25)
    server = ModbusServer("127.0.0.1", port, no_block=True, data_bank=bank)
    server.start()
    try:
        yield f"127.0.0.1:{port}", bank
    finally:
        server.stop()


def show(bank: DataBank, volts: float, amps: float) -> None:
    """Let the meter measure other values."""
    for address, value in ((30, volts), (32, amps)):
        high, low = struct.unpack(">HH", struct.pack(">f", value))
        bank.set_holding_registers(address, [low, high])
    bank.set_holding_registers(50, [5998])


def test_who_answers_and_what_to_write_into_the_show() -> None:
    """A scan names the units that answer and the lines for the show file."""
    with meter() as (where, _):
        result = probe("--tcp", where, "--units", "1-2")
    assert result.returncode == 0, result.stderr
    assert f'tcp = "{where}"' in result.stdout
    assert 'protocol = "modbus-tcp"' in result.stdout


def test_nobody_answers() -> None:
    """A port where no meter is: exit 1 or 2, and what to look at; never a traceback."""
    with socket.create_server(("127.0.0.1", 0)) as mute:
        result = probe("--tcp", f"127.0.0.1:{mute.getsockname()[1]}", "--units", "1", "--timeout", "0.1")
    assert result.returncode == 1
    assert "nothing answered" in result.stderr
    assert "Traceback" not in result.stderr


def test_from_measured_values_to_a_map_that_the_show_can_use(tmp_path: Path) -> None:
    """Two readings narrow it, the map is written, a second value is added; the map reads what the meter holds."""
    path, keep = tmp_path / "found.toml", tmp_path / "ways"
    with meter() as (where, bank):
        look = ("--tcp", where, "--units", "1", "--table", "holding", "--tolerance", "0.2%")
        first = probe(*look, "--find", "121.3", "--keep", keep)
        assert first.returncode == 0, first.stderr
        show(bank, 118.4, 9.37)
        second = probe(*look, "--find", "118.4", "--keep", keep, "--as", "ch1.volts", "--map", path)
        assert second.returncode == 0, second.stderr
        third = probe(*look, "--find", "9.37", "--as", "ch1.amps", "--map", path)
        fourth = probe(*look, "--find", "59.98", "--tolerance", "0.01%", "--as", "ch1.hertz", "--map", path)
        again = probe(*look, "--find", "118.4", "--as", "ch1.volts", "--map", path)
    assert (third.returncode, fourth.returncode) == (0, 0), third.stderr + fourth.stderr
    found = {v.quantity: (v.address, v.encoding, v.word_order, v.scale) for v in load_map(path).values}
    assert found["volts"] == (30, "float32", "CDAB", 1.0)
    assert found["amps"] == (32, "float32", "CDAB", 1.0)
    assert found["hertz"] == (50, "u16", "ABCD", 0.01)
    assert again.returncode == 2
    assert "ch1.volts already" in again.stderr


def test_on_a_terminal_it_asks_for_the_next_value() -> None:
    """With several ways left, a person is asked for another value, and the ways that don't follow it go."""
    with meter() as (where, bank):
        ours, theirs = pty.openpty()
        words = [
            LEGWATCH,
            "probe",
            "--tcp",
            where,
            "--units",
            "1",
            "--find",
            "7.25",
            "--tolerance",
            "30%",
            "--registers",
            "28-40",
        ]
        process = subprocess.Popen(words, stdin=theirs, stdout=theirs, stderr=theirs)
        os.close(theirs)
        before = _until(ours, "Enter ends")
        show(bank, 121.3, 15.5)
        os.write(ours, b"15.5\n")
        after = _until(ours, "Enter ends") if before.count("holding ") > 1 else ""
        os.write(ours, b"\n")
        process.wait(20)
        os.close(ours)
    assert process.returncode == 0
    assert "holding 32-33  float32 CDAB reads 15.5" in after + before


def _until(terminal: int, text: str) -> str:
    """Read the terminal until a text came, or the program ended, or 20 s passed."""
    heard = ""
    while text not in heard and select.select([terminal], [], [], 20)[0]:
        try:
            heard += os.read(terminal, 4096).decode()
        except OSError:
            break
    return heard


def test_registers_as_json() -> None:
    """What a dump read, raw, for other programs."""
    with meter() as (where, _):
        result = probe("--tcp", where, "--units", "1", "--dump", "--registers", "50", "--json")
    assert json.loads(result.stdout)["holding"] == {"50": 5998}


def test_used_wrongly() -> None:
    """Each contradiction is named, with exit 2."""
    wrong = [
        (("--tcp", "127.0.0.1", "--units", "1"), "HOST:PORT"),
        (("--tcp", "127.0.0.1:1", "--port", "/dev/null"), "not both"),
        (("--tcp", "127.0.0.1:1", "--find", "1"), "name it"),
        (("--tcp", "127.0.0.1:1", "--units", "1", "--find", "0"), "empty register"),
        (("--tcp", "127.0.0.1:1", "--units", "1", "--find", "1", "--as", "ch1.volt"), "quantities are"),
        (("--port", "nowhere", "--units", "300"), "from 0 to 255"),
    ]
    for words, told in wrong:
        result = probe(*words)
        assert result.returncode == 2, words
        assert told in result.stderr, words
