"""Lines of text over a pseudo-terminal and over TCP, with everything that a board and a wire do to them."""

from __future__ import annotations

import time
from contextlib import contextmanager
from queue import Empty, SimpleQueue
from typing import TYPE_CHECKING

import pytest

from drivers.bus.settings import BusSettings
from drivers.listening.worker import FieldMeter, ListeningWorker
from drivers.reading import Quality, Values
from tests.drivers.textlines.test_fields import MAP
from tests.support.cable import Cable
from tests.support.senders import printing, printing_tcp

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from drivers.reading import ChannelReading, MeterPoll

GOOD = b"v1=120.4,a1=7.25,w1=861,v2=119.8,a2=3.1,w2=366,hz=60.02\r\n"
CH1 = Values(volts=120.4, amps=7.25, watts=861.0, hertz=60.02)


def serial(cable: Cable, timeout_s: float = 1.0) -> BusSettings:
    """Give the settings of a serial bus that takes every line."""
    return BusSettings("board", "text", port=str(cable.near), baud=115200, timeout_s=timeout_s, interval_s=0.0)


@contextmanager
def listening(bus: BusSettings) -> Iterator[SimpleQueue[MeterPoll]]:
    """Run a worker; give the polls as they come."""
    polls: SimpleQueue[MeterPoll] = SimpleQueue()
    worker = ListeningWorker(bus, [FieldMeter(1, MAP)], polls.put)
    worker.start()
    try:
        yield polls
    finally:
        worker.stop()


def gathered(polls: SimpleQueue[MeterPoll], seconds: float) -> list[ChannelReading]:
    """Give every reading of ch1 that comes within a time."""
    found: list[ChannelReading] = []
    deadline = time.monotonic() + seconds
    while (left := deadline - time.monotonic()) > 0:
        try:
            poll = polls.get(timeout=left)
        except Empty:
            break
        found.extend(reading for reading in poll.channels if reading.channel == "ch1")
    return found


def seen(
    lines: Callable[[int], bytes], directory: Path, seconds: float = 1.5, *, baud: int | None = None
) -> list[ChannelReading]:
    """Print lines for a while; give the readings of ch1."""
    with Cable(directory, baud) as cable, printing(cable.far, lines), listening(serial(cable)) as polls:
        return gathered(polls, seconds)


def test_both_forms_at_the_pace_of_a_line(tmp_path: Path) -> None:
    """Every line is a reading, key=value and JSON in turn, in pieces as a line carries them."""
    other = b'{"v1": 118.2, "a1": 9.5, "w1": 1104}\n'
    readings = seen(lambda n: other if n % 2 else GOOD, tmp_path, baud=19200)
    assert {(r.quality, r.values) for r in readings} == {
        (Quality.GOOD, CH1),
        (Quality.GOOD, Values(volts=118.2, amps=9.5, watts=1104.0)),
    }


def test_over_tcp() -> None:
    """The same lines from a socket."""
    with printing_tcp(lambda _: GOOD) as port:
        bus = BusSettings("net", "text", host="127.0.0.1", tcp_port=port, timeout_s=1.0, interval_s=0.0)
        worker = ListeningWorker(bus, [FieldMeter(1, MAP)], lambda _: None)
        (poll,) = worker.poll_once()
        worker.stop()
    assert [(r.channel, r.quality) for r in poll.channels] == [("ch1", Quality.GOOD), ("ch2", Quality.GOOD)]
    assert poll.channels[0].values == CH1


@pytest.mark.parametrize(
    ("bad", "quality"),
    [
        (GOOD[:-2] + GOOD, Quality.CORRUPT),  # two in one
        (GOOD[:20] + b"\r\n", Quality.CORRUPT),  # cut off, "w1" without its number
        (b"v1=120.4,a1=7.25\r\n", Quality.CORRUPT),
        (b"v1=120.4,\xff\xfe\x00,w1=861\r\n", Quality.CORRUPT),
        (b'{"v1": 120.4, "a1": 7.2\r\n', Quality.CORRUPT),
        (b"z" * 6_000, Quality.CORRUPT),
        (b"v1=nan,a1=7.25,w1=861\r\n", Quality.IMPLAUSIBLE),
    ],
)
def test_a_bad_line_among_good_ones_is_a_gap_and_no_number(bad: bytes, quality: Quality, tmp_path: Path) -> None:
    """Every fifth line is bad: its own quality, and never a number that is not in a good line."""
    readings = seen(lambda n: bad if n % 5 == 4 else GOOD, tmp_path)
    assert {r.quality for r in readings} == {Quality.GOOD, quality}
    assert {r.values.volts for r in readings if r.quality is Quality.GOOD} == {120.4}
    assert {r.values.volts for r in readings if r.quality is not Quality.GOOD} == {None}


def test_a_reset_and_its_messages_are_passed_over(tmp_path: Path) -> None:
    """Boot messages, even such as look like data, are no gap; what follows is read."""
    boot = b"\r\nrst:0x1 (POWERON)\r\nBooting v1.3\r\nfree heap=23000 bytes\r\n"
    readings = seen(lambda n: boot if n % 5 == 4 else GOOD, tmp_path)
    assert {(r.quality, r.values) for r in readings} == {(Quality.GOOD, CH1)}


def test_channels_on_lines_of_their_own(tmp_path: Path) -> None:
    """Each line tells of its channel and leaves the other alone."""
    with (
        Cable(tmp_path) as cable,
        printing(cable.far, lambda n: b"v1=120.4 a1=7.25 w1=861 hz=60\n" if n % 2 else b"v2=119 a2=3 w2=350 hz=60\n"),
        listening(serial(cable)) as polls,
    ):
        found = [reading for _ in range(12) for reading in polls.get(timeout=3.0).channels]
    assert {(r.channel, r.quality, r.values.volts) for r in found} == {
        ("ch1", Quality.GOOD, 120.4),
        ("ch2", Quality.GOOD, 119.0),
    }


@pytest.mark.parametrize(
    ("lines", "quality", "told"),
    [
        (b"", Quality.SILENT, "no line came"),
        (b"temp=21.5\r\n", Quality.SILENT, "none with a field of the map"),
        (b"\x1c\xe3\x81\xff\x00\r\n", Quality.CORRUPT, "check the baud rate"),
        (b"q==;;x\r\n", Quality.CORRUPT, "no key=value"),
    ],
)
def test_nothing_to_read_says_why(lines: bytes, quality: Quality, told: str, tmp_path: Path) -> None:
    """Nothing, other fields, the wrong speed, nonsense."""
    with Cable(tmp_path) as cable, printing(cable.far, lambda _: lines):
        worker = ListeningWorker(serial(cable, 0.5), [FieldMeter(1, MAP)], lambda _: None)
        (poll,) = worker.poll_once()
        worker.stop()
    assert {r.quality for r in poll.channels} == {quality}
    assert told in poll.channels[0].detail


def test_a_board_that_is_pulled_out_and_put_back(tmp_path: Path) -> None:
    """A gap while the port is gone, with what to do; then readings again."""
    with Cable(tmp_path) as cable, printing(cable.far, lambda _: GOOD), listening(serial(cable)) as polls:
        assert gathered(polls, 0.5)[-1].quality is Quality.GOOD
        cable.unplug()
        gap = gathered(polls, 2.0)[-1]
        assert (gap.quality, gap.values) == (Quality.SILENT, Values())
        assert "plug the adapter in" in gap.detail
        cable.replug()
        assert gathered(polls, 3.0)[-1].quality is Quality.GOOD


def test_lines_come_no_more_often_than_they_are_wanted(tmp_path: Path) -> None:
    """Twenty lines a second and a poll each second: about one or two readings a second, each of them whole."""
    with Cable(tmp_path) as cable, printing(cable.far, lambda _: GOOD):
        bus = BusSettings("b", "text", port=str(cable.near), baud=115200, timeout_s=1.0, interval_s=1.0)
        with listening(bus) as polls:
            readings = gathered(polls, 2.2)
    assert 2 <= len(readings) <= 6
    assert {r.values for r in readings} == {CH1}
