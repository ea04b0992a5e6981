"""Ports that are not there, go, come back, or belong to somebody else."""

from __future__ import annotations

import errno
import itertools
import os
import socket
import termios
import time
from typing import TYPE_CHECKING

import pytest

from drivers.bus.settings import BusSettings, MeterSettings
from drivers.bus.worker import BusWorker
from drivers.errors import LinkDown, PortProblem
from drivers.links.opening import open_link
from drivers.links.serial_link import SerialLink
from drivers.maps.model import Table
from tests.support.cable import Cable
from tests.support.lines import Line, line
from tests.support.responder import Responder, answer, meter_map, right
from tests.support.watched import Watched, qualities

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from drivers.reading import MeterPoll

MAP = meter_map((0, 6))
BACK_WITHIN_S = 5.0


@pytest.fixture
def quick_retry(monkeypatch: pytest.MonkeyPatch) -> None:
    """Try a port that is gone five times as often as on a real bus: less waiting."""
    monkeypatch.setattr("drivers.bus.worker.RETRY_S", 0.2)


def test_unplugged_and_back_under_the_same_name(tmp_path: Path) -> None:
    """Silent gaps for every meter, at about the interval and with the reason; then readings within five seconds."""
    with line("modbus-rtu", tmp_path, interval_s=0.1) as bus, Watched(bus, MAP, (1, 2)) as watched:
        assert bus.cable is not None
        watched.good()
        bus.cable.unplug()
        gaps = watched.until(
            lambda polls: all(sum(qualities(p) == {"silent"} for p in polls if p.unit == u) >= 3 for u in (1, 2))
        )
        assert len(gaps) < 15
        assert "is not there" in gaps[-1].channels[0].detail
        assert watched.worker.stats().is_open is False
        assert "is not there" in watched.worker.stats().problem
        bus.cable.replug()
        watched.until(
            lambda polls: {p.unit for p in polls if qualities(p) == {"good"}} == {1, 2}, within_s=BACK_WITHIN_S
        )
        assert watched.worker.stats().is_open is True
    assert watched.wrong() == []


@pytest.mark.usefixtures("quick_retry")
def test_unplugged_while_a_meter_is_being_read(tmp_path: Path) -> None:
    """The port goes between request and reply: a gap, and nothing shifts when it is back."""
    with line("modbus-rtu", tmp_path, timeout_s=0.3) as bus, Watched(bus, MAP, (1,)) as watched:
        assert bus.cable is not None
        watched.good()
        bus.responder.script = lambda _: []
        asked = len(bus.responder.asked)
        watched.until(lambda _: len(bus.responder.asked) > asked)
        bus.cable.unplug()
        watched.until(lambda polls: any(qualities(poll) == {"silent"} for poll in polls))
        bus.responder.script = answer
        bus.cable.replug()
        watched.good()
    assert watched.wrong() == []


@pytest.mark.usefixtures("quick_retry")
def test_back_under_another_name_is_not_taken_for_the_same_port(tmp_path: Path) -> None:
    """The settings name one port; another name is another port, and the gaps say that ours is not there."""
    with line("modbus-rtu", tmp_path, interval_s=0.1) as bus, Watched(bus, MAP, (1,)) as watched:
        assert bus.cable is not None
        watched.good()
        ours = bus.cable.near
        bus.cable.unplug()
        bus.cable.replug(tmp_path / "other")
        gaps = watched.until(lambda polls: len(polls) >= 3)
        assert all(qualities(poll) == {"silent"} for poll in gaps)
        assert str(ours) in gaps[-1].channels[0].detail
        bus.cable.unplug()
        bus.cable.replug(ours)
        watched.good()
    assert watched.wrong() == []


@pytest.mark.usefixtures("quick_retry")
def test_a_port_missing_at_the_start_is_waited_for(tmp_path: Path) -> None:
    """Gaps with the reason until it comes, then readings."""
    with Cable(tmp_path) as cable, Responder(cable.far) as responder:
        cable.unplug()
        settings = BusSettings("b", "modbus-rtu", port=str(cable.near), baud=115200, interval_s=0.05)
        with Watched(Line(settings, responder, cable), MAP, (1,)) as watched:
            gaps = watched.until(lambda polls: len(polls) >= 2)
            assert {q for poll in gaps for q in qualities(poll)} == {"silent"}
            cable.replug()
            watched.good()
        assert watched.wrong() == []


def test_nobody_at_the_address_is_unreachable() -> None:
    """A closed TCP port, and a name that does not resolve."""
    with socket.create_server(("127.0.0.1", 0)) as listener:
        closed = int(listener.getsockname()[1])
    for host in ("127.0.0.1", "no-such-host.invalid"):
        with pytest.raises(PortProblem) as problem:
            open_link(BusSettings("b", "modbus-tcp", host=host, tcp_port=closed))
        assert problem.value.reason == "unreachable"
        assert host in problem.value.detail


def test_an_unknown_protocol_is_a_mistake_of_the_caller() -> None:
    """No link is made for it."""
    with pytest.raises(ValueError, match="no link speaks"):
        open_link(BusSettings("b", "carrier-pigeon", port="/dev/null"))


@pytest.mark.parametrize("use", ["read", "pending", "drain"])
def test_every_use_of_a_port_that_is_gone_says_so(use: str, tmp_path: Path) -> None:
    """Whatever the operating system and the libraries raise, the link says that it is down."""
    with line("modbus-rtu", tmp_path) as bus:
        assert bus.cable is not None
        link = open_link(bus.settings)
        bus.cable.unplug()
        uses: dict[str, Callable[[], object]] = {
            "read": lambda: link.read(1, Table.INPUT, 0, 2),
            "pending": link.pending,
            "drain": lambda: link.drain(0.05),
        }
        with pytest.raises(LinkDown):
            uses[use]()
        link.close()


def test_an_error_of_the_terminal_layer_is_a_problem_of_the_port(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """``termios.error`` is no OSError; it ends as the right reason all the same."""

    def refuse(*_: object) -> None:
        raise termios.error(errno.EIO, os.strerror(errno.EIO))

    with line("modbus-rtu", tmp_path) as bus:
        monkeypatch.setattr("serial.serialposix.termios.tcsetattr", refuse)
        with pytest.raises(PortProblem) as problem:
            SerialLink(bus.settings)
    assert problem.value.reason == "missing"


@pytest.mark.usefixtures("quick_retry")
@pytest.mark.parametrize(("protocol", "reset"), [("modbus-tcp", True), ("modbus-rtu-over-tcp", False)])
def test_a_connection_ended_by_the_far_end_comes_back(protocol: str, tmp_path: Path, *, reset: bool) -> None:
    """Closed or reset between two polls: polled again over a new connection."""
    with line(protocol, tmp_path, interval_s=0.05) as bus, Watched(bus, MAP, (1, 2)) as watched:
        watched.good()
        bus.responder.hang_up(reset=reset)
        watched.good(number=3)
    assert watched.wrong() == []


@pytest.mark.usefixtures("quick_retry")
def test_a_half_open_connection_comes_back(tmp_path: Path) -> None:
    """The far end has forgotten the connection and says nothing: it is made anew, and read within five seconds."""
    with line("modbus-tcp", tmp_path, interval_s=0.05, timeout_s=0.1) as bus, Watched(bus, MAP, (1,)) as watched:
        watched.good()
        first = bus.responder.connections
        bus.responder.script = lambda asked: [right(asked)] if bus.responder.connections > first else []
        watched.until(lambda polls: any(qualities(p) == {"good"} for p in polls[3:]), within_s=BACK_WITHIN_S)
    assert watched.wrong() == []


def test_a_far_end_that_hangs_up_on_everyone_is_not_hammered(tmp_path: Path) -> None:
    """It closes every connection at once: about one try a second, a gap each."""
    with line("modbus-tcp", tmp_path) as bus, Watched(bus, MAP, (1,)) as watched:

        def hang_up(_: object) -> list[bytes | float]:
            bus.responder.hang_up()
            return []

        bus.responder.script = hang_up
        time.sleep(1.5)
        assert bus.responder.connections <= 4
        assert len(watched.polls) <= 12


def test_poll_once_needs_no_thread(tmp_path: Path) -> None:
    """Each meter once, in order, good; and the same polls are handed on."""
    with line("modbus-rtu", tmp_path) as bus:
        delivered: list[object] = []
        worker = BusWorker(bus.settings, [MeterSettings(unit, MAP) for unit in (3, 1, 2)], delivered.append)
        polls = worker.poll_once()
        worker.stop()
        worker.stop()
    assert [poll.unit for poll in polls] == [3, 1, 2]
    assert [qualities(poll) for poll in polls] == [{"good"}] * 3
    assert delivered == list(polls)
    assert [bus.responder.wrong_values(poll, MAP) for poll in polls] == [[], [], []]


def test_poll_once_without_a_port_gives_gaps(tmp_path: Path) -> None:
    """No crash: a silent gap a meter, with the reason."""
    worker = BusWorker(
        BusSettings("b", "modbus-rtu", port=str(tmp_path / "none")),
        [MeterSettings(unit, MAP) for unit in (1, 2)],
        lambda _: None,
    )
    polls = worker.poll_once()
    worker.stop()
    assert [(poll.unit, qualities(poll)) for poll in polls] == [(1, {"silent"}), (2, {"silent"})]
    assert "is not there" in polls[0].channels[0].detail


def test_the_counts_of_a_bus(tmp_path: Path) -> None:
    """Every poll is counted once, under what it was."""
    with line("modbus-rtu", tmp_path, timeout_s=0.05) as bus:
        bus.responder.script = lambda asked: [] if asked.unit == 2 else [right(asked)]
        with Watched(bus, MAP, (1, 2)) as watched:
            watched.good(unit=1)
            watched.until(lambda polls: any(poll.unit == 2 for poll in polls))
        stats = watched.worker.stats()
    for meter in stats.meters:
        polls = [poll for poll in watched.polls if poll.unit == meter.unit]
        assert meter.polls == len(polls)
        assert meter.good == sum(qualities(poll) == {"good"} for poll in polls)
        assert meter.silent == sum(qualities(poll) == {"silent"} for poll in polls)
    assert stats.meters[0].last_good == [poll for poll in watched.polls if poll.unit == 1][-1].at
    assert stats.meters[1].last_good is None
    assert stats.is_open is False


def test_a_worker_outlives_the_one_who_takes_its_polls(tmp_path: Path) -> None:
    """Every other poll can't be taken: it is counted with the reason, and polling goes on."""
    taken: list[MeterPoll] = []
    turn = itertools.count()

    def fail(poll: MeterPoll) -> None:
        if next(turn) % 2:
            raise RuntimeError("no room")
        taken.append(poll)

    with line("modbus-rtu", tmp_path) as bus:
        worker = BusWorker(bus.settings, [MeterSettings(1, MAP)], fail)
        worker.start()
        end_s = time.monotonic() + 5.0
        while len(taken) < 3:
            assert time.monotonic() < end_s
            time.sleep(0.01)
        worker.stop()
        stats = worker.stats()
    assert stats.undelivered >= 2
    assert "no room" in stats.fault
    assert stats.meters[0].good == len(taken) + stats.undelivered


def test_a_mistake_in_polling_is_told_and_polling_comes_back(tmp_path: Path) -> None:
    """A link that breaks in a way nobody foresaw: gaps that say so, the port is opened again, then good polls."""

    class Broken(SerialLink):
        left = 1

        def read(self, unit: int, table: Table, address: int, count: int) -> tuple[int, ...]:
            if Broken.left:
                Broken.left -= 1
                raise RuntimeError("never thought of")
            return super().read(unit, table, address, count)

    taken: list[MeterPoll] = []
    with line("modbus-rtu", tmp_path) as bus:
        worker = BusWorker(bus.settings, [MeterSettings(1, MAP)], taken.append, Broken)
        worker.start()
        end_s = time.monotonic() + 10.0
        while not any(qualities(poll) == {"good"} for poll in taken):
            assert time.monotonic() < end_s
            time.sleep(0.01)
        worker.stop()
    assert "never thought of" in taken[0].channels[0].detail
    assert qualities(taken[0]) == {"silent"}
    assert "never thought of" in worker.stats().fault
