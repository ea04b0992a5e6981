"""Whether a file is a log that this version can use, and making it one."""

from __future__ import annotations

import sqlite3
from typing import TYPE_CHECKING

from monitor.log.problems import LogProblem, missing, not_sqlite, of_system

if TYPE_CHECKING:
    from pathlib import Path

APPLICATION_ID = 0x6C677774  # "lgwt"; SQLite keeps it in the file's header
SCHEMA_VERSION = 2
FOUND_SINCE = 2  # steps and incidents
PAGE_BYTES = 1024  # a 48-row commit writes 14 KiB; with 4096 it writes 26 (tests/bench/log_size.py)
_BUSY_S = 2.0  # how long another program's write is waited for
_CHECKPOINT_PAGES = 4_000  # 4 MB, about 5 minutes at 48 readings a second
_WAL_BYTES = 16_000_000  # after a long reader let the WAL grow, it is cut back to this
_MAGIC = b"SQLite format 3\x00"
_HEADER_BYTES = 100  # https://www.sqlite.org/fileformat2.html#the_database_header
_USER_VERSION_AT, _APPLICATION_ID_AT = 60, 68  # big-endian, 4 bytes each, same source


def refuse_foreign(path: Path) -> None:
    """Look at the first bytes of an existing file, without SQLite, so that a file of another kind stays untouched.

    Raises:
        LogProblem: it is no SQLite file, one of another program, a log of a newer version, or can't be read; or its
            directory does not exist.

    """
    try:
        with path.open("rb") as file:
            header = file.read(_HEADER_BYTES)
    except FileNotFoundError:
        if path.parent.is_dir():
            return
        raise missing(path) from None
    except OSError as error:
        raise of_system(error, path) from error
    if not header and path.is_file():
        return
    if len(header) < _HEADER_BYTES or not header.startswith(_MAGIC):
        raise not_sqlite(path)
    _refuse(
        path,
        int.from_bytes(header[_APPLICATION_ID_AT : _APPLICATION_ID_AT + 4], "big"),
        int.from_bytes(header[_USER_VERSION_AT : _USER_VERSION_AT + 4], "big"),
    )


def connect(path: Path) -> sqlite3.Connection:
    """Open the log for writing; a new one is made, an older one is brought forward.

    Transactions are begun by hand. The logger opens its log in one thread and writes it in another.

    Raises:
        LogProblem: the file belongs to another program or to a newer version, or can't lie where it lies.
        sqlite3.Error: as SQLite finds.

    """
    db = sqlite3.connect(path, timeout=_BUSY_S, isolation_level=None, check_same_thread=False)
    try:
        _prepare(db, path)
        _set_up(db, path)
    except BaseException:
        db.close()
        raise
    return db


def _prepare(db: sqlite3.Connection, path: Path) -> None:
    """Make a log of a new file, bring an older one forward, leave one of this version alone."""
    if db.execute("SELECT count(*) FROM sqlite_master").fetchone() == (0,):
        db.execute(f"PRAGMA page_size = {PAGE_BYTES}")
    elif check(db, path) == SCHEMA_VERSION:
        return
    from monitor.log.migrations import apply  # noqa: PLC0415 - loads sqlite-utils: see there what that costs

    apply(db, APPLICATION_ID, SCHEMA_VERSION)


def _set_up(db: sqlite3.Connection, path: Path) -> None:
    """Set what holds for a connection and not for the file."""
    (mode,) = db.execute("PRAGMA journal_mode = WAL").fetchone()
    if mode != "wal":
        raise LogProblem("other", f"{path}: its file system can't hold a log (SQLite's WAL does not work there)")
    db.execute("PRAGMA synchronous = FULL")  # a power cut costs at most the cycle in hand
    db.execute("PRAGMA foreign_keys = ON")
    db.execute(f"PRAGMA wal_autocheckpoint = {_CHECKPOINT_PAGES}")
    db.execute(f"PRAGMA journal_size_limit = {_WAL_BYTES}")


def check(connection: sqlite3.Connection, path: Path) -> int:
    """Give the version of an open log.

    Raises:
        LogProblem: the file belongs to another program or to a newer version.
        sqlite3.Error: as SQLite finds.

    """
    (application_id,) = connection.execute("PRAGMA application_id").fetchone()
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    _refuse(path, application_id or -1, version)
    return int(version)


def _refuse(path: Path, application_id: int, version: int) -> None:
    """Refuse what is not ours; an id of 0 is let through: a new file, or one that must be looked into."""
    if application_id not in (0, APPLICATION_ID):
        raise LogProblem("foreign", f"{path} belongs to another program: it is left as it is; name another log file")
    if application_id and version > SCHEMA_VERSION:
        text = f"{path} was made by a newer legwatch (log version {version}, this one knows {SCHEMA_VERSION})"
        raise LogProblem("newer", f"{text}: install the newer legwatch, or log to a new file")
