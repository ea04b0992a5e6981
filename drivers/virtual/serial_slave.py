"""A virtual Modbus RTU meter (or several on one bus) on a real pseudo-terminal, at the pace of a real line."""

from __future__ import annotations

import contextlib
import os
import select
import tty
from threading import Thread
from typing import TYPE_CHECKING

from drivers.clock import monotonic
from drivers.virtual import frames

if TYPE_CHECKING:
    from pathlib import Path

    from drivers.virtual.frames import Image

BITS_PER_CHARACTER = 11  # MODBUS over Serial Line V1.02: start, eight data, parity (or a second stop), stop
_LEAST_GAP_S = 0.005  # between processes a terminal can't be timed as finely as the standard's 3.5 characters
_CHARACTERS_A_WRITE = 16
_STOP_WAIT_S = 2.0


class SerialSlave:
    """Answers Modbus RTU on a pseudo-terminal, in a thread of its own.

    Args:
        image: gives the registers.
        link: where to put a symbolic link to the terminal, so that its name is known beforehand; replaced if there.
        baud: pace of the line [bit/s]; None answers as fast as it can.

    """

    def __init__(self, image: Image, link: Path, baud: int | None = None) -> None:
        self._image = image
        self._link = link
        self._character_s = BITS_PER_CHARACTER / baud if baud else 0.0
        self._thread: Thread | None = None

    def start(self) -> None:
        """Make the terminal and its link, and answer from now on.

        Raises:
            OSError: no pseudo-terminal, or no link at that place.

        """
        self._master, self._held = os.openpty()
        self._stop_read, self._stop_write = os.pipe()
        # Holding the terminal's own end open keeps reads on the other from failing while no client is there.
        tty.setraw(self._held)
        os.set_blocking(self._master, False)
        self._link.unlink(missing_ok=True)
        self._link.symlink_to(os.ttyname(self._held))
        self._thread = Thread(target=self._serve, name=f"serial-slave-{self._link.name}", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Stop answering and take terminal and link away; stopping twice is no fault."""
        if self._thread is None:
            return
        os.write(self._stop_write, b"x")
        self._thread.join(_STOP_WAIT_S)
        self._thread = None
        self._link.unlink(missing_ok=True)
        for descriptor in (self._master, self._held, self._stop_read, self._stop_write):
            os.close(descriptor)

    def _serve(self) -> None:
        with contextlib.suppress(_Stopped):
            pending = b""
            while True:
                came = self._receive(max(3.5 * self._character_s, _LEAST_GAP_S) if pending else None)
                pending += came
                begun = len(pending) < frames.READ_REQUEST_BYTES or not frames.rtu_whole(pending)
                if came and begun and len(pending) <= frames.MAX_RTU_BYTES:
                    continue
                if frames.rtu_whole(pending):
                    self._answer(pending)
                pending = b""

    def _receive(self, gap_s: float | None) -> bytes:
        """Give what came, or nothing after ``gap_s`` [s] of silence; None waits for ever."""
        ready, _, _ = select.select([self._master, self._stop_read], [], [], gap_s)
        if self._stop_read in ready:
            raise _Stopped
        return os.read(self._master, 512) if ready else b""

    def _answer(self, request: bytes) -> None:
        """Reply when a line of that pace would have carried the request, with the standard's silence between."""
        due = monotonic() + (len(request) + 3.5) * self._character_s
        self._wait_until(due)
        reply = frames.rtu_reply(request, self._image) or b""
        for begin in range(0, len(reply), _CHARACTERS_A_WRITE):
            part = reply[begin : begin + _CHARACTERS_A_WRITE]
            due += len(part) * self._character_s
            self._wait_until(due)
            with contextlib.suppress(BlockingIOError):  # nobody has read for thousands of characters: they are lost
                os.write(self._master, part)

    def _wait_until(self, due: float) -> None:
        if (left := due - monotonic()) > 0 and select.select([self._stop_read], [], [], left)[0]:
            raise _Stopped


class _Stopped(Exception):
    """The slave is asked to stop."""
