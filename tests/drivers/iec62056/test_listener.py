"""IEC 62056-21 over a pseudo-terminal: sign-on, speeds, faults, and meters that send by themselves."""

from __future__ import annotations

import time
from contextlib import ExitStack, contextmanager
from queue import Empty, SimpleQueue
from typing import TYPE_CHECKING

import pytest

from drivers.bus.settings import BusSettings
from drivers.listening.worker import FieldMeter, ListeningWorker
from drivers.reading import Quality, Values
from tests.drivers.iec62056.test_telegrams import MAP
from tests.support.cable import Cable
from tests.support.senders import AskedMeter, printing, printing_tcp
from tests.support.telegrams import V2, V4, V5, readout

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from drivers.reading import ChannelReading, MeterPoll

DATA = readout("1-0:32.7.0(231.4*V)", "1-0:31.7.0(12.25*A)", "1-0:21.7.0(2.800*kW)", "1-0:14.7.0(50.01*Hz)")
L1 = Values(volts=231.4, amps=12.25, watts=2800.0, hertz=50.01)


def settings(cable: Cable, baud: int = 300, timeout_s: float = 0.6) -> BusSettings:
    """Give the settings of a serial bus."""
    return BusSettings(
        "optic",
        "iec62056-21",
        port=str(cable.near),
        baud=baud,
        parity="E",
        data_bits=7,
        timeout_s=timeout_s,
        interval_s=0.1,
    )


def once(bus: BusSettings, channel: str = "l1") -> ChannelReading:
    """Read once; give one channel."""
    worker = ListeningWorker(bus, [FieldMeter(1, MAP)], lambda _: None)
    (poll,) = worker.poll_once()
    worker.stop()
    return next(reading for reading in poll.channels if reading.channel == channel)


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


def until(polls: SimpleQueue[MeterPoll], quality: Quality, within_s: float = 8.0) -> ChannelReading:
    """Give the first reading of l1 of that quality."""
    deadline = time.monotonic() + within_s
    while (left := deadline - time.monotonic()) > 0:
        try:
            poll = polls.get(timeout=left)
        except Empty:
            break
        for reading in poll.channels:
            if reading.channel == "l1" and reading.quality is quality:
                return reading
    pytest.fail(f"no reading was {quality}")


@pytest.mark.parametrize(
    ("identification", "waits_for", "speed"),
    [
        (b"/XMP5EXAMPLE\r\n", b"\x06050\r\n", 9600),  # mode C
        (b"/XMp6\\2EXAMPLE\r\n", b"\x06060\r\n", 19200),  # mode C with an enhanced identification (mode E)
        (b"/XMP0EXAMPLE\r\n", b"\x06000\r\n", 300),
        (b"/XMPAEXAMPLE\r\n", b"", 600),  # mode B
        (b"/XMPEEXAMPLE\r\n", b"", 9600),
        (b"/XMP@EXAMPLE\r\n", b"", 300),  # mode A
    ],
)
def test_a_meter_that_is_asked(identification: bytes, waits_for: bytes, speed: int, tmp_path: Path) -> None:
    """Signed on, acknowledged where mode C wants it, read at the speed that it names."""
    with (
        Cable(tmp_path) as cable,
        AskedMeter(cable.far, cable.near, identification, lambda _: [DATA], waits_for) as meter,
    ):
        reading = once(settings(cable))
    assert (reading.quality, reading.values, reading.detail) == (Quality.GOOD, L1, "")
    assert meter.speeds == [speed]
    assert (b"\x06" in meter.heard) == bool(waits_for)


def test_it_is_asked_again_and_again_at_its_first_speed(tmp_path: Path) -> None:
    """After a readout at 9600 the next sign-on goes out at 300; each readout is a reading of its own."""

    def data(number: int) -> Sequence[bytes]:
        return [readout(f"32.7.0({230 + number}.0*V)")]

    with (
        Cable(tmp_path) as cable,
        AskedMeter(cable.far, cable.near, b"/XMP5EXAMPLE\r\n", data, b"\x06050\r\n") as meter,
        listening(settings(cable)) as polls,
    ):
        volts = [until(polls, Quality.GOOD).values.volts for _ in range(3)]
    assert volts == [230.0, 231.0, 232.0]
    assert meter.speeds[:3] == [9600, 9600, 9600]
    assert meter.heard.count(b"/?!\r\n") >= 3


def test_a_paced_line_and_a_telegram_in_pieces(tmp_path: Path) -> None:
    """At the pace of 2400 baud, with a pause in the middle that the standard allows."""
    with (
        Cable(tmp_path, baud=2400) as cable,
        AskedMeter(cable.far, cable.near, b"/XMP3EXAMPLE\r\n", lambda _: [DATA[:40], 0.7, DATA[40:]], b"\x06030\r\n"),
    ):
        assert once(settings(cable)).values == L1


@pytest.mark.parametrize(
    ("data", "quality", "told"),
    [
        ([DATA[:-1] + bytes([DATA[-1] ^ 1])], Quality.CORRUPT, "block check"),
        ([DATA[:30].replace(b"231.4", b"237.4") + DATA[30:]], Quality.CORRUPT, "block check"),
        ([DATA[:50]], Quality.CORRUPT, "broke off"),
        ([], Quality.SILENT, "sent no data"),
        ([readout("32.7.0(2314*V)")], Quality.IMPLAUSIBLE, "2314 V"),
        ([readout("52.7.0(231.4*V)")], Quality.SILENT, "nothing for l1"),
    ],
)
def test_what_goes_wrong_is_a_gap_and_the_next_readout_is_right(
    data: Sequence[bytes], quality: Quality, told: str, tmp_path: Path
) -> None:
    """Damaged, cut off, empty, impossible, not there: no number, with the reason; then good again."""
    with (
        Cable(tmp_path) as cable,
        AskedMeter(cable.far, cable.near, b"/XMP5EXAMPLE\r\n", lambda n: data if n == 0 else [DATA], b"\x06050\r\n"),
        listening(settings(cable)) as polls,
    ):
        gap = until(polls, quality)
        assert gap.values == Values()
        assert told in gap.detail
        assert until(polls, Quality.GOOD, 12.0).values == L1


def test_nobody_there_is_silent(tmp_path: Path) -> None:
    """No answer to the sign-on."""
    with Cable(tmp_path) as cable:
        reading = once(settings(cable))
    assert reading.quality is Quality.SILENT
    assert "no answer to the sign-on" in reading.detail


@pytest.mark.parametrize(("telegram", "channel"), [(V5, "l1"), (V4, "l2"), (V2, "total")])
def test_a_meter_that_sends_by_itself(telegram: bytes, channel: str, tmp_path: Path) -> None:
    """P1 telegrams with a check and without, whatever the sign-on does."""
    expected = {"l1": 70.0, "l2": 1247.0, "total": 1010.0}[channel]
    with Cable(tmp_path) as cable, printing(cable.far, lambda _: telegram, 0.3):
        reading = once(settings(cable, 115200), channel)
    assert (reading.quality, reading.values.watts) == (Quality.GOOD, expected)


def test_sent_telegrams_one_damaged_then_silence(tmp_path: Path) -> None:
    """Good, a damaged one is corrupt, then good, and when nothing comes any more silent."""

    def telegrams(number: int) -> bytes:
        if number > 9:
            return b""
        return V5.replace(b"0230.0", b"0231.0") if number == 5 else V5

    with Cable(tmp_path) as cable, printing(cable.far, telegrams, 0.3), listening(settings(cable, 115200)) as polls:
        assert until(polls, Quality.GOOD).values.volts == 230.0
        assert "check" in until(polls, Quality.CORRUPT).detail
        assert until(polls, Quality.GOOD).values.volts == 230.0
        assert until(polls, Quality.SILENT).values == Values()


def test_telegrams_over_tcp() -> None:
    """Behind a serial gateway."""
    with ExitStack() as stack:
        port = stack.enter_context(printing_tcp(lambda _: V5, 0.3))
        bus = BusSettings("net", "iec62056-21", host="127.0.0.1", tcp_port=port, timeout_s=1.0, interval_s=0.1)
        assert once(bus, "l3").values.volts == 229.0
