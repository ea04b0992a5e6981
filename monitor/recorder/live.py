"""The side file ``LOG.live``: what the running logger knows and no reading tells, for screens of other processes.

It is written in place once a cycle, over bytes that were put down when it was made: so a full disk doesn't stop it
(where a file system writes in place, that is). It is never synchronised: it says what is now, and the log alone keeps.
Nothing depends on it; a logger that can't make it goes on without, and screens then say what they don't know.

Layout: ``_HEAD`` (magic with the layout's version, a sequence number, length and CRC-32 of the text), then the text:
JSON in UTF-8. The checksum covers sequence number and text, so that one who reads while it is written notices.
"""

from __future__ import annotations

import contextlib
import json
import os
import struct
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from monitor.engine.tallied import Tallied, as_data, buses_data, from_data

if TYPE_CHECKING:
    from monitor.show.model import Show

_MAGIC = b"legwatch live 1\n"
_HEAD = struct.Struct("<16sQII")
_COUNTED = struct.Struct("<Q")
_TRIES = 3
_PROBLEM = 500  # characters


def live_path(log: Path) -> Path:
    """Give the side file's place."""
    return Path(f"{log}.live")


@dataclass(frozen=True, slots=True)
class Live:
    """What the file says.

    Attributes:
        since_ms: when its logger opened the log [ms, the log's clock]; with ``pid`` it tells loggers apart.
        pid: its process id.
        alive_ms: when it was written [ms, the log's clock].
        not_kept: readings that could not be written to the log so far.
        problem: why not, or empty.
        tallied: the figures.

    """

    since_ms: int
    pid: int
    alive_ms: int
    not_kept: int
    problem: str
    tallied: Tallied


class LiveWriter:
    """Writes the file of one log; where that can't be done it does nothing.

    Args:
        log: the log file.
        show: says how large the file must be.
        since_ms: when the logger opened the log [ms, the log's clock].

    """

    def __init__(self, log: Path, show: Show, since_ms: int) -> None:
        self._path = live_path(log)
        self._since_ms, self._pid = since_ms, os.getpid()
        self._size = 16_384 + 160 * len(show.circuits) + 256 * len(show.meters) + 1024 * len(show.buses)
        self._sequence = 0
        self._buses = "{}"
        self._fd: int | None = None
        with contextlib.suppress(OSError):
            self._fd = self._made()

    def _made(self) -> int:
        """Make the file under another name, fill it, then give it its name: an older one may be somebody else's."""
        draft = self._path.with_name(f"{self._path.name}.{self._pid}")
        fd = os.open(draft, os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_CLOEXEC | os.O_NOFOLLOW, 0o644)
        try:
            os.write(fd, bytes(self._size))
            os.fsync(fd)  # once: the disk has given the room before anybody counts on it
            draft.rename(self._path)
        except OSError:
            os.close(fd)
            with contextlib.suppress(OSError):
                draft.unlink()
            raise
        return fd

    def write(self, now_ms: int, not_kept: int, problem: str, tallied: Tallied, *, counted: bool) -> None:
        """Say what is now; ``counted`` where the buses are others than the last time."""
        if self._fd is None:
            return
        if counted:
            self._buses = _json(buses_data(tallied.buses))
        rest = _json(
            {
                "since": self._since_ms,
                "pid": self._pid,
                "alive": now_ms,
                "not_kept": not_kept,
                "problem": problem[:_PROBLEM],
                **as_data(tallied),
            }
        )
        text = f'{rest[:-1]},"buses":{self._buses}}}'.encode()
        self._sequence += 1
        head = _HEAD.pack(_MAGIC, self._sequence, len(text), _sum(self._sequence, text))
        if len(head) + len(text) <= self._size:
            with contextlib.suppress(OSError):
                os.pwrite(self._fd, head + text, 0)

    def close(self) -> None:
        """Take the file away: the logger has ended in order."""
        if self._fd is None:
            return
        with contextlib.suppress(OSError):
            if os.path.samestat(os.fstat(self._fd), self._path.stat()):
                self._path.unlink()
        os.close(self._fd)
        self._fd = None


def read_live(log: Path) -> Live | None:
    """Read the side file of a log; None where there is none, or nothing whole in it of this version."""
    for _ in range(_TRIES):
        try:
            raw = live_path(log).read_bytes()
        except OSError:
            return None
        text = _whole(raw)
        if text is not None:
            return _live(text)
    return None


def _whole(raw: bytes) -> bytes | None:
    """Give the text where the checksum says that it is all there."""
    if len(raw) < _HEAD.size:
        return None
    magic, sequence, length, checksum = _HEAD.unpack_from(raw)
    text = raw[_HEAD.size : _HEAD.size + length]
    return text if magic == _MAGIC and len(text) == length and _sum(sequence, text) == checksum else None


def _live(text: bytes) -> Live | None:
    try:
        data = json.loads(text)
        numbers = (data["since"], data["pid"], data["alive"], data["not_kept"])
        if not all(isinstance(number, int) for number in numbers):
            return None
        return Live(*numbers, str(data["problem"]), from_data(data))
    except (ValueError, KeyError, TypeError, RecursionError):
        return None


def _sum(sequence: int, text: bytes) -> int:
    return zlib.crc32(text, zlib.crc32(_COUNTED.pack(sequence)))


def _json(data: Any) -> str:
    return json.dumps(data, ensure_ascii=False, separators=(",", ":"), check_circular=False)
