"""The dashboard ends as a key ends it when asked to, or when its line drops: the caller goes on after it.

A real process on a pseudo-terminal of its own; nothing is said about how long it takes.
"""

from __future__ import annotations

import fcntl
import os
import pty
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    End = Callable[[subprocess.Popen[bytes], int], None]

CHILD = """
import fcntl, os, sys, termios
from dataclasses import replace
from itertools import count
from pathlib import Path
os.setsid()
fcntl.ioctl(0, termios.TIOCSCTTY, 0)  # the pseudo-terminal hangs up on us, as an SSH line does
from monitor.dashboard.app import run_dashboard
from tests.monitor.dashboard import snapshots
class Running:
    calls = count()
    def snapshot(self):
        return replace(snapshots.alarmed(), time_ms=snapshots.NOW_MS + 1000 * next(self.calls))
run_dashboard(Running())
Path(sys.argv[1]).write_text("log closed")
"""


def terminate(child: subprocess.Popen[bytes], _: int) -> None:
    """End it as a service manager does."""
    child.send_signal(signal.SIGTERM)


def hang_up(child: subprocess.Popen[bytes], _: int) -> None:
    """End it as a closing window does."""
    child.send_signal(signal.SIGHUP)


def drop(_: subprocess.Popen[bytes], ours: int) -> None:
    """Take the terminal away: the kernel hangs up, and nothing can be written to it any more."""
    os.close(ours)


@pytest.mark.parametrize("end", [terminate, hang_up, drop])
def test_what_follows_the_dashboard_is_done(end: End, tmp_path: Path) -> None:
    """Whatever ends it, the caller goes on: it can close the log."""
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    done = tmp_path / "done"
    environ = {**os.environ, "TERM": "xterm-256color"}
    child = subprocess.Popen(
        [sys.executable, "-c", CHILD, str(done)], stdin=theirs, stdout=theirs, stderr=theirs, env=environ
    )
    os.close(theirs)
    _read(ours, lambda sent: b"alarms" in sent)
    end(child, ours)
    if end is not drop:
        _read(ours, lambda _: child.poll() is not None)
        os.close(ours)
    assert child.wait(30) == 0
    assert done.read_text() == "log closed"


def _read(ours: int, enough: Callable[[bytes], bool]) -> None:
    """Read what is sent until it is enough, or for half a minute."""
    sent, until = b"", time.monotonic() + 30
    while not enough(sent) and time.monotonic() < until:
        if select.select([ours], [], [], 0.1)[0]:
            try:
                sent += os.read(ours, 65536)
            except OSError:  # Linux: its other end is closed
                return
