"""Signs of life for the service manager, over a real datagram socket (sd_notify(3))."""

from __future__ import annotations

import os
import socket
from typing import TYPE_CHECKING

from monitor.recorder.notify import ServiceManager

if TYPE_CHECKING:
    from pathlib import Path

    import pytest


def heard(door: socket.socket) -> list[str]:
    """Give the lines of everything that has come."""
    door.settimeout(0)
    lines: list[str] = []
    while True:
        try:
            lines += door.recv(4096).decode().split("\n")
        except BlockingIOError:
            return lines


def test_ready_comes_with_the_first_committed_cycle_and_the_watchdog_with_each(tmp_path: Path) -> None:
    """Not ready while nothing is committed; ready once; fed each cycle; a problem is told as the status."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as door:
        door.bind(str(tmp_path / "door"))
        manager = ServiceManager(str(tmp_path / "door"))
        manager.cycle("no space left")
        assert heard(door) == []
        manager.cycle("")
        assert heard(door) == ["READY=1", "STATUS=logging", "WATCHDOG=1"]
        manager.cycle("")
        assert heard(door) == ["STATUS=logging", "WATCHDOG=1"]
        manager.cycle("no space left")
        assert heard(door) == ["STATUS=not written: no space left", "WATCHDOG=1"]
        manager.stopping()
        assert heard(door) == ["STOPPING=1"]


def test_nobody_waits(monkeypatch: pytest.MonkeyPatch) -> None:
    """Started by hand, or the manager's socket is gone: nothing happens."""
    monkeypatch.delenv("NOTIFY_SOCKET", raising=False)
    ServiceManager.of_environment().cycle("")
    monkeypatch.setenv("NOTIFY_SOCKET", "/nowhere/at/all")
    manager = ServiceManager.of_environment()
    manager.cycle("")
    assert "NOTIFY_SOCKET" not in os.environ
