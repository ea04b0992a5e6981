"""The logger is killed with SIGKILL at any moment, often just while it commits; and what it tells systemd.

What this proves: a process that ends at any instruction leaves a log that opens, with every reading that it had called
committed, no poll in part, and no lock that keeps the next logger out. What it doesn't prove: anything about power,
since the operating system keeps what was handed to it; ``tests/monitor/log/test_power_cuts.py`` is about that.
"""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from tests.support.killing import kill_many
from tests.support.measured import Measured
from tests.support.sets import small_set

if TYPE_CHECKING:
    from collections.abc import Callable

SIDE_BY_SIDE, EACH = 6, 5
READY_WITHIN_S = 15.0  # with six loggers starting at once on two cores; alone it takes a tenth of that


def test_kills_lose_nothing_acknowledged(tmp_path: Path, record_property: Callable[[str, object], None]) -> None:
    """30 kills: every reading seen in the log stays, no poll is torn, the next logger goes on by itself."""
    with small_set(tmp_path) as (show, _):
        found = kill_many(show, tmp_path, SIDE_BY_SIDE, EACH)
    how, what = "SIGKILL, half of them about a commit", "acknowledged readings"
    row = Measured("logger killed", how, found.kills, found.lost, found.acknowledged, what, found.ready_s)
    row.keep(record_property)
    assert found.kills == SIDE_BY_SIDE * EACH
    assert found.acknowledged > 100
    assert (found.lost, found.torn, found.damaged) == (0, 0, 0)
    assert found.ready_s < READY_WITHIN_S


def test_systemd_hears_of_each_cycle(tmp_path: Path) -> None:
    """``legwatch log`` itself: ready with the first committed cycle, the watchdog with each, stopping at its end."""
    with small_set(tmp_path) as (show, _), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as door:
        door.bind(str(tmp_path / "door"))
        door.settimeout(20.0)
        words = [str(Path(sys.executable).with_name("legwatch")), "log", str(show)]
        environment = {**os.environ, "NOTIFY_SOCKET": str(tmp_path / "door")}
        process = subprocess.Popen(words, env=environment, stdout=subprocess.DEVNULL)
        heard = [door.recv(4096).decode().split("\n") for _ in range(3)]
        assert (tmp_path / "weir.sqlite").exists()
        process.send_signal(signal.SIGTERM)
        while heard[-1] != ["STOPPING=1"]:
            heard.append(door.recv(4096).decode().split("\n"))
        assert process.wait(20) == 0
    assert heard[0] == ["READY=1", "STATUS=logging", "WATCHDOG=1"]
    assert heard[1:3] == [["STATUS=logging", "WATCHDOG=1"]] * 2
