"""Far ends that send text: a board that prints lines, and a meter of IEC 62056-21, each on a cable or a socket.

Written from the standard's notes and apart from what they test; nothing of the drivers is used here.
"""

from __future__ import annotations

import os
import select
import socket
import termios
import time
import tty
from contextlib import contextmanager
from threading import Event, Thread
from typing import TYPE_CHECKING, Self

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from pathlib import Path


@contextmanager
def printing(port: Path, lines: Callable[[int], bytes], every_s: float = 0.05) -> Iterator[None]:
    """Write ``lines(n)`` to a serial port again and again, n counting from 0."""
    line = os.open(port, os.O_RDWR | os.O_NOCTTY)
    going = Event()

    def run() -> None:
        number = 0
        while not going.wait(every_s):
            os.write(line, lines(number))
            number += 1

    thread = Thread(target=run, name="printing", daemon=True)
    thread.start()
    try:
        yield
    finally:
        going.set()
        thread.join(5.0)
        os.close(line)


@contextmanager
def printing_tcp(lines: Callable[[int], bytes], every_s: float = 0.05) -> Iterator[int]:
    """Send ``lines(n)`` to whoever connects; give the port."""
    listener = socket.create_server(("127.0.0.1", 0))
    listener.settimeout(0.1)
    going = Event()

    def run() -> None:
        peer, number = None, 0
        while not going.wait(every_s):
            try:
                peer = peer or listener.accept()[0]
                peer.sendall(lines(number))
            except TimeoutError:
                continue
            except OSError:
                peer = None
            number += 1
        if peer is not None:
            peer.close()

    thread = Thread(target=run, name="printing-tcp", daemon=True)
    thread.start()
    try:
        yield int(listener.getsockname()[1])
    finally:
        going.set()
        thread.join(5.0)
        listener.close()


class AskedMeter:
    """A meter that waits for the sign-on (modes A, B and C).

    Args:
        port: its end of the cable.
        near: the reader's end, whose speed is noted when data are sent.
        identification: what it answers to the sign-on.
        data: the data message, with STX, ETX and block check where it has them.
        waits_for: what it wants to hear before it sends the data; empty for modes A and B.

    Attributes:
        heard: everything that the reader sent.
        speeds: the reader's speed at each data message.

    """

    def __init__(
        self,
        port: Path,
        near: Path,
        identification: bytes,
        data: Callable[[int], Sequence[bytes | float]],
        waits_for: bytes,
    ) -> None:
        self._identification, self._data, self._waits_for, self._near = identification, data, waits_for, near
        self._line = os.open(port, os.O_RDWR | os.O_NOCTTY)
        tty.setraw(self._line)
        self.heard = b""
        self.speeds: list[int] = []
        self._going = True
        self._thread = Thread(target=self._run, name="asked-meter", daemon=True)

    def __enter__(self) -> Self:
        """Begin to answer."""
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        """Stop."""
        self._going = False
        self._thread.join(5.0)
        os.close(self._line)

    def _run(self) -> None:
        number = 0
        while self._going:
            if not self._hears(b"/?!\r\n", 0.2):
                continue
            os.write(self._line, self._identification)
            if self._waits_for and not self._hears(self._waits_for, 2.0):
                continue
            if not self._waits_for:
                time.sleep(0.4)
            self.speeds.append(self._speed())
            for part in self._data(number):
                if isinstance(part, bytes):
                    os.write(self._line, part)
                else:
                    time.sleep(part)
            number += 1

    def _hears(self, wanted: bytes, wait_s: float) -> bool:
        heard, until = b"", time.monotonic() + wait_s
        while wanted not in heard and (left := until - time.monotonic()) > 0:
            if select.select([self._line], [], [], left)[0]:
                came = os.read(self._line, 256)
                heard += came
                self.heard += came
        if wanted in heard:
            time.sleep(0.02)
            return True
        return False

    def _speed(self) -> int:
        time.sleep(0.25)  # the standard's reaction time: by then the reader has changed its speed
        near = os.open(self._near, os.O_RDONLY | os.O_NOCTTY | os.O_NONBLOCK)
        try:
            code = int(termios.tcgetattr(near)[5])
        finally:
            os.close(near)
        known = {termios.B300: 300, termios.B600: 600, termios.B2400: 2400, termios.B9600: 9600, termios.B19200: 19200}
        return known.get(code, code)
