"""Ports that can't be opened and meters that do not answer: what it is, where, and what to do."""

from __future__ import annotations

import errno
import grp
import os
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from drivers.bus.settings import MODBUS_PROTOCOLS, BusSettings
from drivers.errors import Corrupt, PortProblem, Silent
from drivers.links.opening import open_link
from drivers.links.port_problem import ports_here, serial_problem
from drivers.maps.model import Table
from tests.support.lines import line

if TYPE_CHECKING:
    from pathlib import Path


def test_a_held_port_says_who_holds_it(tmp_path: Path) -> None:
    """Another process has the port locked: in use, by that process, and what to do."""
    hold = (
        "import fcntl, os, sys, time; f = os.open(sys.argv[1], os.O_RDWR | os.O_NOCTTY);"
        "fcntl.flock(f, fcntl.LOCK_EX); print('held', flush=True); time.sleep(60)"
    )
    with line("modbus-rtu", tmp_path) as bus:
        process = subprocess.Popen([sys.executable, "-c", hold, bus.settings.port], stdout=subprocess.PIPE, text=True)
        assert process.stdout is not None
        try:
            assert process.stdout.readline() == "held\n"
            with pytest.raises(PortProblem) as problem:
                open_link(bus.settings)
            assert problem.value.reason == "in-use"
            assert f"process {process.pid}" in problem.value.detail
        finally:
            process.kill()
            process.wait(5.0)
            process.stdout.close()
        open_link(bus.settings).close()


def test_a_second_opening_of_an_open_port_is_refused(tmp_path: Path) -> None:
    """The port is opened exclusively."""
    with line("modbus-rtu", tmp_path) as bus:
        first = open_link(bus.settings)
        with pytest.raises(PortProblem) as problem:
            open_link(bus.settings)
        assert problem.value.reason == "in-use"
        first.close()
        open_link(bus.settings).close()


@pytest.mark.parametrize(
    ("number", "reason", "advice"),
    [
        (errno.ENOENT, "missing", "plug the adapter in"),
        (errno.ENXIO, "missing", "plug the adapter in"),
        (errno.EIO, "missing", "now"),
        (errno.EBUSY, "in-use", "stop that first"),
        (errno.EACCES, "no-permission", "dialout"),
        (errno.ENOTTY, "other", "is no serial port"),
        (errno.EBADF, "other", "try another"),
        (None, "other", "(told)"),
    ],
)
def test_every_reason_says_what_to_do(number: int | None, reason: str, advice: str) -> None:
    """The port's name, and an action."""
    problem = serial_problem("/dev/ttyX7", number, "told")
    assert problem.reason == reason
    assert advice in problem.detail
    assert "/dev/ttyX7" in problem.detail


@pytest.mark.parametrize(
    ("port", "kind"), [("file", "a plain file"), (".", "a directory"), ("/dev/null", "another device")]
)
def test_what_is_no_serial_port_is_told_so(port: str, kind: str, tmp_path: Path) -> None:
    """A file, a directory, a device of another kind: what it is, once, and nothing of the system's own words."""
    (tmp_path / "file").write_text("x")
    with pytest.raises(PortProblem) as problem:
        open_link(BusSettings("b", "modbus-rtu", port=str(tmp_path / port)))
    assert problem.value.reason == "other"
    assert f"is no serial port, but {kind}: correct the port's name" in problem.value.detail
    assert "rrno" not in problem.value.detail


def test_the_ports_that_are_there_are_named(tmp_path: Path) -> None:
    """By id where there are such names, else by the kernel's, else that there is none."""
    assert ports_here(tmp_path) == "this computer has no serial adapter now"
    for name in ("ttyACM0", "ttyUSB1", "ttyUSB0"):
        (tmp_path / name).touch()
    assert ports_here(tmp_path) == f"here now: {tmp_path}/ttyUSB0, {tmp_path}/ttyUSB1"
    (tmp_path / "serial" / "by-id").mkdir(parents=True)
    (tmp_path / "serial" / "by-id" / "usb-line").touch()
    assert ports_here(tmp_path) == f"here now: {tmp_path}/serial/by-id/usb-line"


@pytest.mark.parametrize(
    ("mode", "told"), [(0o660, "group daemon may: sudo usermod -aG daemon"), (0o600, "crw-------")]
)
@pytest.mark.skipif(os.geteuid() != 0, reason="only root can give a port to somebody else")
def test_a_port_of_somebody_else_says_who_may(mode: int, told: str, tmp_path: Path) -> None:
    """Another user's process meets a port of root's: which group may, or that none may."""
    code = (
        "import os, sys, drivers.links.serial_link\n"
        "from drivers.links.opening import open_link; from drivers.bus.settings import BusSettings\n"
        "from drivers.errors import PortProblem\n"
        "os.setgroups([]); os.setgid(65534); os.setuid(65534)\n"
        "try: open_link(BusSettings('b', 'modbus-rtu', port=sys.argv[1]))\n"
        "except PortProblem as problem: print(problem.reason, problem)"
    )
    with line("modbus-rtu", tmp_path) as bus:
        assert bus.cable is not None
        terminal = bus.cable.near.resolve()
        os.chown(terminal, 0, grp.getgrnam("daemon").gr_gid)
        terminal.chmod(mode)
        result = subprocess.run([sys.executable, "-c", code, terminal], capture_output=True, text=True, check=True)
    assert result.stdout.startswith("no-permission ")
    assert told in result.stdout


@pytest.mark.parametrize("protocol", MODBUS_PROTOCOLS)
def test_a_meter_that_does_not_answer_says_what_to_look_at(protocol: str, tmp_path: Path) -> None:
    """Its power and number; on a serial line the line's own settings and the two wires."""
    with line(protocol, tmp_path, timeout_s=0.05) as bus:
        bus.responder.script = lambda _: []
        link = open_link(bus.settings)
        with pytest.raises(Silent) as silent:
            link.read(7, Table.INPUT, 0, 6)
        link.close()
    told = silent.value.detail
    assert "did not answer: check its power, that its unit number is 7" in told
    assert ("its line 115200 8N1, and that A and B are not swapped" in told) == ("tcp" not in protocol)


@pytest.mark.parametrize("protocol", ["modbus-rtu", "modbus-ascii", "modbus-rtu-over-tcp"])
def test_bytes_that_are_no_reply_say_what_to_look_at(protocol: str, tmp_path: Path) -> None:
    """As at a wrong baud rate, or where two meters answer at once: how many bytes, and the places to look at."""
    with line(protocol, tmp_path, timeout_s=0.05) as bus:
        bus.responder.script = lambda _: [b"\xfe\x1f\x00\xe0\x9c\xff\x07"]
        link = open_link(bus.settings)
        with pytest.raises(Corrupt) as corrupt:
            link.read(7, Table.INPUT, 0, 6)
        link.close()
    assert "7 bytes came that are no whole reply" in corrupt.value.detail
    assert "look at the line's baud and parity, at its wires, and for a second meter" in corrupt.value.detail
    assert ("if not unit 254's" in corrupt.value.detail) == (protocol != "modbus-ascii"), "who it may have been"
