"""Every wrong reply ends as the right error on every link, and the next read is right."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from drivers.bus.settings import MODBUS_PROTOCOLS
from drivers.errors import Corrupt, LinkDown, Refused, Silent
from drivers.links.opening import open_link
from drivers.maps.model import Table
from tests.support.lines import line
from tests.support.responder import answer, right, words
from tests.support.wrongs import wrongs

if TYPE_CHECKING:
    from pathlib import Path

    from tests.support.wire import Asked

CASES = [(protocol, wrong) for protocol in MODBUS_PROTOCOLS for wrong in wrongs(protocol)]
SILENT = {"silence", "late"}


@pytest.mark.parametrize(("protocol", "wrong"), CASES)
def test_a_wrong_reply_is_no_reading(protocol: str, wrong: str, tmp_path: Path) -> None:
    """The read fails for the right reason; after a drain the next one gives its own values."""
    with line(protocol, tmp_path, timeout_s=0.06) as bus:
        link = open_link(bus.settings)
        bus.responder.script = wrongs(protocol)[wrong]
        with pytest.raises(Silent if wrong in SILENT else Corrupt):
            link.read(1, Table.INPUT, 0, 6)
        bus.responder.script = answer
        link.drain(0.2 if wrong == "late" else 0.02)
        assert link.read(1, Table.INPUT, 0, 6) == tuple(words(1, 0, 6))
        link.close()


@pytest.mark.parametrize("protocol", MODBUS_PROTOCOLS)
@pytest.mark.parametrize("code", [0x01, 0x02, 0x03, 0x04, 0x05, 0x06, 0x0B, 0x42, 0xFF])
def test_an_exception_reply_is_a_refusal_with_its_code(protocol: str, code: int, tmp_path: Path) -> None:
    """Known codes and unknown ones; the next read is right."""
    with line(protocol, tmp_path, timeout_s=2.0) as bus:
        link = open_link(bus.settings)
        bus.responder.script = lambda asked: [asked.refusal(code)]
        if protocol == "modbus-ascii" and code == 5:
            expected: type[Exception] = Corrupt  # minimalmodbus takes it for a wrong function; a gap either way
        else:
            expected = Refused
        with pytest.raises(expected) as refused:
            link.read(1, Table.HOLDING, 0, 6)
        if isinstance(refused.value, Refused):
            assert refused.value.code == code
        bus.responder.script = answer
        assert link.read(1, Table.HOLDING, 0, 6) == tuple(words(1, 0, 6))
        link.close()


@pytest.mark.parametrize("protocol", MODBUS_PROTOCOLS)
@pytest.mark.parametrize(("at", "pause_s"), [(1, 0.002), (9, 0.002), (9, 0.2)])
def test_a_reply_in_two_pieces_is_whole(protocol: str, pause_s: float, at: int, tmp_path: Path) -> None:
    """A pause within a reply, shorter than the timeout, does no harm."""

    def split(asked: Asked) -> list[bytes | float]:
        return [right(asked)[:at], pause_s, right(asked)[at:]]

    with line(protocol, tmp_path, timeout_s=1.0) as bus:
        link = open_link(bus.settings)
        bus.responder.script = split
        assert link.read(1, Table.INPUT, 0, 6) == tuple(words(0, 0, 6))
        assert link.read(1, Table.INPUT, 0, 6) == tuple(words(1, 0, 6))
        link.close()


@pytest.mark.parametrize("protocol", ["modbus-rtu", "modbus-ascii"])
def test_what_follows_a_reply_is_pending_until_drained(protocol: str, tmp_path: Path) -> None:
    """A second copy of a reply waits on the line, is counted and thrown away."""
    with line(protocol, tmp_path) as bus:
        link = open_link(bus.settings)
        bus.responder.script = lambda asked: [right(asked), right(asked)]
        assert link.read(1, Table.INPUT, 0, 6) == tuple(words(0, 0, 6))
        assert link.drain(0.05) == len(right(bus.responder.asked[0]))
        assert link.pending() == 0
        link.close()


def test_unasked_bytes_are_counted_on_a_connection_too(tmp_path: Path) -> None:
    """RTU over TCP: bytes that come between two reads are pending, and drained."""
    with line("modbus-rtu-over-tcp", tmp_path) as bus:
        link = open_link(bus.settings)
        bus.responder.script = lambda asked: [right(asked), 0.05, right(asked)]
        assert link.read(1, Table.INPUT, 0, 6) == tuple(words(0, 0, 6))
        assert link.drain(0.2) == 17
        link.close()


@pytest.mark.parametrize("protocol", MODBUS_PROTOCOLS)
def test_a_line_that_never_falls_quiet_is_given_up(
    protocol: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Noise without end: the drain comes back by itself, and so does the read."""
    for module in ("serial_link", "tcp_link"):
        monkeypatch.setattr(f"drivers.links.{module}.DRAIN_LIMIT_S", 0.5)
    with line(protocol, tmp_path) as bus:
        link = open_link(bus.settings)
        bus.responder.script = lambda _: [piece for _ in range(500) for piece in (b"\x00\xff\x55" * 3, 0.005)]
        with pytest.raises(Corrupt):
            link.read(1, Table.INPUT, 0, 6)
        assert link.drain(0.1) > 100
        link.close()


@pytest.mark.parametrize("protocol", ["modbus-tcp", "modbus-rtu-over-tcp"])
@pytest.mark.parametrize("reset", [True, False])
def test_a_connection_that_the_far_end_ends_is_down(protocol: str, tmp_path: Path, *, reset: bool) -> None:
    """Closed or reset: the link is down, and reopened it reads."""
    with line(protocol, tmp_path) as bus:
        link = open_link(bus.settings)
        link.read(1, Table.INPUT, 0, 2)
        bus.responder.hang_up(reset=reset)
        with pytest.raises(LinkDown):
            link.drain(1.0)
        with pytest.raises(LinkDown):
            link.read(1, Table.INPUT, 0, 2)
        link.reopen()
        assert link.read(1, Table.INPUT, 0, 2) == tuple(words(len(bus.responder.asked) - 1, 0, 2))
        link.close()


@pytest.mark.parametrize("protocol", ["modbus-tcp", "modbus-rtu-over-tcp"])
def test_a_half_open_connection_is_taken_for_lost(protocol: str, tmp_path: Path) -> None:
    """The far end hears nothing any more: after a few unanswered requests the link says it is down."""
    with line(protocol, tmp_path, timeout_s=0.05) as bus:
        link = open_link(bus.settings)
        bus.responder.script = lambda _: []
        for _ in range(2):
            with pytest.raises(Silent):
                link.read(1, Table.INPUT, 0, 2)
        with pytest.raises(LinkDown):
            link.read(1, Table.INPUT, 0, 2)
        link.close()
