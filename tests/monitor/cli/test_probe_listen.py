"""``legwatch probe``: listening to meters that send by themselves, and SunSpec meters found by their marker."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

from tests.support.cable import Cable
from tests.support.senders import printing, printing_tcp
from tests.support.sunspec_devices import image, model, rtu_device, tcp_device
from tests.support.telegrams import checked

LEGWATCH = str(Path(sys.executable).with_name("legwatch"))


def probe(*words: str | Path) -> subprocess.CompletedProcess[str]:
    """Run the command to its end, without a terminal."""
    return subprocess.run(
        [LEGWATCH, "probe", *map(str, words)], capture_output=True, text=True, timeout=60, check=False
    )


def test_lines_of_text_are_told_with_their_fields() -> None:
    """A board on the network prints key=value: recognised, its fields shown, and the lines for the show file."""
    with printing_tcp(lambda n: f"u=231.{n % 10}V i=2.50A\r\n".encode()) as port:
        result = probe("--tcp", f"127.0.0.1:{port}", "--listen")
    assert result.returncode == 0, result.stderr
    assert 'protocol = "text"' in result.stdout
    assert "i  2.50 A" in result.stdout


def test_telegrams_on_a_cable(tmp_path: Path) -> None:
    """A meter that pushes telegrams: the protocol and a field of the newest one."""
    telegram = checked("1-0:32.7.0(231.4*V)\n1-0:31.7.0(002*A)")
    with Cable(tmp_path) as cable, printing(cable.far, lambda _: telegram, 0.3):
        result = probe("--port", cable.near, "--listen", "--baud", "115200", "--json")
    assert result.returncode == 0, result.stderr
    (heard,) = json.loads(result.stdout)["heard"]
    assert heard["protocol"] == "iec62056-21"
    assert heard["fields"]["32.7.0"] == [{"text": "231.4", "unit": "V"}]


def test_noise_and_silence_are_told_apart(tmp_path: Path) -> None:
    """Bytes that are no message, and none at all: exit 1 and what to look at, no traceback."""
    with Cable(tmp_path) as cable, printing(cable.far, lambda n: bytes([0xF3, n & 0x7F, 0x91, 0xFF])):
        garbled = probe("--port", cable.near, "--listen", "--baud", "9600", "--seconds", "0.5")
    assert garbled.returncode == 1
    assert "no message at any of these speeds" in garbled.stderr
    with Cable(tmp_path) as cable:
        mute = probe("--port", cable.near, "--listen", "--baud", "9600", "--seconds", "0.5")
    assert mute.returncode == 1
    assert "nothing came" in mute.stderr
    assert "Traceback" not in garbled.stderr + mute.stderr


def test_a_sunspec_meter_is_told_in_a_scan(tmp_path: Path) -> None:
    """The marker at 40000 on the network, at 50000 on a cable: where it is, and the show file's protocol."""
    registers = image(model(201, {"PhVphA": 1204, "V_SF": -1, "AphA": 52, "A_SF": -1}))
    with tcp_device(registers, 40_000) as port:
        result = probe("--tcp", f"127.0.0.1:{port}", "--units", "1", "--json")
    assert [answer["sunspec"] for answer in json.loads(result.stdout)["answers"]] == [40_000]
    with Cable(tmp_path) as cable, rtu_device(registers, 50_000, cable.far):
        result = probe("--port", cable.near, "--units", "1-2", "--baud", "115200", "--parity", "N")
    assert "its marker stands at 50000" in result.stdout, result.stderr
    assert 'protocol = "sunspec-rtu"' in result.stdout
