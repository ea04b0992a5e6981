"""A disk that is slow, or that refuses to write, below the real writer: an SQLite file system layer (apsw's VFS)."""

from __future__ import annotations

import contextlib
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import apsw
import pytest

from monitor.log import schema
from tests.support.cuts import Door

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

_NAME = "baddisk"


@dataclass
class BadDisk:
    """What the disk does; may be changed at any time.

    Attributes:
        sync_s: how long it takes to say that something is on it [s].
        broken: every write fails.

    """

    sync_s: float = 0.0
    broken: bool = False


_DISK = BadDisk()


class _Layer(apsw.VFS):
    def __init__(self) -> None:
        super().__init__(_NAME, "")

    def xOpen(self, name: Any, flags: list[int]) -> _File:  # noqa: N802 - SQLite's names
        return _File("", name, flags)


class _File(apsw.VFSFile):
    def xWrite(self, data: bytes, offset: int) -> None:  # noqa: N802 - SQLite's names
        if _DISK.broken:
            raise apsw.IOError("no answer from the disk")
        super().xWrite(data, offset)

    def xSync(self, flags: int) -> None:  # noqa: N802 - SQLite's names
        end_s = time.monotonic() + _DISK.sync_s
        while _DISK.sync_s and time.monotonic() < end_s:
            time.sleep(0.02)
        super().xSync(flags)


_LAYER = _Layer()


@contextlib.contextmanager
def bad_disk() -> Iterator[BadDisk]:
    """Have every log that is opened to be written meanwhile lie on this disk, which is a good one at first."""

    def connect(path: Path) -> Door:
        schema.connect(path).close()  # the schema, made through sqlite3
        door = Door(path, 2_000, _NAME)
        schema._set_up(door, path)  # type: ignore[arg-type]
        return door

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("monitor.log.writer.connect", connect)
        try:
            yield _DISK
        finally:
            _DISK.sync_s, _DISK.broken = 0.0, False
