"""Modbus RTU and ASCII over a serial port, through minimalmodbus on pyserial.

minimalmodbus builds the request, keeps the silent interval and checks the frame; the port below it is a
pyserial port whose ``read`` ends as soon as the reply is complete, so that an exception reply (shorter than
the awaited one) costs its own time and not a whole timeout.
"""

from __future__ import annotations

import os
import select
import struct
import termios
import time
from typing import TYPE_CHECKING

import minimalmodbus
import serial

from drivers.clock import monotonic
from drivers.errors import Corrupt, LinkDown, Refused, Silent
from drivers.links.port_problem import garbled_words, serial_problem, silent_words
from drivers.links.reply import Question, frame_silence_s, registers_in

if TYPE_CHECKING:
    from drivers.bus.settings import BusSettings
    from drivers.errors import LinkError, PortProblem
    from drivers.maps.model import Table

PORT_ERRORS = (OSError, termios.error, serial.SerialException)
"""An unplugged adapter raises ``termios.error`` too, which is no OSError."""

DRAIN_LIMIT_S = 2.0
_EXCEPTION_BIT = 0x80
_EXCEPTION_BYTES = 5  # unit, function, code, CRC
_HEAD_BYTES = 2
_SLEEP_SHARE, _WORTH_SLEEPING = 0.8, 16  # of the line's own time; bytes
_ACKNOWLEDGE = 5
_REQUEST_BYTES = {minimalmodbus.MODE_RTU: 8, minimalmodbus.MODE_ASCII: 17}
_MODES = {"modbus-rtu": minimalmodbus.MODE_RTU, "modbus-ascii": minimalmodbus.MODE_ASCII}


class _Port(serial.Serial):
    """A serial port that reads one reply at a time.

    Attributes:
        reply_s: how long to wait for the first byte of a reply [s].
        char_s: what one character takes on the line [s].
        silence_s: what lies at least between two frames [s].
        ascii: frames end with CR LF.
        heard: what the last read gave.
        heard_s: when that was, on the monotonic clock [s].

    """

    reply_s = 0.5
    char_s = 0.0
    silence_s = 0.0
    ascii = False
    heard = b""
    heard_s = 0.0

    def read(self, size: int = 1) -> bytes:
        """Read until ``size`` bytes, an exception frame or an ASCII line is complete, or time is up."""
        frame = bytearray()
        fd = self.fileno()
        deadline = monotonic() + self.reply_s + size * self.char_s
        wait = self.reply_s
        while len(frame) < size and wait > 0 and select.select([fd], [], [], wait)[0]:
            chunk = os.read(fd, size - len(frame))
            if not chunk:
                raise serial.SerialException(f"{self.port} hung up")
            frame += chunk
            if self._whole(frame):
                break
            if (rest_s := self._surely_under_way_s(frame, size)) > 0:
                time.sleep(rest_s)
            wait = deadline - monotonic()
        self.heard, self.heard_s = bytes(frame), monotonic()
        return self.heard

    def _whole(self, frame: bytearray) -> bool:
        if self.ascii:
            return frame.endswith(b"\r\n")
        return len(frame) == _EXCEPTION_BYTES and frame[1] & _EXCEPTION_BIT != 0

    def _surely_under_way_s(self, frame: bytearray, size: int) -> float:
        """Give a time within which the rest can't come [s]: waking for every few bytes costs more than all else."""
        rest = size - len(frame)
        if self.ascii or rest < _WORTH_SLEEPING or len(frame) < _HEAD_BYTES or frame[1] & _EXCEPTION_BIT:
            return 0.0
        return _SLEEP_SHARE * rest * self.char_s


def _acknowledged(heard: bytes) -> bool:
    """Spot exception 05 ("accepted, still at work"), which minimalmodbus takes for a wrong function."""
    crc = minimalmodbus._calculate_crc(heard[:3])  # noqa: SLF001 - rather the library's check than a second one
    return len(heard) == _EXCEPTION_BYTES and heard[2] == _ACKNOWLEDGE and heard[3:] == crc


def _number(error: BaseException | None) -> int | None:
    """Give the operating system's number of an error; pyserial wraps ``termios.error`` without it."""
    while error is not None:
        number = getattr(error, "errno", None) or next(iter(error.args), None)
        if isinstance(number, int):
            return number
        error = error.__context__
    return None


class SerialLink:
    """Fulfils ``drivers.links.contract.Link`` on a serial port, opened exclusively.

    Raises:
        PortProblem: the port can't be opened now.

    """

    matches_replies = False

    def __init__(self, settings: BusSettings) -> None:
        self._settings = settings
        self._mode = _MODES[settings.protocol]
        self._port: _Port | None = None
        self.reopen()

    def read(self, unit: int, table: Table, address: int, count: int) -> tuple[int, ...]:
        """Read registers; see the contract."""
        question = Question(unit, table, address, count)
        port = self._open_port()
        port.heard = b""
        self._instrument.address = unit
        try:
            payload = self._instrument._perform_command(  # noqa: SLF001 - read_registers costs a sixth of a poll's time
                question.function, struct.pack(">HH", address, count)
            )
        except minimalmodbus.NoResponseError:
            raise Silent(silent_words(unit, self._settings)) from None
        except minimalmodbus.SlaveReportedException:
            raise self._refusal(question, port.heard) from None
        except (minimalmodbus.ModbusException, ValueError, TypeError):
            raise self._no_reply(question, port.heard) from None
        except PORT_ERRORS as error:
            raise self._down(error) from error
        sender, function, _ = self._head(port.heard)
        return question.answered_by(sender, function, registers_in(payload, sender))

    def pending(self) -> int:
        """Count bytes that came unasked; see the contract."""
        port = self._open_port()
        if (left_s := port.heard_s + port.silence_s - monotonic()) > 0:
            time.sleep(left_s)  # minimalmodbus would sleep it later, and throw away unseen what comes meanwhile
        try:
            return port.in_waiting
        except PORT_ERRORS as error:
            raise self._down(error) from error

    def drain(self, quiet_s: float) -> int:
        """Throw away until quiet; see the contract."""
        fd = self._open_port().fileno()
        thrown = 0
        until = monotonic() + max(DRAIN_LIMIT_S, quiet_s)
        try:
            while select.select([fd], [], [], quiet_s)[0] and monotonic() < until:
                chunk = os.read(fd, 4096)
                if not chunk:
                    raise LinkDown(f"{self._settings.where} hung up")
                thrown += len(chunk)
        except PORT_ERRORS as error:
            raise self._down(error) from error
        return thrown

    def close(self) -> None:
        """Close; see the contract."""
        port, self._port = self._port, None
        if port is not None:
            try:
                port.close()
            except PORT_ERRORS:
                return  # it is gone already

    def reopen(self) -> None:
        """Close, then open again; see the contract."""
        self.close()
        settings = self._settings
        pseudo = os.path.realpath(settings.port).startswith("/dev/pts/")  # has neither parity nor data bits
        port = _Port(
            baudrate=settings.baud,
            parity=serial.PARITY_NONE if pseudo else settings.parity,
            stopbits=settings.stop_bits,
            bytesize=serial.EIGHTBITS if pseudo else settings.data_bits,
            timeout=settings.timeout_s,
            write_timeout=max(1.0, settings.timeout_s),
            exclusive=True,
        )
        port.port = settings.port
        char_bits = 1 + settings.data_bits + (settings.parity != "N") + settings.stop_bits
        port.char_s = char_bits / settings.baud
        port.reply_s = settings.timeout_s + _REQUEST_BYTES[self._mode] * port.char_s
        port.silence_s = frame_silence_s(settings.baud)
        port.ascii = self._mode == minimalmodbus.MODE_ASCII
        try:
            port.open()
        except (*PORT_ERRORS, ValueError) as error:
            raise self._problem(error) from error
        self._port = port
        self._instrument = minimalmodbus.Instrument(port, 1, self._mode)

    def _open_port(self) -> _Port:
        if self._port is None:
            raise LinkDown(f"{self._settings.where} is closed")
        return self._port

    def _head(self, heard: bytes) -> tuple[int, int, int]:
        """Give unit, function and the byte after them.

        Raises:
            ValueError: fewer bytes came than a reply has, or no hexadecimal digits where ASCII has them.

        """
        if self._mode == minimalmodbus.MODE_ASCII:
            heard = bytes.fromhex(heard[1:-2].decode("ascii")) + b"\0"  # its check is one byte shorter
        if len(heard) < _EXCEPTION_BYTES:
            raise ValueError
        return heard[0], heard[1], heard[2]

    def _refusal(self, question: Question, heard: bytes) -> LinkError:
        """Say what an exception frame of the right unit means."""
        sender, function, code = self._head(heard)
        if function != question.function | _EXCEPTION_BIT:
            return Corrupt(f"unit {sender} refused function {function & 0x7F}, which was not asked", sender)
        return Refused(f"unit {sender} refused: exception {code:02X}", code)

    def _no_reply(self, question: Question, heard: bytes) -> LinkError:
        """Say what bytes are that minimalmodbus takes for no reply."""
        unit = question.unit
        if self._mode == minimalmodbus.MODE_RTU and heard[:1] == unit.to_bytes() and _acknowledged(heard):
            return self._refusal(question, heard)
        try:
            sender, _, _ = self._head(heard)
        except ValueError:
            return Corrupt(garbled_words(unit, len(heard)))
        if heard.startswith(unit.to_bytes() + question.function.to_bytes() + question.address.to_bytes(2)):
            return Corrupt(f"{self._settings.where}: our own request came back; switch the adapter's echo off", sender)
        return Corrupt(garbled_words(unit, len(heard), sender), sender)

    def _down(self, error: Exception) -> LinkDown:
        return LinkDown(f"{self._settings.where} is gone: {error}")

    def _problem(self, error: Exception) -> PortProblem:
        return serial_problem(self._settings.port, _number(error), str(error))
