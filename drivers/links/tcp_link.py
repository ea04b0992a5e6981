"""Modbus TCP, and RTU frames over TCP, through pymodbus's synchronous client.

The one file that imports pymodbus: its interface changes between minor versions, so its version is pinned. It
takes a reply of the wrong function or with too few registers for a success, and gives exception replies back
as results; all that is checked here and in ``reply``.
"""

from __future__ import annotations

import logging
import select
import socket
import struct
import time
from typing import TYPE_CHECKING

from pymodbus import FramerType
from pymodbus.client import ModbusTcpClient
from pymodbus.exceptions import ConnectionException, ModbusException
from pymodbus.pdu import ExceptionResponse

from drivers.clock import monotonic
from drivers.errors import Corrupt, LinkDown, Refused, Silent
from drivers.links.port_problem import garbled_words, network_problem, silent_words
from drivers.links.reply import Question, frame_silence_s
from drivers.maps.model import Table

if TYPE_CHECKING:
    from pymodbus.pdu import ModbusPDU

    from drivers.bus.settings import BusSettings
    from drivers.errors import LinkError

logging.getLogger("pymodbus").addHandler(logging.NullHandler())  # else its errors go to the screen

DRAIN_LIMIT_S = 2.0
DEAD_AFTER = 3
"""So many requests in a row without a reply, and the connection is taken for half-open and made anew."""
_EXCEPTION_BIT = 0x80
_SHORTEST_RTU = 5
_RTU_FRAME = 5  # unit, function, byte count, CRC
_MBAP_HEAD = 6  # transaction, protocol, length
_PEEK_BYTES = 4096
_CONNECT_S = 1.0
_NONSENSE = (ModbusException, struct.error, IndexError, ValueError, KeyError)
"""What pymodbus makes of bytes that are no frame."""


def _whole_frames(heard: bytes) -> bool:
    """Say whether ``heard`` is Modbus TCP frames from end to end, so that none was filled up with the next one."""
    at = 0
    while at < len(heard):
        if heard[at + 2 : at + 4] != b"\0\0":
            return False
        at += _MBAP_HEAD + int.from_bytes(heard[at + 4 : at + 6], "big")
    return at == len(heard)


class _Client(ModbusTcpClient):
    """pymodbus's client, keeping what came in answer to a request.

    Attributes:
        heard: every byte since it was last emptied.
        heard_s: when the last of them came, on the monotonic clock [s].

    """

    heard = b""
    heard_s = 0.0

    def recv(self, size: int | None) -> bytes:
        """Receive as pymodbus does."""
        came = super().recv(size)
        self.heard += came
        self.heard_s = monotonic()
        return came


class TcpLink:
    """Fulfils ``drivers.links.contract.Link`` on a TCP connection.

    Raises:
        PortProblem: nothing answers at the address now.

    """

    def __init__(self, settings: BusSettings) -> None:
        self._settings = settings
        self.matches_replies = settings.protocol == "modbus-tcp"
        self._silence_s = frame_silence_s(settings.baud)
        self._client: _Client | None = None
        self._unanswered = 0
        self.reopen()

    def read(self, unit: int, table: Table, address: int, count: int) -> tuple[int, ...]:
        """Read registers; see the contract."""
        question = Question(unit, table, address, count)
        client, _ = self._opened()
        ask = client.read_holding_registers if table is Table.HOLDING else client.read_input_registers
        client.heard = b""
        try:
            reply = ask(address, count=count, device_id=unit)
        except (OSError, ConnectionException) as error:
            raise self._down(error) from error
        except _NONSENSE:
            raise self._no_reply(question, client.heard) from None
        self._unanswered = 0
        return self._checked(question, reply, client.heard)

    def pending(self) -> int:
        """Count bytes that came unasked; see the contract."""
        client, connection = self._opened()
        if not self.matches_replies and (left_s := client.heard_s + self._silence_s - monotonic()) > 0:
            time.sleep(left_s)  # the line behind the gateway needs it anyway
        try:
            waiting = connection.recv(_PEEK_BYTES, socket.MSG_PEEK)
        except BlockingIOError:
            return 0
        except OSError as error:
            raise self._down(error) from error
        if not waiting:
            raise self._down("the far end closed the connection")
        return len(waiting)

    def drain(self, quiet_s: float) -> int:
        """Throw away until quiet; see the contract."""
        _, connection = self._opened()
        thrown = 0
        until = monotonic() + max(DRAIN_LIMIT_S, quiet_s)
        try:
            while select.select([connection], [], [], quiet_s)[0] and monotonic() < until:
                chunk = connection.recv(_PEEK_BYTES)
                if not chunk:
                    raise self._down("the far end closed the connection")
                thrown += len(chunk)
        except OSError as error:
            raise self._down(error) from error
        return thrown

    def close(self) -> None:
        """Close; see the contract."""
        client, self._client = self._client, None
        if client is not None:
            client.close()  # type: ignore[no-untyped-call]  # pymodbus leaves it bare

    def reopen(self) -> None:
        """Close, then connect again; see the contract."""
        self.close()
        settings = self._settings
        try:
            connection = socket.create_connection(
                (settings.host, settings.tcp_port), timeout=max(_CONNECT_S, settings.timeout_s)
            )
            connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            connection.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
            connection.settimeout(0)  # as pymodbus does; we wait in select
        except OSError as error:
            raise network_problem(settings.where, error.strerror or str(error)) from error
        client = _Client(
            settings.host,
            port=settings.tcp_port,
            framer=FramerType.SOCKET if self.matches_replies else FramerType.RTU,
            timeout=settings.timeout_s,
            retries=0,
        )
        client.socket = connection  # its own connect() tells no reason when it fails
        self._client = client
        self._unanswered = 0

    def _opened(self) -> tuple[_Client, socket.socket]:
        client = self._client
        if client is None or client.socket is None:
            raise LinkDown(f"{self._settings.where} is not connected")
        return client, client.socket

    def _checked(self, question: Question, reply: ModbusPDU, heard: bytes) -> tuple[int, ...]:
        """Give the registers of a reply that answers ``question``, or say what it is."""
        if isinstance(reply, ExceptionResponse):
            if reply.function_code != question.function | _EXCEPTION_BIT:
                refused = reply.function_code & ~_EXCEPTION_BIT
                raise Corrupt(f"unit {reply.dev_id} refused function {refused}, which was not asked", reply.dev_id)
            raise Refused(f"unit {reply.dev_id} refused: exception {reply.exception_code:02X}", reply.exception_code)
        registers = question.answered_by(reply.dev_id, reply.function_code, reply.registers)
        if not self._framed(question, reply.transaction_id, heard):
            sender = question.unit if self.matches_replies else heard[0]
            raise Corrupt(f"unit {question.unit}: more came than the reply that was asked for", sender)
        return registers

    def _framed(self, question: Question, transaction: int, heard: bytes) -> bool:
        """Say whether the reply's length agrees with its byte count, and no other frame came with it."""
        data_bytes = 2 * question.count
        if self.matches_replies:
            head = struct.pack(">HHHB", transaction, 0, 3 + data_bytes, question.unit)
            return head in heard and _whole_frames(heard)
        return len(heard) - _RTU_FRAME - data_bytes < _SHORTEST_RTU

    def _no_reply(self, question: Question, heard: bytes) -> LinkError:
        """Say what it means that no matching reply came in time."""
        self._unanswered += 1
        unit = question.unit
        if self._unanswered >= DEAD_AFTER:
            return self._down(f"no reply to {self._unanswered} requests in a row")
        if not heard:
            return Silent(silent_words(unit, self._settings))
        sender = heard[0] if not self.matches_replies and len(heard) >= _SHORTEST_RTU else None
        return Corrupt(garbled_words(unit, len(heard), sender), sender)

    def _down(self, why: object) -> LinkDown:
        return LinkDown(f"{self._settings.where}: the connection is lost ({why})")
