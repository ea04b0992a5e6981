"""``legwatch watch --web`` from end to end: virtual meters, the real logger, a real browser on the phone's width."""

from __future__ import annotations

import asyncio
import contextlib
import re
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import aiohttp
import pytest

from drivers.clock import now
from monitor.dashboard import words
from monitor.log.problems import LogProblem
from monitor.log.reader import LogReader
from monitor.show.model import Point
from tests.support.browser import CHROMIUM, REQUIRED, Tab, chromium

if TYPE_CHECKING:
    from collections.abc import Iterator

    from monitor.engine.reading import Reading

needs_chromium = pytest.mark.skipif(
    CHROMIUM is None and not REQUIRED, reason="no Chromium here; LEGWATCH_REQUIRE_CHROMIUM=1 makes this a failure"
)
PHONE, DESK = (390, 844), (1280, 800)
_STEERING = re.compile(r"\x1b\[[0-9;?]*[a-zA-Z]")


@pytest.fixture
def log(tmp_path: Path) -> Iterator[Path]:
    """Give the log of a demo that runs five times as fast: people, lights, then an overload."""
    path = tmp_path / "demo.sqlite"
    command = (sys.executable, "-m", "monitor.cli.main", "demo", "--headless", "--speed", "5", "--log", str(path))
    with Running(command):
        _wait(path)
        yield path


class Running:
    """A process that is ended with SIGINT, as Ctrl-C does, and must end in order."""

    def __init__(self, command: tuple[str, ...]) -> None:
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)

    def __enter__(self) -> subprocess.Popen[str]:
        """Give the process."""
        return self.process

    def __exit__(self, *error: object) -> None:
        """End it, unless the test has."""
        del error
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGINT)
        said, _ = self.process.communicate(timeout=30)
        assert self.process.returncode in {0, -signal.SIGKILL}, said


def serving(log: Path, *options: str) -> Running:
    """Serve a log on a free port."""
    return Running((sys.executable, "-m", "monitor.cli.main", "watch", str(log), "--web", "--port", "0", *options))


def address(process: subprocess.Popen[str]) -> str:
    """Give the address that it prints."""
    assert process.stdout is not None
    for line in process.stdout:
        found = re.search(r"http://\S+", line)
        if found:
            return found[0]
    raise AssertionError("no address was printed")


@needs_chromium
@pytest.mark.timeout(150)
async def test_the_page_lives_and_an_acknowledge_arrives_in_the_log(log: Path, tmp_path: Path) -> None:
    """It loads without another server, amps change as in the log, and who acknowledged an alarm stands in the log."""
    with serving(log) as server:
        where = address(server)
        async with chromium() as new_tab:
            tab = await new_tab()
            await tab.open(where, *PHONE)
            await tab.until(lambda: len(set(_amps(tab))) > 1, 40, "two different amps of L1")
            assert await tab.value("document.getElementById('cover').className") == "gone"
            assert await tab.value("document.querySelectorAll('.xterm-screen').length") == 1
            assert all(_strip_scheme(asked).startswith(_strip_scheme(where)) for asked in tab.asked)
            logged = {words.amps(r.values.amps) for r in _logged(log)}
            assert set(_amps(tab)) <= logged
            await tab.until(lambda: bool(_open_alarms(log)), 60, "an alarm in the log")
            await _acknowledge(tab)
            await tab.until(lambda: "Noor" in _acknowledged(log), 20, "the acknowledge in the log")
            (tmp_path / "phone.png").write_bytes(await tab.picture())
            desk = await new_tab()
            await desk.open(where, *DESK)
            await desk.until(lambda: bool(_amps(desk)), 30, "the same at a desk")
            (tmp_path / "desk.png").write_bytes(await desk.picture())


@needs_chromium
@pytest.mark.timeout(120)
async def test_a_page_whose_server_has_gone_shows_nothing_as_live(log: Path) -> None:
    """Once the server has ended, the page is covered by words that say so."""
    with serving(log) as server:
        async with chromium() as new_tab:
            tab = await new_tab()
            await tab.open(address(server), *PHONE)
            await tab.until(lambda: bool(_amps(tab)), 40, "amps of L1")
            server.send_signal(signal.SIGTERM)
            for _ in range(150):
                if await tab.value("document.getElementById('cover').className") == "lost":
                    break
                await asyncio.sleep(0.1)
            assert server.wait(timeout=20) == 0
            assert "Nothing on this page is live" in await tab.value("document.getElementById('why').textContent")


async def test_no_screen_outlives_its_server(log: Path) -> None:
    """A screen ends by itself where its server was killed."""
    with serving(log) as server:
        where = f"{address(server)}ws?width=45&height=30"
        async with aiohttp.ClientSession() as session, session.ws_connect(where) as socket:
            await socket.receive()
            screens = _children(server.pid)
            assert len(screens) == 1
            server.kill()
            server.wait()
        for _ in range(100):
            if not _still(screens):
                break
            await asyncio.sleep(0.1)
        assert not _still(screens)


def test_elsewhere_needs_a_token_that_is_printed_once(log: Path) -> None:
    """Listening on every address is warned of, and the address that is printed carries a token."""
    with serving(log, "--host", "0.0.0.0") as server:  # noqa: S104 - for a moment, behind its token
        assert server.stdout is not None
        warning = server.stdout.readline()
        assert "WARNING: 0.0.0.0 can be reached from other computers" in warning
        assert re.search(r"\?token=[\w-]{22}$", address(server))


def test_a_taken_port_is_told(log: Path) -> None:
    """One sentence says what to do, and nothing is served."""
    with serving(log) as server:
        port = address(server).rstrip("/").rpartition(":")[2]
        command = (sys.executable, "-m", "monitor.cli.main", "watch", str(log), "--web", "--port", port)
        second = subprocess.run(command, capture_output=True, text=True, timeout=30, check=False)
        assert second.returncode == 2
        assert second.stderr.startswith(f"legwatch: can't listen on 127.0.0.1 port {port}: Address already in use;")
        assert not second.stdout


def _still(pids: list[int]) -> list[int]:
    return [pid for pid in pids if Path(f"/proc/{pid}").exists()]


def _children(pid: int) -> list[int]:
    tasks = Path(f"/proc/{pid}/task").glob("*/children")
    return [int(child) for told in tasks for child in told.read_text().split()]


async def _acknowledge(tab: Tab) -> None:
    await tab.press("a")
    await tab.until(lambda: "Not acknowledged" in _seen(tab), 20, "the list of alarms")
    await tab.press("K")
    await tab.until(lambda: "Your name" in _seen(tab), 20, "the question for a name")
    await tab.press(*"Noor", "Enter")
    await tab.until(lambda: "as Noor?" in _seen(tab), 20, "the question whether all are meant")
    await tab.press("Enter")


def _seen(tab: Tab) -> str:
    return _STEERING.sub("", tab.received)


def _amps(tab: Tab) -> list[str]:
    return re.findall(r"L1 +(?:[^\W\d]\w*\.? +)?(\d+\.\d) [█▒ ]", _seen(tab))


def _logged(log: Path) -> list[Reading]:
    with LogReader(log) as reader:
        return reader.readings_between(Point("source", "L1"), 0, now().wall_ms + 3_600_000)


def _open_alarms(log: Path) -> list[str]:
    with LogReader(log) as reader:
        return [alarm.code for alarm in reader.alarms() if alarm.state == "unacknowledged"]


def _acknowledged(log: Path) -> set[str]:
    with LogReader(log) as reader:
        return {change.alarm.who for change in reader.alarm_changes()}


def _strip_scheme(address: str) -> str:
    return address.partition("://")[2]


def _wait(log: Path) -> None:
    for _ in range(300):
        with contextlib.suppress(LogProblem), LogReader(log) as reader:
            if reader.last_time_ms() is not None:
                return
        time.sleep(0.1)
    raise AssertionError("the demo has logged nothing within 30 s")
