"""A disk that loses power: what was not synced is lost in part, in any order, torn at any sector.

An SQLite file system layer (apsw's VFS) below the real writer. It passes everything through to the real file and keeps
book of what a real disk would hold for certain: what was synced. At a chosen write or sync the power goes; the image
of the disk is what was synced and a random part of what was written since, sector by sector.
"""

from __future__ import annotations

import contextlib
import sqlite3
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import apsw

if TYPE_CHECKING:
    import random
    from collections.abc import Iterable, Iterator, Sequence
    from pathlib import Path

SECTOR = 512
_NAME = "cuts"


class PowerCut(BaseException):
    """The power went. No handler of ordinary errors may catch it."""


@dataclass
class Book:
    """What the disk holds of one file.

    Attributes:
        synced: for certain.
        since: writes since the last sync: (offset, bytes), or (size, None) for a cut to that size.

    """

    synced: bytearray = field(default_factory=bytearray)
    since: list[tuple[int, bytes | None]] = field(default_factory=list)

    def sync(self) -> None:
        """Have everything on the disk."""
        for offset, data in self.since:
            _apply(self.synced, offset, data)
        self.since.clear()

    def after_a_cut(self, chance: random.Random) -> bytes:
        """Give what is found after the power went: each sector written since may be there or not, in any order."""
        image = bytearray(self.synced)
        keep = chance.choice((0.0, 0.3, 0.7, 1.0))
        pieces = [piece for offset, data in self.since for piece in _sectors(offset, data)]
        chosen = [piece for piece in pieces if chance.random() < keep]
        if chance.random() < 0.5:
            chance.shuffle(chosen)
        for offset, data in chosen:
            _apply(image, offset, data)
        return bytes(image)


def _sectors(offset: int, data: bytes | None) -> Iterator[tuple[int, bytes | None]]:
    if data is None:
        yield offset, None
        return
    at = 0
    while at < len(data):
        end = min(len(data), at + SECTOR - (offset + at) % SECTOR)
        yield offset + at, data[at:end]
        at = end


def _apply(image: bytearray, offset: int, data: bytes | None) -> None:
    if data is None:
        del image[offset:]
        return
    if len(image) < offset:
        image.extend(bytes(offset - len(image)))
    image[offset : offset + len(data)] = data


class Disk:
    """Every file of one log, and the moment at which the power goes.

    Attributes:
        books: by file name.
        left: writes and syncs until the power goes; None: never.

    """

    def __init__(self, left: int | None = None) -> None:
        self.books: dict[str, Book] = {}
        self.left = left

    def count(self) -> None:
        """Count one write or sync; at the last one the power goes."""
        if self.left is not None:
            self.left -= 1
            if self.left < 0:
                raise PowerCut


DISKS: dict[str, Disk] = {}  # by the folder that a log lies in


class _Layer(apsw.VFS):
    def __init__(self) -> None:
        super().__init__(_NAME, "")

    def xOpen(self, name: Any, flags: list[int]) -> _File:  # noqa: N802 - SQLite's names
        return _File(name, flags)

    def xDelete(self, filename: str, syncdir: bool) -> None:  # noqa: N802, FBT001 - SQLite's names
        disk = _disk_of(filename)
        if disk is not None:
            disk.count()
            disk.books.pop(filename, None)
        super().xDelete(filename, syncdir)


class _File(apsw.VFSFile):
    def __init__(self, name: Any, flags: list[int]) -> None:
        super().__init__("", name, flags)
        path = name.filename() if isinstance(name, apsw.URIFilename) else name
        self._disk = _disk_of(path) if path else None
        self._book = self._disk.books.setdefault(path, Book()) if self._disk and path else Book()

    def xWrite(self, data: bytes, offset: int) -> None:  # noqa: N802 - SQLite's names
        if self._disk is not None:
            self._disk.count()
            self._book.since.append((offset, bytes(data)))
        super().xWrite(data, offset)

    def xTruncate(self, newsize: int) -> None:  # noqa: N802 - SQLite's names
        if self._disk is not None:
            self._disk.count()
            self._book.since.append((newsize, None))
        super().xTruncate(newsize)

    def xSync(self, flags: int) -> None:  # noqa: N802 - SQLite's names
        if self._disk is not None:
            self._disk.count()
            self._book.sync()
        super().xSync(flags)


def _disk_of(path: str) -> Disk | None:
    return DISKS.get(path.rpartition("/")[0])


_LAYER = _Layer()


class Door:
    """apsw's connection with as much of sqlite3's manners as the writer uses."""

    def __init__(self, path: Path, page_cache: int = 100, layer: str = _NAME) -> None:
        flags = apsw.SQLITE_OPEN_READWRITE | apsw.SQLITE_OPEN_CREATE
        self._db = apsw.Connection(str(path), flags=flags, vfs=layer)
        self._db.pragma("cache_size", page_cache)

    def execute(self, sql: str, parameters: Sequence[Any] = ()) -> _Answer:
        """Run a statement to its end."""
        return _Answer(self._call(lambda: list(self._db.execute(sql, parameters))), self._db.last_insert_rowid())

    def executemany(self, sql: str, rows: Iterable[Sequence[Any]]) -> None:
        """Run a statement for each row."""
        self._call(lambda: list(self._db.executemany(sql, rows)))

    def rollback(self) -> None:
        """Roll back what is open."""
        if not self._db.get_autocommit():
            self.execute("ROLLBACK")

    @property
    def total_changes(self) -> int:
        """Rows changed so far."""
        return self._db.total_changes()

    def close(self) -> None:
        """Close."""
        self._db.close(True)  # noqa: FBT003 - apsw's own: close whatever stands

    def abandon(self) -> None:
        """Leave as a process leaves that lost its power."""
        self._db.config(apsw.SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1)
        with contextlib.suppress(PowerCut):
            self._db.close(True)  # noqa: FBT003 - as above

    @staticmethod
    def _call(what: Any) -> list[Any]:
        try:
            found: list[Any] = what()
        except apsw.Error as error:
            if isinstance(error.__cause__ or error.__context__, PowerCut):
                raise PowerCut from None
            told = sqlite3.OperationalError(str(error))
            told.sqlite_errorcode = getattr(error, "extendedresult", 0)
            raise told from error
        return found


@dataclass
class _Answer:
    rows: list[tuple[Any, ...]]
    lastrowid: int

    def fetchone(self) -> tuple[Any, ...] | None:
        return self.rows[0] if self.rows else None

    def fetchall(self) -> list[tuple[Any, ...]]:
        return self.rows

    def __iter__(self) -> Iterator[tuple[Any, ...]]:
        return iter(self.rows)
