"""``legwatch setup`` with meters that wait for the sign-on of IEC 62056-21, far ends of the tests' own on a cable.

The frames of modes A, B and C follow the notes on the standard named in ``tests/drivers/iec62056``.
"""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING

import pytest

from tests.monitor.cli.test_setup_command import HEAD, legwatch, place
from tests.support.cable import Cable
from tests.support.senders import AskedMeter
from tests.support.telegrams import readout

if TYPE_CHECKING:
    from pathlib import Path

DATA = readout("1-0:32.7.0(231.4*V)", "1-0:31.7.0(12.25*A)", "1-0:52.7.0(229.8*V)", "1-0:51.7.0(3.50*A)")


@pytest.mark.parametrize(
    ("identification", "waits_for"),
    [
        pytest.param(b"/XMP@EXAMPLE\r\n", b"", id="A"),
        pytest.param(b"/XMPEEXAMPLE\r\n", b"", id="B"),
        pytest.param(b"/XMP5EXAMPLE\r\n", b"\x06050\r\n", id="C"),
    ],
)
def test_a_meter_that_is_signed_on_to(identification: bytes, waits_for: bytes, tmp_path: Path) -> None:
    """Chosen on its port, read by the map that comes along, its legs the source's: what is written reads right."""
    serial = place(tmp_path, "another serial port")
    with (
        Cable(tmp_path) as cable,
        AskedMeter(cable.far, cable.near, identification, lambda _: [DATA], waits_for),
    ):
        head = (*HEAD, serial, str(cable.near), "3")
        done = legwatch(tmp_path, "setup", "kiln.toml", typed=(*head, "1", "source/L1", "source/L2", *[""] * 5, "y"))
        check = legwatch(tmp_path, "check", "kiln.toml", "--file-only")
        once = legwatch(tmp_path, "log", "kiln.toml", "--once")
    assert done.returncode == 0, done.stdout + done.stderr
    assert "telegram: l1 231.4 V 12.25 A; l2 229.8 V 3.50 A" in done.stdout
    show = tomllib.loads((tmp_path / "kiln.toml").read_text(encoding="utf-8"))
    assert show["bus"] == [{"id": "bus1", "port": str(cable.near), "protocol": "iec62056-21"}]
    assert show["meter"][0]["points"] == {"l1": "source/L1", "l2": "source/L2"}
    assert check.returncode == 0, check.stdout + check.stderr
    assert [line.split()[:3] for line in once.stdout.splitlines()[1:3]] == [
        ["source/L1", "231.4", "12.25"], ["source/L2", "229.8", "3.50"],
    ]  # fmt: skip


def test_nobody_answers_the_sign_on(tmp_path: Path) -> None:
    """A cable without a meter: told, read again on Enter, left out then; nothing is put into the file."""
    serial = place(tmp_path, "another serial port")
    none = place(tmp_path, "no more meters")
    with Cable(tmp_path) as cable:
        typed = (*HEAD, serial, str(cable.near), "3", "", "1", none, "", "y")
        done = legwatch(tmp_path, "setup", "kiln.toml", typed=typed)
    assert done.returncode == 0, done.stdout + done.stderr
    assert done.stdout.count("no answer to the sign-on") == 2
    assert "--find" not in done.stdout  # registers are no help with a meter that has none
    assert "meter" not in tomllib.loads((tmp_path / "kiln.toml").read_text(encoding="utf-8"))
