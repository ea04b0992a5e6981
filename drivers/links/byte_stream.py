"""Bytes from a serial port or a TCP connection, for meters that send text instead of answering reads."""

from __future__ import annotations

import os
import select
import socket
import termios
import time
from contextlib import suppress
from typing import TYPE_CHECKING, Protocol

import serial

from drivers.clock import monotonic
from drivers.errors import LinkDown
from drivers.links.port_problem import network_problem, serial_problem

if TYPE_CHECKING:
    from drivers.bus.settings import BusSettings

_PORT_ERRORS = (OSError, termios.error, serial.SerialException)
_CHUNK = 4_096
_MOST_CHUNKS = 64
STALLED_S = 2.0
"""After so long without a read, what waits in the port is of an unknown age."""
_CONNECT_S = 2.0
_CHARACTER_BITS = 11


class ByteStream(Protocol):
    """An open way to the bytes of one bus. Used by one thread only.

    Attributes:
        changes_speed: ``speed`` has an effect.

    """

    changes_speed: bool

    def read(self, wait_s: float) -> bytes:
        """Give what came, or nothing after ``wait_s`` [s].

        Raises:
            LinkDown: the port or connection is gone.

        """

    def write(self, data: bytes) -> None:
        """Send ``data`` and wait until it is out.

        Raises:
            LinkDown: as above.

        """

    def speed(self, baud: int) -> None:
        """Send and receive at ``baud`` [bit/s] from now on."""

    def close(self) -> None:
        """Close; never raises; closing twice is no fault."""


class SerialStream:
    """Fulfils ``ByteStream`` on a serial port, opened exclusively.

    Raises:
        PortProblem: the port can't be opened now.

    """

    changes_speed = True

    def __init__(self, settings: BusSettings) -> None:
        self._where = settings.where
        self._out_s = 0.0
        pseudo = os.path.realpath(settings.port).startswith("/dev/pts/")  # has neither parity nor data bits
        self._port = serial.Serial(
            baudrate=settings.baud,
            parity=serial.PARITY_NONE if pseudo else settings.parity,
            stopbits=settings.stop_bits,
            bytesize=serial.EIGHTBITS if pseudo else settings.data_bits,
            timeout=0,
            exclusive=True,
        )
        self._port.port = settings.port
        try:
            self._port.open()
            self._port.reset_input_buffer()  # what waits there is of an unknown age
        except (*_PORT_ERRORS, ValueError) as error:
            number = getattr(error, "errno", None)
            if number is None and error.args and isinstance(error.args[0], int):
                number = error.args[0]  # termios.error
            self.close()
            raise serial_problem(settings.port, number, str(error)) from error

    def read(self, wait_s: float) -> bytes:
        """Give what came; see ``ByteStream``."""
        try:
            descriptor = self._port.fileno()
            if not select.select([descriptor], [], [], max(wait_s, 0.0))[0]:
                return b""
            came = os.read(descriptor, _CHUNK)
        except _PORT_ERRORS as error:
            raise self._down(error) from error
        if not came:
            raise self._down("it hung up")
        return came

    def write(self, data: bytes) -> None:
        """Send; see ``ByteStream``."""
        try:
            self._out_s = monotonic() + len(data) * _CHARACTER_BITS / self._port.baudrate
            self._port.write(data)
            self._port.flush()
        except _PORT_ERRORS as error:
            raise self._down(error) from error

    def speed(self, baud: int) -> None:
        """Change the speed; see ``ByteStream``."""
        if baud == self._port.baudrate:
            return
        time.sleep(max(0.0, self._out_s - monotonic()))  # an adapter may still be sending what it has taken
        try:
            self._port.baudrate = baud
        except (*_PORT_ERRORS, ValueError) as error:
            raise self._down(error) from error

    def close(self) -> None:
        """Close; see ``ByteStream``."""
        with suppress(*_PORT_ERRORS):  # it is gone already
            self._port.close()

    def _down(self, why: object) -> LinkDown:
        return LinkDown(f"{self._where} is gone: {why}")


class TcpStream:
    """Fulfils ``ByteStream`` on a TCP connection, to a serial gateway or to the meter itself.

    Raises:
        PortProblem: nothing answers at the address now.

    """

    changes_speed = False

    def __init__(self, settings: BusSettings) -> None:
        self._where = settings.where
        try:
            self._socket = socket.create_connection(
                (settings.host, settings.tcp_port), timeout=max(_CONNECT_S, settings.timeout_s)
            )
            self._socket.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
        except OSError as error:
            raise network_problem(settings.where, error.strerror or str(error)) from error

    def read(self, wait_s: float) -> bytes:
        """Give what came; see ``ByteStream``."""
        try:
            if not select.select([self._socket], [], [], max(wait_s, 0.0))[0]:
                return b""
            came = self._socket.recv(_CHUNK)
        except (OSError, ValueError) as error:
            raise self._down(error) from error
        if not came:
            raise self._down("the far end closed the connection")
        return came

    def write(self, data: bytes) -> None:
        """Send; see ``ByteStream``."""
        try:
            self._socket.sendall(data)
        except OSError as error:
            raise self._down(error) from error

    def speed(self, baud: int) -> None:
        """Do nothing: the gateway's own line has one speed."""

    def close(self) -> None:
        """Close; see ``ByteStream``."""
        with suppress(OSError):
            self._socket.close()

    def _down(self, why: object) -> LinkDown:
        return LinkDown(f"{self._where}: the connection is lost ({why})")


def empty(stream: ByteStream) -> None:
    """Throw away what waits in ``stream``.

    Raises:
        LinkDown: the port or connection is gone.

    """
    for _ in range(_MOST_CHUNKS):
        if not stream.read(0.0):
            return


def open_stream(settings: BusSettings) -> ByteStream:
    """Open the bus's port or connection.

    Raises:
        PortProblem: it can't be opened now.

    """
    return SerialStream(settings) if settings.port else TcpStream(settings)
