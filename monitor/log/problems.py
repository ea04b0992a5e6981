"""What can go wrong with a log file: one error with a kind and one clear sentence.

Errors of SQLite and of the operating system are translated here and nowhere else.
"""

from __future__ import annotations

import contextlib
import errno
import os
import sqlite3
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from pathlib import Path

Kind = Literal[
    "full",  # no space left
    "read-only",  # the file system or the file can't be written
    "vanished",  # the file is not where it was opened
    "missing",  # the file or its directory is not there
    "no-permission",
    "held",  # another logger writes this log
    "newer",  # made by a newer version
    "not-sqlite",
    "foreign",  # SQLite, but not a log
    "empty",  # no bytes: nobody has written it yet
    "corrupt",
    "order",  # readings that are older than what the log holds already
    "other",
]
_LITTLE_SPACE = 64 * 1024  # less than this free on the disk: an I/O error is taken as a full disk [bytes]
_ELSEWHERE = "name a log file in another place"
_NO_RIGHTS = "can't be opened: check the rights on it and on its directory"
_START = "start a logger with `legwatch log SHOW --log {}`"
_LOCKED = "is locked by another program that writes to it: close that program"
_BY_CODE: dict[int, tuple[Kind, str]] = {
    sqlite3.SQLITE_READONLY: ("read-only", f"can't be written: it is read-only; {_ELSEWHERE}"),
    sqlite3.SQLITE_CANTOPEN: ("no-permission", _NO_RIGHTS),
    sqlite3.SQLITE_PERM: ("no-permission", _NO_RIGHTS),
    sqlite3.SQLITE_AUTH: ("no-permission", _NO_RIGHTS),
    sqlite3.SQLITE_CORRUPT: ("corrupt", "is damaged: keep it as it is and log to a new file"),
    sqlite3.SQLITE_BUSY: ("other", _LOCKED),
    sqlite3.SQLITE_LOCKED: ("other", _LOCKED),
}


@dataclass(eq=False)
class LogProblem(Exception):
    """The log can't be opened, read or written. What was to be written is not in it, whole or in part.

    Attributes:
        kind: what is wrong, for programs.
        detail: for people: what, where, what to do.

    """

    kind: Kind
    detail: str

    def __str__(self) -> str:
        """Give the sentence for people."""
        return self.detail


def of_sqlite(error: sqlite3.Error, path: Path) -> LogProblem:
    """Translate an error of SQLite about the log at ``path``."""
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF  # the rest is SQLite's extended code
    if code == sqlite3.SQLITE_FULL or (code == sqlite3.SQLITE_IOERR and _no_space(path)):
        return full(path)
    if code == sqlite3.SQLITE_IOERR:
        return _failing_disk(error, path)
    if code == sqlite3.SQLITE_CANTOPEN and not path.exists():
        return missing(path)
    if code == sqlite3.SQLITE_NOTADB:
        return not_sqlite(path)
    kind, text = _BY_CODE.get(code, ("other", str(error)))
    return LogProblem(kind, f"{path} {text}" if code in _BY_CODE else f"{path}: {text}")


def of_system(error: OSError, path: Path) -> LogProblem:
    """Translate an error of the operating system about the file at ``path``."""
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return full(path)
    if error.errno == errno.EROFS:
        return _read_only_disk(path)
    if error.errno in (errno.EACCES, errno.EPERM):
        return LogProblem("no-permission", f"{path} can't be opened: no permission; {_ELSEWHERE}")
    if error.errno == errno.EISDIR:
        return not_sqlite(path)
    if error.errno in (errno.ENOENT, errno.ENOTDIR):
        return missing(path)
    return LogProblem("other", f"{path}: {error.strerror or error}")


def full(path: Path) -> LogProblem:
    """Say that there is no space left for the log at ``path``."""
    return LogProblem("full", f"no space left for {path}: free some on its disk; readings wait in memory meanwhile")


def missing(path: Path) -> LogProblem:
    """Say that the log at ``path`` or its directory is not there."""
    if not path.parent.is_dir():
        return LogProblem("missing", f"the directory {path.parent} does not exist: make it, or name another log file")
    return LogProblem("missing", f"{path} does not exist: correct its name, or {_START.format(path)}")


def empty(path: Path) -> LogProblem:
    """Say that nobody has written to the file at ``path`` yet."""
    return LogProblem("empty", f"{path} is empty, no logger has written to it yet: {_START.format(path)}")


def not_sqlite(path: Path) -> LogProblem:
    """Say that what is at ``path`` is no SQLite file."""
    if path.is_dir():
        return LogProblem("not-sqlite", f"{path} is a directory: name the log file in it, {path / 'NAME.sqlite'}")
    return LogProblem("not-sqlite", f"{path} is not an SQLite file: it is left as it is; name another log file")


def _read_only_disk(path: Path) -> LogProblem:
    return LogProblem("read-only", f"{path} can't be written: its file system is read-only; {_ELSEWHERE}")


def _failing_disk(error: sqlite3.Error, path: Path) -> LogProblem:
    """Say what an I/O error comes from; a file system that found a fault in itself goes on as a read-only one."""
    with contextlib.suppress(OSError):
        if os.statvfs(path.parent).f_flag & os.ST_RDONLY:
            return _read_only_disk(path)
    text = f"{path}: its disk or card answers with an error ({error})"
    return LogProblem("other", f"{text}: look at it and at its connection, or log to another disk")


def _no_space(path: Path) -> bool:
    try:
        disk = os.statvfs(path.parent)
    except OSError:
        return False
    return disk.f_bavail * disk.f_frsize < _LITTLE_SPACE
