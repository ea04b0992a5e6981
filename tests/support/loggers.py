"""Real ``legwatch`` processes, forked from one that has loaded the program: a start costs a tenth of a second."""

from __future__ import annotations

import multiprocessing
import os
import signal
import socket
import time
from typing import TYPE_CHECKING, Self

if TYPE_CHECKING:
    from pathlib import Path

_CONTEXT = multiprocessing.get_context("forkserver")
_CONTEXT.set_forkserver_preload(["monitor.cli.main", "monitor.cli.log_command", "monitor.log.migrations"])


def _run(words: list[str], told: str, door: str, umask: int) -> None:
    """Be ``legwatch WORDS``, in the child."""
    out = os.open(told, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o644)
    os.dup2(out, 1)
    os.dup2(out, 2)
    os.umask(umask)
    os.environ["NOTIFY_SOCKET"] = door
    from monitor.cli.main import main  # noqa: PLC0415 - in the child only

    main(words)


class Logger:
    """One ``legwatch`` process and what it tells its service manager; a context manager, killed at the end.

    Args:
        folder: of its own, for what it prints and the manager's socket.
        words: of its command line.
        umask: of the process.

    """

    def __init__(self, folder: Path, *words: str | Path, umask: int = 0o022) -> None:
        folder.mkdir(exist_ok=True)
        self.told = folder / "told.txt"
        name = folder / "door"
        name.unlink(missing_ok=True)
        self.door = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.door.bind(str(name))
        arguments = ([str(word) for word in words], str(self.told), str(name), umask)
        self._process = _CONTEXT.Process(target=_run, args=arguments)
        self.begun_s = time.monotonic()
        self._process.start()

    def __enter__(self) -> Self:
        """Give it."""
        return self

    def __exit__(self, *_: object) -> None:
        """End it, however far it is."""
        self.kill()
        self.door.close()

    @property
    def pid(self) -> int:
        """Of the process."""
        assert self._process.pid is not None
        return self._process.pid

    def heard(self, within_s: float) -> list[str]:
        """Give the lines of the next sign of life; none where there is none in time."""
        self.door.settimeout(max(within_s, 0.001))
        try:
            return self.door.recv(4096).decode().split("\n")
        except TimeoutError:
            return []

    def ready(self, within_s: float = 20.0) -> float:
        """Wait until it is ready; give how long that took from its start [s]."""
        end_s = time.monotonic() + within_s
        while (left_s := end_s - time.monotonic()) > 0:
            if "READY=1" in self.heard(left_s):
                return time.monotonic() - self.begun_s
        raise AssertionError(f"not ready within {within_s} s: {self.said()}")

    def end(self) -> int:
        """Ask it to end, wait, give its exit code."""
        os.kill(self.pid, signal.SIGTERM)
        self._process.join(20.0)
        code = self._process.exitcode
        assert code is not None, "it does not end"
        return code

    def kill(self) -> None:
        """Kill it with SIGKILL."""
        self._process.kill()
        self._process.join(10.0)

    def said(self) -> str:
        """Give all that it has printed."""
        return self.told.read_text() if self.told.exists() else ""
