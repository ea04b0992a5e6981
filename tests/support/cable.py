"""A serial cable made of two pseudo-terminals and a thread between them, at the pace of a real line.

The driver opens ``near``, the meters' side opens ``far``; both are symbolic links, so that the cable can be
pulled out and put back under the same name or another.
"""

from __future__ import annotations

import contextlib
import heapq
import os
import select
import time
import tty
from dataclasses import dataclass, field
from queue import SimpleQueue
from threading import Event, Thread
from typing import TYPE_CHECKING, Self

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

BITS_PER_CHARACTER = 11
_CHARACTERS_A_PIECE = 8


@dataclass
class _Lane:
    """One direction: what is under way, by when it arrives."""

    character_s: float
    free_s: float = 0.0
    under_way: list[tuple[float, int, bytes]] = field(default_factory=list)
    count: int = 0

    def carry(self, data: bytes, delay_s: float) -> None:
        at = max(time.monotonic() + delay_s, self.free_s)
        step = _CHARACTERS_A_PIECE if self.character_s else max(len(data), 1)
        for begin in range(0, len(data), step):
            piece = data[begin : begin + step]
            at += len(piece) * self.character_s
            heapq.heappush(self.under_way, (at, self.count, piece))
            self.count += 1
        self.free_s = at

    def arrived(self, now_s: float) -> bytes:
        out = b""
        while self.under_way and self.under_way[0][0] <= now_s:
            out += heapq.heappop(self.under_way)[2]
        return out


class Cable:
    """Joins ``near`` and ``far`` until closed; a context manager.

    Attributes:
        near: name of the driver's end.
        far: name of the meters' end.
        edit: what the line does to bytes on their way to the driver.
        cut: nothing gets through, either way.
        delay_s: how much later than the pace everything reaches the driver [s].

    """

    def __init__(self, directory: Path, baud: int | None = None) -> None:
        self.near = directory / "near"
        self.far = directory / "far"
        self.edit: Callable[[bytes], bytes] = bytes
        self.cut = False
        self.delay_s = 0.0
        character_s = BITS_PER_CHARACTER / baud if baud else 0.0
        self._to_far = _Lane(character_s)
        self._to_near = _Lane(character_s)
        self._near_ends: tuple[int, int] | None = None
        self._orders: SimpleQueue[tuple[Callable[[], None], Event]] = SimpleQueue()
        self._wake_read, self._wake_write = os.pipe()
        self._far_ends = _terminal(self.far)
        self._plug_in(self.near)
        self._going = True
        self._thread = Thread(target=self._pump, name="cable", daemon=True)
        self._thread.start()

    def __enter__(self) -> Self:
        """Give the cable."""
        return self

    def __exit__(self, *_: object) -> None:
        """Take it away."""
        self.close()

    def inject(self, data: bytes) -> None:
        """Let bytes arrive at the driver that nobody sent."""
        self._order(lambda: self._to_near.carry(data, 0.0))

    def unplug(self) -> None:
        """Pull the driver's end out: its name goes, and who has it open sees it hang up."""
        self._order(self._pull_out)

    def replug(self, name: Path | None = None) -> None:
        """Put the driver's end back, under the same name or another."""
        self._order(lambda: self._plug_in(name or self.near))

    def close(self) -> None:
        """End the thread and take both names away."""
        if not self._going:
            return
        self._order(self._finish)
        self._thread.join(5.0)
        for descriptor in (*self._far_ends, self._wake_read, self._wake_write):
            os.close(descriptor)
        self.far.unlink(missing_ok=True)

    def _order(self, what: Callable[[], None]) -> None:
        done = Event()
        self._orders.put((what, done))
        os.write(self._wake_write, b"x")
        assert done.wait(5.0), "the cable's thread is gone"

    def _finish(self) -> None:
        self._going = False
        self._pull_out()

    def _pull_out(self) -> None:
        ends, self._near_ends = self._near_ends, None
        self.near.unlink(missing_ok=True)
        for descriptor in ends or ():
            os.close(descriptor)

    def _plug_in(self, name: Path) -> None:
        self.near = name
        self._to_near.under_way.clear()
        self._near_ends = _terminal(name)

    def _pump(self) -> None:
        while self._going:
            masters = [self._far_ends[0], *(self._near_ends or ())[:1]]
            ready, _, _ = select.select([*masters, self._wake_read], [], [], self._until_next())
            if self._wake_read in ready:
                os.read(self._wake_read, 1)
                what, done = self._orders.get()
                what()
                done.set()
                continue
            if self._far_ends[0] in ready:
                came = self.edit(os.read(self._far_ends[0], 4096))
                if not self.cut:
                    self._to_near.carry(came, self.delay_s)
            if self._near_ends is not None and self._near_ends[0] in ready:
                came = os.read(self._near_ends[0], 4096)
                if not self.cut:
                    self._to_far.carry(came, 0.0)
            self._put_out()

    def _until_next(self) -> float | None:
        dues = [lane.under_way[0][0] for lane in (self._to_far, self._to_near) if lane.under_way]
        return max(0.0, min(dues) - time.monotonic()) if dues else None

    def _put_out(self) -> None:
        now_s = time.monotonic()
        for lane, ends in ((self._to_far, self._far_ends), (self._to_near, self._near_ends)):
            data = lane.arrived(now_s)
            if data and ends is not None:
                with contextlib.suppress(BlockingIOError):  # nobody reads: a real line loses bytes too
                    os.write(ends[0], data)


def _terminal(name: Path) -> tuple[int, int]:
    """Make a raw pseudo-terminal under ``name``; give its two ends, both held open."""
    master, held = os.openpty()
    tty.setraw(held)
    os.set_blocking(master, False)
    name.unlink(missing_ok=True)
    name.symlink_to(os.ttyname(held))
    return master, held
