"""A far end of the tests' own: answers Modbus by a script, rightly or wrongly, and remembers every number it gave.

Every request gets values of its own (100 V at first, an eighth of a volt more each time, and the register's
address in the small digits), so that a reply taken for the answer to another request shows.
"""

from __future__ import annotations

import bisect
import heapq
import os
import select
import socket
import struct
import time
from threading import Thread
from typing import TYPE_CHECKING, Self

from drivers.maps.model import MeterMap, Table, Value
from drivers.reading import Quality
from tests.support.wire import Asked, Framing, take_request

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from drivers.reading import MeterPoll

    Script = Callable[[Asked], Sequence[bytes | float]]
    """What to do on a request: bytes are sent, a number is waited [s]. A meter does one thing after another."""

_MOST_NUMBERS = 7_000  # keeps every value within a plausible voltage and exact in a float32


def volts(number: int, address: int) -> float:
    """Give what request ``number`` gets for the value at ``address`` (below 128) [V]."""
    return 100.0 + (number % _MOST_NUMBERS) / 8 + address / 1024


def words(number: int, address: int, count: int) -> list[int]:
    """Give the registers for request ``number``: a float32 at every even address."""
    found: list[int] = []
    for even in range(address & ~1, address + count, 2):
        found += struct.unpack(">HH", struct.pack(">f", volts(number, even)))
    skip = address & 1
    return found[skip : skip + count]


def right(asked: Asked) -> bytes:
    """Give the right reply."""
    return asked.frame(asked.registers(words(asked.number, asked.address, asked.count)))


def answer(asked: Asked) -> Sequence[bytes | float]:
    """Answer rightly, at once."""
    return [right(asked)]


def meter_map(*blocks: tuple[int, int], table: Table = Table.INPUT) -> MeterMap:
    """Make a map whose reads are just these blocks of (first address, count), all even: a channel a block."""
    values = tuple(
        Value(f"ch{first}", quantity, table, first + 2 * place, "float32")
        for first, count in blocks
        for place, quantity in enumerate(("volts", "amps", "watts", "vars", "volt_amperes", "watt_hours")[: count // 2])
    )
    return MeterMap("invented", "the tests' own", values, max_gap=0)


def _at_s(asked: Asked) -> float:
    return asked.at_s


class Responder:
    """Answers on ``port`` (a terminal's path) or, without one, on a TCP port of its own, in its own thread.

    Attributes:
        script: what to do on each request; may be replaced at any time.
        asked: every request so far.
        connections: how many were taken on TCP.
        tcp_port: where it listens.

    """

    def __init__(self, port: Path | None = None, framing: Framing = Framing.RTU) -> None:
        self.script: Script = answer
        self.asked: list[Asked] = []
        self.connections = 0
        self.tcp_port = 0
        self._framing = framing
        self._listener: socket.socket | None = None
        self._peer: socket.socket | None = None
        self._line = -1
        if port is None:
            self.listen()
        else:
            self._line = os.open(port, os.O_RDWR | os.O_NOCTTY)
        self._buffer = b""
        self._outbox: list[tuple[float, int, bytes]] = []
        self._count = 0
        self._busy_until: dict[int, float] = {}
        self._going = True
        self._wake_read, self._wake_write = os.pipe()
        self._thread = Thread(target=self._serve, name="responder", daemon=True)
        self._thread.start()

    def __enter__(self) -> Self:
        """Give the responder."""
        return self

    def __exit__(self, *_: object) -> None:
        """End it."""
        self._going = False
        os.write(self._wake_write, b"x")
        self._thread.join(5.0)
        self.hang_up()
        if self._listener is not None:
            self._listener.close()
        for descriptor in (self._line, self._wake_read, self._wake_write):
            if descriptor >= 0:
                os.close(descriptor)

    def listen(self) -> None:
        """Take connections (again), on the same TCP port once it is known."""
        self._listener = socket.create_server(("127.0.0.1", self.tcp_port))
        self.tcp_port = self._listener.getsockname()[1]

    def hang_up(self, *, reset: bool = False) -> None:
        """Close the connection, with a FIN or a reset."""
        peer, self._peer = self._peer, None
        if peer is not None:
            if reset:
                peer.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
            peer.close()

    def _serve(self) -> None:
        while self._going:
            timeout = max(0.0, self._outbox[0][0] - time.monotonic()) if self._outbox else 0.2
            sources: list[int | socket.socket] = [self._wake_read]
            sources += [s for s in (self._listener, self._peer) if s is not None and s.fileno() >= 0]
            if self._line >= 0:
                sources.append(self._line)
            try:
                ready, _, _ = select.select(sources, [], [], timeout)
                self._take(ready)
                self._put_out()
            except (OSError, ValueError):  # hung up in the middle of it
                self._buffer = b""

    def _take(self, ready: list[int | socket.socket]) -> None:
        if self._listener in ready and self._listener is not None:
            self._peer, self._buffer = self._listener.accept()[0], b""
            self._peer.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            self.connections += 1
            self._outbox.clear()
            self._busy_until.clear()
            return
        came = b""
        if self._line in ready:
            came = os.read(self._line, 4096)
        elif self._peer is not None and self._peer in ready:
            came = self._peer.recv(4096)
            if not came:
                self.hang_up()
        self._buffer += came
        while self._buffer:
            asked, self._buffer = take_request(self._framing, self._buffer, len(self.asked), time.monotonic())
            if asked is None:
                return
            self.asked.append(asked)
            self._do(asked.unit, self.script(asked))

    def _do(self, unit: int, steps: Sequence[bytes | float]) -> None:
        at = max(time.monotonic(), self._busy_until.get(unit, 0.0))
        for step in steps:
            if isinstance(step, bytes):
                heapq.heappush(self._outbox, (at, self._count, step))
                self._count += 1
            else:
                at += step
        self._busy_until[unit] = at

    def _put_out(self) -> None:
        while self._outbox and self._outbox[0][0] <= time.monotonic():
            data = heapq.heappop(self._outbox)[2]
            if self._peer is not None:
                self._peer.sendall(data)
            elif self._line >= 0:
                os.write(self._line, data)

    def wrong_values(self, poll: MeterPoll, used: MeterMap) -> list[str]:
        """Name every good value of ``poll`` that was not given to a request sent within that very poll."""
        end_s = poll.at.mono_s
        begin_s = end_s - poll.latency_s
        within = slice(
            bisect.bisect_left(self.asked, begin_s, key=_at_s), bisect.bisect_right(self.asked, end_s, key=_at_s)
        )
        given = [asked for asked in self.asked[within] if asked.unit == poll.unit]
        wrong: list[str] = []
        for channel in poll.channels:
            for value in used.values:
                found = getattr(channel.values, value.quantity)
                if value.channel != channel.channel or found is None:
                    continue
                rightly = {volts(a.number, value.address) for a in given}
                if channel.quality is not Quality.GOOD or found not in rightly:
                    wrong.append(f"unit {poll.unit} {value.quantity} at {value.address}: {found}, not of {rightly}")
        return wrong
