"""A bus for hours in minutes: the real worker, poller and serial link on a wire in memory, with a clock of its own.

Every wait of theirs moves the clock instead of taking time. The wire damages, delays, doubles, cuts short and loses
replies, and its adapter is pulled out now and then. A meter answers in the order in which it was asked, copies
included (``drivers.bus.copies`` rests on that). The wire knows of every damaged frame whether its checksum is right all
the same, which is all that a wrong value may come from.
"""

from __future__ import annotations

import errno
import heapq
import os
from collections import deque
from dataclasses import dataclass, field
from random import Random
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

import pytest

from drivers.bus.settings import BusSettings, MeterSettings
from drivers.bus.worker import BusWorker
from drivers.clock import Instant
from drivers.links import serial_link
from drivers.reading import Quality
from tests.support.responder import meter_map, right, volts
from tests.support.wire import Asked, Framing, crc16, take_request

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from drivers.reading import MeterPoll

MAP = meter_map((0, 6), (20, 4))
UNITS = (1, 2, 3)
TIMEOUT_S, INTERVAL_S, REPLY_S = 0.1, 0.2, 0.004
_BEGIN_MS = 1_790_000_000_000
_KEPT = 400  # requests remembered: many times what one poll sends
FAULTS = {  # share of all requests
    "bits": 0.02,
    "rubbish": 0.01,
    "cut short": 0.01,
    "lost": 0.01,
    "late": 0.01,
    "doubled": 0.01,
    "pulled out": 0.0002,
    "forged": 0.0,  # damaged under a checksum that is right: only to see that a wrong value is found
}


@dataclass
class Told:
    """What a soak found.

    Attributes:
        polls: delivered.
        good: of those, with every value good.
        wrong: good values that nobody gave in that poll, and that came from no frame that passed its checksum damaged.
        passed: good values that came from such a frame.
        damaged: frames that were damaged, cut short ones left out.
        missed: damaged frames whose checksum is right.
        injected: how many faults of each kind.
        recovered: seconds from each fault to the next good poll of its meter, by kind, the longest and the sum.
        simulated_s: how long the bus ran, on its own clock [s].

    """

    polls: int = 0
    good: int = 0
    wrong: list[str] = field(default_factory=list)
    passed: int = 0
    damaged: int = 0
    missed: int = 0
    injected: dict[str, int] = field(default_factory=lambda: dict.fromkeys(FAULTS, 0))
    recovered: dict[str, tuple[float, float]] = field(default_factory=lambda: dict.fromkeys(FAULTS, (0.0, 0.0)))
    simulated_s: float = 0.0


class Wire:
    """The line, its adapter, its meters and their faults."""

    def __init__(self, seed: int, shares: Mapping[str, float]) -> None:
        self.now_s = 1_000.0
        self.told = Told()
        self._shares = shares
        self._dice = Random(seed)
        self._under_way: list[tuple[float, int, bytes]] = []
        self._arrived = b""
        self._buffer = b""
        self._count = 0
        self._busy_until: dict[int, float] = {}
        self._out_until_s = 0.0
        self.asked: deque[Asked] = deque(maxlen=_KEPT)
        self._missed: set[int] = set()  # numbers of requests whose replies passed damaged
        self._since: dict[int, list[tuple[str, float]]] = {unit: [] for unit in UNITS}

    def pass_time(self, seconds: float) -> None:
        """Let time pass."""
        self.now_s += max(0.0, seconds)

    def plugged_in(self) -> bool:
        """Say whether the adapter is there."""
        return self.now_s >= self._out_until_s

    def wait_for_bytes(self, seconds: float) -> bool:
        """Let time pass until something can be read, at most ``seconds``; the adapter's going counts too."""
        if not self.plugged_in() or self._waiting():
            return True
        if self._under_way and self._under_way[0][0] <= self.now_s + seconds:
            self.now_s = self._under_way[0][0]
            return True
        self.pass_time(seconds)
        return False

    def read(self, most: int) -> bytes:
        """Give what has arrived."""
        if not self.plugged_in():
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        self._waiting()
        out, self._arrived = self._arrived[:most], self._arrived[most:]
        return out

    def waiting(self) -> int:
        """Count what has arrived."""
        if not self.plugged_in():
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        return self._waiting()

    def write(self, data: bytes) -> int:
        """Take a request; its meter answers, rightly or not."""
        if not self.plugged_in():
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        asked, self._buffer = take_request(Framing.RTU, self._buffer + data, self._count, self.now_s)
        self._count += 1
        if asked is not None:
            self.asked.append(asked)
            self._answer(asked)
        return len(data)

    def _waiting(self) -> int:
        while self._under_way and self._under_way[0][0] <= self.now_s:
            self._arrived += heapq.heappop(self._under_way)[2]
        return len(self._arrived)

    def _answer(self, asked: Asked) -> None:
        kind = self._fault()
        frame = right(asked)
        at_s = max(self.now_s, self._busy_until.get(asked.unit, 0.0)) + REPLY_S
        if kind:
            self.told.injected[kind] += 1
            self._since[asked.unit].append((kind, self.now_s))
        if kind == "late":
            at_s += self._dice.uniform(0.5, 4.0) * TIMEOUT_S
        self._busy_until[asked.unit] = at_s
        if kind == "pulled out":
            self._out_until_s = self.now_s + self._dice.uniform(0.1, 20.0)
            self._under_way.clear()
            self._arrived = self._buffer = b""
        elif kind != "lost":
            self._send(at_s, self._damaged(frame, kind, asked.number))
            if kind == "doubled":
                at_s += self._dice.choice((0.0, self._dice.uniform(0.0, 2.0) * TIMEOUT_S))
                self._busy_until[asked.unit] = at_s  # one thing after another: the next answer comes after the copy
                self._send(at_s, frame)

    def _fault(self) -> str:
        left = self._dice.random()
        for kind, share in self._shares.items():
            left -= share
            if left < 0:
                return kind
        return ""

    def _damaged(self, frame: bytes, kind: str, number: int) -> bytes:
        """Give what arrives of a frame."""
        if kind == "cut short":
            return frame[: self._dice.randrange(1, len(frame))]
        if kind not in ("bits", "rubbish", "forged"):
            return frame
        out = bytearray(frame)
        if kind == "forged":
            out[5] ^= 0x10
            out[-2:] = crc16(bytes(out[:-2]))
        elif kind == "bits":
            for _ in range(self._dice.randint(1, 6)):
                out[self._dice.randrange(len(out))] ^= 1 << self._dice.randrange(8)
        else:
            begin = self._dice.randrange(len(out) - 4)
            for at in range(begin, self._dice.randint(begin + 4, len(out))):
                out[at] = self._dice.randrange(256)
        if bytes(out) != frame:
            self.told.damaged += 1
            if crc16(bytes(out[:-2])) == bytes(out[-2:]):
                self.told.missed += 1
                self._missed.add(number)
        return bytes(out)

    def _send(self, at_s: float, frame: bytes) -> None:
        cut = self._dice.randrange(len(frame))
        for number, piece in enumerate((frame[:cut], frame[cut:])):
            if piece:
                heapq.heappush(self._under_way, (at_s + 0.0005 * number, 2 * self._count + number, piece))

    def deliver(self, poll: MeterPoll) -> None:
        """Check what the worker delivers, and count it."""
        told = self.told
        told.polls += 1
        good = all(channel.quality is Quality.GOOD for channel in poll.channels)
        told.good += good
        begin_s, end_s = poll.at.mono_s - poll.latency_s, poll.at.mono_s
        given = [a for a in self.asked if a.unit == poll.unit and begin_s <= a.at_s <= end_s]
        for channel in poll.channels:
            for value in MAP.values:
                found = getattr(channel.values, value.quantity) if value.channel == channel.channel else None
                if found is not None and found not in {volts(a.number, value.address) for a in given}:
                    if any(a.number in self._missed for a in given):
                        told.passed += 1
                    else:
                        told.wrong.append(f"unit {poll.unit} {value.quantity}: {found} at {end_s:.3f} s")
        if good:
            self._recovered(poll.unit, end_s)

    def _recovered(self, unit: int, at_s: float) -> None:
        waiting = self._since[unit]
        for kind, since_s in [w for w in waiting if w[1] < at_s]:
            longest, total = self.told.recovered[kind]
            self.told.recovered[kind] = (max(longest, at_s - since_s), total + at_s - since_s)
        self._since[unit] = [w for w in waiting if w[1] >= at_s]


class _Stop:
    """The worker's event: waiting moves the clock; set once enough was polled."""

    def __init__(self, wire: Wire, polls: int, watch: Callable[[Told], None]) -> None:
        self._wire, self._polls, self._watch = wire, polls, watch

    def is_set(self) -> bool:
        self._watch(self._wire.told)
        return self._wire.told.polls >= self._polls

    def wait(self, seconds: float) -> bool:
        self._wire.pass_time(seconds)
        return self.is_set()


def _port_on(wire: Wire) -> type[serial_link._Port]:
    """Give a port class whose ports are this wire's end."""

    class Port(serial_link._Port):
        def open(self) -> None:
            if not wire.plugged_in():
                raise OSError(errno.ENOENT, os.strerror(errno.ENOENT))
            self.is_open = True

        def close(self) -> None:
            self.is_open = False

        def fileno(self) -> int:
            return -1

        def write(self, data: Any, /) -> int:
            return wire.write(data)

        def reset_input_buffer(self) -> None:
            wire.read(wire.waiting())

        def reset_output_buffer(self) -> None:
            return

        @property
        def in_waiting(self) -> int:
            return wire.waiting()

    return Port


def _patched(wire: Wire) -> Iterator[tuple[str, object]]:
    """Name what must be the wire's instead of the system's."""
    times = SimpleNamespace(sleep=wire.pass_time, monotonic=lambda: wire.now_s, time=lambda: wire.now_s)
    yield "minimalmodbus.time", times
    yield "drivers.links.serial_link.time", times
    yield "drivers.links.serial_link.os", SimpleNamespace(read=lambda _, most: wire.read(most), path=os.path)
    ready: Callable[..., object] = lambda r, _w, _x, s: (r if wire.wait_for_bytes(s) else [], [], [])  # noqa: E731
    yield "drivers.links.serial_link.select", SimpleNamespace(select=ready)
    yield "drivers.links.serial_link._Port", _port_on(wire)
    for module in ("links.serial_link", "bus.worker", "bus.poller", "bus.finding"):
        yield f"drivers.{module}.monotonic", lambda: wire.now_s
    yield "drivers.bus.poller.now", lambda: Instant(_BEGIN_MS + round(wire.now_s * 1000), wire.now_s)


def soak(
    polls: int,
    seed: int = 0,
    watch: Callable[[Told], None] = lambda _: None,
    shares: Mapping[str, float] = FAULTS,
) -> Told:
    """Run a bus of three meters until ``polls`` have been delivered; ``watch`` is called again and again meanwhile."""
    wire = Wire(seed, shares)
    settings = BusSettings("soak", "modbus-rtu", "wire", baud=115200, timeout_s=TIMEOUT_S, interval_s=INTERVAL_S)
    worker = BusWorker(settings, [MeterSettings(unit, MAP) for unit in UNITS], wire.deliver)
    worker._stop = _Stop(wire, polls, watch)  # type: ignore[assignment]
    with pytest.MonkeyPatch.context() as patch:
        for name, value in _patched(wire):
            patch.setattr(name, value)
        worker._run()
    wire.told.simulated_s = wire.now_s - 1_000.0
    return wire.told
