"""Who could do what: nothing listens, files are closed to others, a reader never writes, an alarm's words stay data.

The web view and its token are tested in tests/monitor/dashboard/web, what a request may say in
tests/monitor/recorder/test_requests.py.
"""

from __future__ import annotations

import os
import shutil
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest

from monitor.recorder.attached import AttachedFeed
from tests.monitor.log.mounts import tmpfs
from tests.monitor.review.logs import evening
from tests.support.loggers import Logger
from tests.support.sets import small_set

_LISTENS = "0A"  # proc_net_tcp: TCP_LISTEN; a UDP socket that is bound is 07
_BOUND = "07"


def listening(pid: int) -> list[str]:
    """Name every TCP socket that a process listens on and every bound UDP socket, from /proc (proc(5))."""
    own = set()
    for handle in Path(f"/proc/{pid}/fd").iterdir():
        try:
            own.add(str(handle.readlink()))
        except OSError:
            continue  # closed meanwhile
    found = []
    for name, state in (("tcp", _LISTENS), ("tcp6", _LISTENS), ("udp", _BOUND), ("udp6", _BOUND)):
        table = Path(f"/proc/{pid}/net/{name}")
        for line in table.read_text().splitlines()[1:] if table.exists() else ():
            cells = line.split()
            if cells[3] == state and f"socket:[{cells[9]}]" in own:
                found.append(f"{name} {cells[1]}")
    return found


def family(pid: int) -> list[int]:
    """Give a process and all that came from it."""
    children = Path(f"/proc/{pid}/task/{pid}/children")
    below = [int(word) for word in children.read_text().split()] if children.exists() else []
    return [pid, *(one for child in below for one in family(child))]


def test_the_check_sees_a_listener() -> None:
    """It can fail: this process listens for a moment."""
    import socket  # noqa: PLC0415 - only here

    with socket.create_server(("127.0.0.1", 0)):
        assert len(listening(os.getpid())) >= 1


@pytest.mark.skipif(sys.platform != "linux", reason="reads /proc")
def test_a_logger_listens_nowhere(tmp_path: Path) -> None:
    """`legwatch log` at work has no listening socket, and neither has anything that it started."""
    with small_set(tmp_path) as (show, _), Logger(tmp_path / "of", "log", show) as logger:
        logger.ready()
        time.sleep(0.3)
        assert [place for pid in family(logger.pid) for place in listening(pid)] == []
        assert logger.end() == 0


def test_the_demo_listens_on_loopback_only(tmp_path: Path) -> None:
    """Its own virtual meters speak TCP: on 127.0.0.1 and nowhere else."""
    with Logger(tmp_path / "of", "demo", "--headless", "--seconds", "60") as demo:
        end_s = time.monotonic() + 20.0
        places: list[str] = []
        while not places and time.monotonic() < end_s:
            time.sleep(0.2)
            places = [place for pid in family(demo.pid) for place in listening(pid)]
        assert places, demo.said()
        assert {place.split()[1].split(":")[0] for place in places} == {"0100007F"}


def test_files_are_not_for_everyone(tmp_path: Path) -> None:
    """Under a umask of 0 nothing that the logger or one who asks makes can be written by others."""
    log = tmp_path / "weir.sqlite"
    with small_set(tmp_path) as (show, _), Logger(tmp_path / "of", "log", show, umask=0) as logger:
        logger.ready()
        with Logger(tmp_path / "asks", "note", log, "looked", "--by", "Noor", umask=0) as asks:
            asks._process.join(20.0)
        made = [path for path in tmp_path.iterdir() if path.name.startswith("weir.sqlite")]
        modes = {path.name: stat.S_IMODE(path.stat().st_mode) for path in made}
        assert set(modes) >= {f"weir.sqlite{end}" for end in ("", "-wal", "-shm", ".lock", ".live", ".requests")}
        assert {name: oct(mode) for name, mode in modes.items() if mode & stat.S_IWOTH} == {}


def test_a_screen_writes_nothing(tmp_path: Path) -> None:
    """Screens on a read-only disk see the whole log; on any other they leave every byte of it as it was."""
    log = evening(tmp_path)
    before = log.read_bytes()
    with tmpfs(tmp_path / "disk", "2m") as disk:
        shutil.copy(log, disk / "log.sqlite")
        subprocess.run(["mount", "-o", "remount,ro", disk], check=True)
        for place in (log, disk / "log.sqlite"):
            assert AttachedFeed(place).snapshot().show_name == "Weir <house> & lock"
        assert [path.name for path in disk.iterdir()] == ["log.sqlite"]
    assert log.read_bytes() == before


def test_what_an_alarm_says_is_data(tmp_path: Path) -> None:
    """A circuit named like a shell's command: the program gets it as one word, and nothing else is run."""
    told, trap = tmp_path / "told", tmp_path / "trap"
    program = tmp_path / "program"
    program.write_text(f'#!/bin/sh\nprintf "%s\\n" "$#" "$@" >> {told}\n')
    program.chmod(0o755)
    with small_set(tmp_path) as (show, meter):
        name = f"$(touch {trap}); `touch {trap}` | '"
        show.write_text(show.read_text().replace('name = "Key side"', f'name = "{name}"'))
        meter.reads(1, 120.0, 25.0)
        with Logger(tmp_path / "of", "log", show, "--on-alarm", program) as logger:
            end_s = time.monotonic() + 20.0
            while not (told.exists() and name in told.read_text()):
                assert time.monotonic() < end_s, logger.said() + (told.read_text() if told.exists() else "")
                time.sleep(0.1)
            assert told.read_text().startswith("6\n")
            assert logger.end() == 0
    assert not trap.exists()
