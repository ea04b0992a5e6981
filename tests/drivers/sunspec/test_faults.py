"""What goes wrong on the wire while a SunSpec meter is searched and read: gaps, and never a number of another place."""

from __future__ import annotations

import random
import time
from contextlib import contextmanager
from queue import Empty, SimpleQueue
from typing import TYPE_CHECKING

from drivers.bus.settings import BusSettings, MeterSettings
from drivers.bus.worker import BusWorker
from drivers.reading import Quality
from drivers.sunspec.search import Search
from tests.drivers.sunspec.test_devices import SPLIT, WYE
from tests.support.cable import Cable
from tests.support.sunspec_devices import UNIT, image, model, rtu_device

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from drivers.reading import MeterPoll, Values


@contextmanager
def polling(cable: Cable, timeout_s: float = 0.1) -> Iterator[SimpleQueue[MeterPoll]]:
    """Run a worker with one meter of two legs; give the polls as they come."""
    polls: SimpleQueue[MeterPoll] = SimpleQueue()
    bus = BusSettings("b", "sunspec-rtu", port=str(cable.near), baud=115200, timeout_s=timeout_s, interval_s=0.0)
    search = Search(("l1", "l2"))
    worker = BusWorker(bus, [MeterSettings(UNIT, search.placeholder(), search)], polls.put)
    worker.start()
    try:
        yield polls
    finally:
        worker.stop()


def gathered(polls: SimpleQueue[MeterPoll], seconds: float) -> list[MeterPoll]:
    """Give what comes within a time."""
    found: list[MeterPoll] = []
    deadline = time.monotonic() + seconds
    while (left := deadline - time.monotonic()) > 0:
        try:
            found.append(polls.get(timeout=left))
        except Empty:
            break
    return found


def values(polls: list[MeterPoll]) -> set[tuple[str, Values]]:
    """Give every set of values that was called good."""
    return {(c.channel, c.values) for poll in polls for c in poll.channels if c.quality is Quality.GOOD}


def good_until(polls: SimpleQueue[MeterPoll], seconds: float) -> list[MeterPoll]:
    """Wait for a good poll; give all polls up to it."""
    found: list[MeterPoll] = []
    deadline = time.monotonic() + seconds
    while time.monotonic() < deadline and not values(found):
        found.extend(gathered(polls, 0.2))
    return found


def test_another_meter_in_its_place_is_searched_anew(tmp_path: Path) -> None:
    """The meter goes silent, and another one answers, of another model at another base: its own numbers come."""
    with Cable(tmp_path) as cable, polling(cable) as polls:
        with rtu_device(image(model(202, SPLIT)), 40_000, cable.far):
            assert {v.volts for _, v in values(good_until(polls, 5.0))} == {121.0, 119.0}
        while values(gathered(polls, 0.5)):
            pass
        with rtu_device(image(model(203, WYE)), 0, cable.far):
            assert {v.volts for _, v in values(good_until(polls, 15.0))} == {230.5, 229.8}


def test_a_meter_that_does_not_answer_where_nothing_is(tmp_path: Path) -> None:
    """Silence at the first base: the next search begins at the next one, until the marker is found."""
    with Cable(tmp_path) as cable, rtu_device(image(model(202, SPLIT)), 50_000, cable.far):
        exceptions = 0

        def swallow(data: bytes) -> bytes:
            nonlocal exceptions
            if data[1:2] in (b"\x83", b"\x84"):
                exceptions += 1
                return b""
            return data

        cable.edit = swallow
        with polling(cable) as polls:
            found = good_until(polls, 40.0)
        assert {v.volts for _, v in values(found)} == {121.0, 119.0}
        assert exceptions > 0


def test_a_line_that_loses_damages_and_delays_replies(tmp_path: Path) -> None:
    """Half a minute's worth of faults in a few seconds, the search among them: no number but the meter's own."""
    chance = random.Random(7)
    with Cable(tmp_path) as cable, rtu_device(image(model(202, SPLIT)), 0, cable.far):

        def spoil(data: bytes) -> bytes:
            what = chance.random()
            if what < 0.1:
                return b""
            if what < 0.2:
                at = chance.randrange(len(data))
                return data[:at] + bytes([data[at] ^ 1 << chance.randrange(8)]) + data[at + 1 :]
            cable.delay_s = 0.15 if what < 0.3 else 0.0
            return data

        cable.edit = spoil
        with polling(cable, 0.08) as polls:
            found = gathered(polls, 8.0)
            cable.edit, cable.delay_s = bytes, 0.0
            found += good_until(polls, 25.0)
    assert {(channel, v.volts, v.amps) for channel, v in values(found)} == {("l1", 121.0, 20.0), ("l2", 119.0, 10.0)}
