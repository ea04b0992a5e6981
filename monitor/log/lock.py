"""One writer a log: a lock on a side file, ``LOG.lock``, that says who holds it.

A side file and not the log itself, because closing any other handle of the log would drop SQLite's own locks on it
(https://www.sqlite.org/howtocorrupt.html, section 2.2). The lock belongs to the open file, so the kernel drops it
when its holder dies, however it dies: a file left behind by a crash locks nobody out.
"""

from __future__ import annotations

import contextlib
import fcntl
import os
from pathlib import Path
from typing import TYPE_CHECKING, Self

from monitor.log.problems import LogProblem, of_system

if TYPE_CHECKING:
    from types import TracebackType

_MOST_BYTES = 400  # of the text in the side file


class WriterLock:
    """The right to write one log, held until ``release``.

    Args:
        log: the log file.
        who: one line about the holder, for whoever comes second.

    Raises:
        LogProblem: another logger holds the lock (its line is in the message), or the side file can't be made.

    """

    def __init__(self, log: Path, who: str) -> None:
        self._path = Path(f"{log}.lock")
        try:
            self._fd = self._take(log)
            os.ftruncate(self._fd, 0)
            os.pwrite(self._fd, who.encode()[:_MOST_BYTES], 0)
        except OSError as error:
            raise of_system(error, log) from error

    def _take(self, log: Path) -> int:
        """Open and lock the side file; once more where its last holder removed it in between."""
        while True:
            fd = os.open(self._path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
            try:
                fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
                if self._is_current(fd):
                    return fd
            except BlockingIOError:
                raise self._held(log, fd) from None
            except BaseException:
                os.close(fd)
                raise
            os.close(fd)

    def _is_current(self, fd: int) -> bool:
        """Say whether the locked file is still the one that the name leads to."""
        try:
            return os.path.samestat(os.fstat(fd), self._path.stat())
        except FileNotFoundError:
            return False

    def _held(self, log: Path, fd: int) -> LogProblem:
        who = os.pread(fd, _MOST_BYTES, 0).decode(errors="replace").strip() or "another legwatch"
        os.close(fd)
        advice = f"watch it with `legwatch watch {log}`, or stop that logger first"
        return LogProblem("held", f"{log} is being written by {who}: {advice}")

    def release(self) -> None:
        """Remove the side file and drop the lock."""
        with contextlib.suppress(OSError):  # left behind, it locks nobody out
            if self._is_current(self._fd):
                self._path.unlink()
        os.close(self._fd)

    def __enter__(self) -> Self:
        """Give the lock."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Release the lock."""
        self.release()
