"""Faults on a working bus: no reading is ever another question's, and the next good one is right.

The responder gives other numbers at every request, so a reply taken for the answer to another request shows.
"""

from __future__ import annotations

import itertools
import random
import time
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from drivers.bus.resync import SETTLE_S
from drivers.bus.settings import MODBUS_PROTOCOLS
from drivers.maps.model import MeterMap, Table, Value
from drivers.reading import Quality
from tests.support.lines import line
from tests.support.responder import answer, meter_map, right
from tests.support.watched import Watched, qualities
from tests.support.wrongs import NOISE, wrongs

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from tests.support.wire import Asked
    from tests.support.wrongs import Wrong

ONE_BLOCK = meter_map((0, 6))
EQUAL_BLOCKS = meter_map((0, 6), (20, 6), (40, 6))
MIXED_BLOCKS = meter_map((0, 8), (20, 6), (40, 4))
NOT_ASCII = ["modbus-rtu", "modbus-rtu-over-tcp", "modbus-tcp"]
BLIND = ["modbus-rtu", "modbus-rtu-over-tcp"]
"""Replies carry no number here, nor in ASCII, which has the link and the worker of RTU."""


@pytest.fixture(autouse=True)
def _short_backoff(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ask a failing meter twenty times as often as on a real bus, and forget as fast: less waiting, and harder."""
    monkeypatch.setattr("drivers.bus.schedule.FIRST_BACKOFF_S", 0.05)
    monkeypatch.setattr("drivers.bus.schedule.LONGEST_BACKOFF_S", 0.2)
    monkeypatch.setattr("drivers.bus.resync.SETTLE_S", 1.0)


def once(
    wrong: Callable[[Asked], Sequence[bytes | float]], unit: int = 1
) -> Callable[[Asked], Sequence[bytes | float]]:
    """Make a script that does ``wrong`` on the next request to ``unit`` and answers rightly after it."""
    left = [wrong]

    def script(asked: Asked) -> Sequence[bytes | float]:
        return left.pop()(asked) if left and asked.unit == unit else answer(asked)

    return script


@pytest.mark.parametrize(("protocol", "wrong"), [(p, w) for p in NOT_ASCII for w in wrongs(p)])
def test_one_wrong_reply_spoils_no_reading(protocol: str, wrong: str, tmp_path: Path) -> None:
    """Two meters; one reply goes wrong: every good value before, during and after is its own."""
    with line(protocol, tmp_path, timeout_s=0.04) as bus, Watched(bus, EQUAL_BLOCKS, (1, 2)) as watched:
        watched.good()
        bus.responder.script = once(wrongs(protocol)[wrong])
        watched.good(number=3)
    assert watched.wrong() == []


@pytest.mark.parametrize("protocol", BLIND)
@pytest.mark.parametrize("late_s", [0.06, 0.7])
@pytest.mark.parametrize("units", [(1,), (1, 2, 3)], ids=["alone", "with others"])
def test_a_late_reply_shifts_nothing(protocol: str, late_s: float, units: tuple[int, ...], tmp_path: Path) -> None:
    """A reply that comes one, two or many cycles late is never the answer to another question."""
    with line(protocol, tmp_path, timeout_s=0.04) as bus, Watched(bus, EQUAL_BLOCKS, units) as watched:
        watched.good()
        bus.responder.script = once(lambda asked: [late_s, right(asked)])
        watched.good(number=4)
    assert watched.wrong() == []


def test_a_very_late_reply_in_the_turn_of_others(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Three seconds late, among other meters' replies, while its own meter is silent: nothing shifts."""
    monkeypatch.setattr("drivers.bus.resync.SETTLE_S", SETTLE_S)
    monkeypatch.setattr("drivers.bus.schedule.LONGEST_BACKOFF_S", 1.0)
    with line("modbus-rtu", tmp_path, timeout_s=0.04) as bus, Watched(bus, ONE_BLOCK, (1, 2)) as watched:
        watched.good()
        bus.responder.script = once(lambda asked: [3.0, right(asked)])
        watched.good(unit=2, number=20)
        watched.good(unit=1)
    assert watched.wrong() == []
    assert any("silent" in qualities(poll) for poll in watched.polls if poll.unit == 1)


@pytest.mark.parametrize("protocol", BLIND)
def test_a_meter_that_is_always_too_slow_gives_no_reading_and_spoils_none(protocol: str, tmp_path: Path) -> None:
    """Every reply of unit 1 comes after the timeout: it has gaps, unit 2 its own values."""

    def slow(asked: Asked) -> Sequence[bytes | float]:
        return [0.07, right(asked)] if asked.unit == 1 else [right(asked)]

    with line(protocol, tmp_path, timeout_s=0.04) as bus, Watched(bus, ONE_BLOCK, (1, 2)) as watched:
        bus.responder.script = slow
        watched.good(unit=2, number=12)
        watched.until(lambda polls: any(poll.unit == 1 for poll in polls))
        bus.responder.script = answer
        watched.good()
    assert watched.wrong() == []


@pytest.mark.parametrize("protocol", BLIND)
@pytest.mark.parametrize("used", [ONE_BLOCK, EQUAL_BLOCKS, MIXED_BLOCKS], ids=["one", "equal", "mixed"])
@pytest.mark.parametrize("after_s", [0.0, 0.03])
def test_a_reply_that_comes_twice_is_used_once(protocol: str, used: MeterMap, after_s: float, tmp_path: Path) -> None:
    """The second copy comes at once, or in the middle of the next exchange."""
    with line(protocol, tmp_path, timeout_s=0.06) as bus, Watched(bus, used, (1, 2)) as watched:
        watched.good()
        bus.responder.script = once(lambda asked: [right(asked), after_s, right(asked)])
        watched.good(number=4)
    assert watched.wrong() == []


@pytest.mark.parametrize("protocol", BLIND)
@pytest.mark.parametrize("used", [ONE_BLOCK, EQUAL_BLOCKS, MIXED_BLOCKS], ids=["one", "equal", "mixed"])
@pytest.mark.parametrize("units", [(1,), (1, 2)], ids=["alone", "with another"])
def test_a_second_copy_in_place_of_a_lost_reply(
    protocol: str, used: MeterMap, units: tuple[int, ...], tmp_path: Path
) -> None:
    """A reply comes twice, the second time when the next question is under way, whose own reply never comes.

    There is one reply to each request and every one has the right form: only what is in them tells.
    """
    turn = itertools.count()

    def script(asked: Asked) -> Sequence[bytes | float]:
        if asked.unit != 1:
            return answer(asked)
        number = next(turn) % 5
        if number == 1:
            return [right(asked), 0.015, right(asked)]
        return [] if number == 2 else [right(asked)]

    with line(protocol, tmp_path, timeout_s=0.04) as bus, Watched(bus, used, units) as watched:
        bus.responder.script = script
        watched.until(lambda polls: sum(poll.unit == 1 for poll in polls) >= 12)
        bus.responder.script = answer
        watched.good()
    assert watched.wrong() == []


@pytest.mark.parametrize("protocol", BLIND)
def test_a_gateway_that_sends_twice_and_answers_slowly(protocol: str, tmp_path: Path) -> None:
    """A second copy that arrives before the next block's own reply is found out before the poll is handed on."""
    done: list[int] = []

    def script(asked: Asked) -> Sequence[bytes | float]:
        if asked.unit == 1 and asked.address == 0 and len(done) < 3:
            done.append(asked.number)
            return [0.02, right(asked), 0.008, right(asked)]
        return [0.02, right(asked)]

    with line(protocol, tmp_path, timeout_s=0.1) as bus, Watched(bus, EQUAL_BLOCKS, (1, 2)) as watched:
        bus.responder.script = script
        watched.good(number=4)
    assert len(done) == 3
    assert watched.wrong() == []


@pytest.mark.parametrize("protocol", BLIND)
def test_single_registers_leave_no_probe_and_still_nothing_shifts(
    protocol: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A map of one register, and a meter that refuses to read past it: the late reply is waited out, then suspect."""
    monkeypatch.setattr("drivers.bus.resync.SETTLE_S", 0.5)
    used = MeterMap("one", "the tests' own", (Value("ch0", "volts", Table.INPUT, 0, "u16", scale=0.1),), max_gap=0)

    def reply(asked: Asked) -> bytes:
        if asked.count != 1:
            return asked.refusal(2)
        return asked.frame(asked.registers([1000 + asked.number]))

    late = [0.1]

    def script(asked: Asked) -> Sequence[bytes | float]:
        return [late.pop(), reply(asked)] if late else [reply(asked)]

    with line(protocol, tmp_path, timeout_s=0.04) as bus:
        bus.responder.script = script
        with Watched(bus, used, (1,)) as watched:
            watched.until(lambda polls: any(qualities(p) == {"good"} for p in polls))
            watched.good()
    assert any("suspect" in qualities(poll) for poll in watched.polls)
    for poll in watched.polls:
        begin_s = poll.at.mono_s - poll.latency_s
        given = {(1000 + a.number) * 0.1 for a in bus.responder.asked if begin_s <= a.at_s <= poll.at.mono_s}
        assert poll.channels[0].values.volts is None or poll.channels[0].values.volts in given


@pytest.mark.parametrize("protocol", MODBUS_PROTOCOLS)
@pytest.mark.parametrize("code", [0x02, 0x03, 0x06, 0x0B, 0x42])
def test_a_refusing_meter_has_refused_gaps_and_comes_back(protocol: str, code: int, tmp_path: Path) -> None:
    """Unit 1 refuses everything for a while; unit 2 goes on; then unit 1 is read again."""
    with line(protocol, tmp_path, timeout_s=0.2) as bus, Watched(bus, ONE_BLOCK, (1, 2)) as watched:
        bus.responder.script = lambda asked: [asked.refusal(code) if asked.unit == 1 else right(asked)]
        polls = watched.until(lambda polls: any(qualities(poll) == {"refused"} for poll in polls if poll.unit == 1))
        assert f"{code:02X}" in next(poll for poll in polls if qualities(poll) == {"refused"}).channels[0].detail
        watched.good(unit=2)
        bus.responder.script = answer
        watched.good()
    assert watched.wrong() == []


@pytest.mark.parametrize("protocol", MODBUS_PROTOCOLS)
def test_one_refused_block_costs_only_its_own_channels(protocol: str, tmp_path: Path) -> None:
    """The meter lives: what it does give is read at the full rate."""
    with line(protocol, tmp_path) as bus:
        bus.responder.script = lambda asked: [asked.refusal(2) if asked.address == 20 else right(asked)]
        with Watched(bus, MIXED_BLOCKS, (1,)) as watched:
            polls = watched.until(lambda polls: len(polls) >= 10, within_s=2.0)
    assert {tuple(c.quality.value for c in poll.channels) for poll in polls} == {("good", "refused", "good")}
    assert watched.wrong() == []


@pytest.mark.parametrize("protocol", ["modbus-rtu", "modbus-ascii"])
def test_a_second_of_noise_ends_in_gaps_then_good_readings(protocol: str, tmp_path: Path) -> None:
    """Noise over everything: gaps, few of them, and within seconds of its end every meter is good again."""
    with line(protocol, tmp_path, timeout_s=0.05) as bus, Watched(bus, ONE_BLOCK, (1, 2)) as watched:
        assert bus.cable is not None
        watched.good()
        before, end_s = len(watched.polls), time.monotonic() + 1.0
        while time.monotonic() < end_s:
            bus.cable.inject(NOISE)
            time.sleep(0.005)
        assert len(watched.polls) - before < 30
        watched.good()
    assert watched.wrong() == []


@pytest.mark.parametrize("protocol", ["modbus-rtu", "modbus-rtu-over-tcp"])
def test_a_click_after_every_reply_does_no_harm(protocol: str, tmp_path: Path) -> None:
    """A stray byte each time the line turns round is no reply: every poll is good."""
    with line(protocol, tmp_path) as bus:
        bus.responder.script = lambda asked: [right(asked) + b"\x00"]
        with Watched(bus, ONE_BLOCK, (1, 2)) as watched:
            polls = watched.until(lambda polls: len(polls) >= 10)
    assert {quality for poll in polls for quality in qualities(poll)} == {"good"}
    assert watched.wrong() == []


@pytest.mark.parametrize(
    "missing", [b"\x7f\xc0\x00\x00", b"\x7f\x80\x00\x00", b"\xff\x80\x00\x00", b"\xc3\x02\xc1\x4e"]
)
def test_numbers_that_can_not_be_are_no_reading(missing: bytes, tmp_path: Path) -> None:
    """NaN, both infinities, and 120.3 V in another word order: a gap with its reason, and the next poll is good."""

    def impossible(asked: Asked) -> Sequence[bytes | float]:
        return [asked.frame(bytes([asked.function, 12]) + missing * 3)]

    used = replace(ONE_BLOCK, values=tuple(replace(v, channel=v.quantity, quantity="volts") for v in ONE_BLOCK.values))
    with line("modbus-rtu", tmp_path) as bus, Watched(bus, used, (1,)) as watched:
        bus.responder.script = impossible
        polls = watched.until(lambda polls: any(qualities(poll) == {"implausible"} for poll in polls))
        assert all(c.values.volts is None for poll in polls for c in poll.channels if c.quality is Quality.IMPLAUSIBLE)
        bus.responder.script = answer
        watched.good()
    assert watched.wrong() == []


def test_a_sentinel_is_not_measured(tmp_path: Path) -> None:
    """The map's pattern for "no value" gives None in a good reading."""
    used = replace(ONE_BLOCK, values=tuple(replace(v, missing=(0x7FC00000,)) for v in ONE_BLOCK.values))
    with line("modbus-rtu", tmp_path) as bus:
        bus.responder.script = lambda asked: [asked.frame(asked.registers(([0x7FC0, 0] * 60)[: asked.count]))]
        with Watched(bus, used, (1,)) as watched:
            polls = watched.good()
    assert {(c.quality, c.values.volts) for poll in polls for c in poll.channels} == {(Quality.GOOD, None)}


@pytest.mark.parametrize("numbers", [[5, 5, 5, 5], [5, 6, 4_000, 4_001], [4_000, 3, 4]], ids=["frozen", "up", "down"])
def test_a_counter_is_delivered_as_it_is_read(numbers: list[int], tmp_path: Path) -> None:
    """Frozen or jumping: what the meter says is what is read; judging it is not the bus's business."""
    used = MeterMap("count", "the tests' own", (Value("ch0", "watt_hours", Table.INPUT, 0, "u32"),))
    left = list(numbers)

    def count(asked: Asked) -> Sequence[bytes | float]:
        number = left.pop(0) if asked.count == 2 and len(left) > 1 else left[0]
        return [asked.frame(asked.registers([0, number, *[0] * 120][: asked.count]))]

    with line("modbus-rtu", tmp_path) as bus:
        bus.responder.script = count
        with Watched(bus, used, (1,)) as watched:
            polls = watched.good(number=len(numbers))
    assert [poll.channels[0].values.watt_hours for poll in polls][: len(numbers)] == numbers


@pytest.mark.parametrize("protocol", BLIND)
@pytest.mark.parametrize("other", ["silent", "refused", "answered"])
def test_numbers_that_stand_still_are_read(protocol: str, other: str, tmp_path: Path) -> None:
    """The same reply every time, from a meter that answers its block and nothing else, refuses the rest, or not."""

    def script(asked: Asked) -> Sequence[bytes | float]:
        if asked.count != 6 and other != "answered":
            return [] if other == "silent" else [asked.refusal(2)]
        return [asked.frame(asked.registers(([0x42F0, 0] * 60)[: asked.count]))]

    with line(protocol, tmp_path, timeout_s=0.15) as bus:
        bus.responder.script = script
        with Watched(bus, ONE_BLOCK, (1, 2)) as watched:
            watched.until(lambda polls: len(polls) > 30, within_s=20.0)
            watched.good(number=5)
            polls = watched.until(lambda polls: len(polls) >= 20)
    assert {quality for poll in polls for quality in qualities(poll)} == {"good"}


def test_numbers_that_stand_still_cost_nothing_on_a_quiet_line(tmp_path: Path) -> None:
    """A reply that repeats is read again once, after something else; then it is believed until it moves."""
    with line("modbus-rtu", tmp_path) as bus:
        bus.responder.script = lambda asked: [asked.frame(asked.registers(([0x42F0, 0] * 60)[: asked.count]))]
        with Watched(bus, ONE_BLOCK, (1, 2)) as watched:
            watched.good(number=10)
        asked = [asked.count for asked in bus.responder.asked if asked.unit == 1]
    others = [place for place, count in enumerate(asked) if count != 6]
    assert len(others) == 1, asked
    assert asked[others[0] + 1 :] == [6] * (len(asked) - others[0] - 1)


def test_a_step_of_the_clock_disturbs_no_poll(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The wall clock jumps back an hour and on by a day while polling: the polls go on, in monotonic order."""
    step_ms = [0]
    true_ns = time.time_ns
    monkeypatch.setattr("drivers.clock.time.time_ns", lambda: true_ns() + step_ms[0] * 1_000_000)
    with line("modbus-rtu", tmp_path, interval_s=0.02) as bus, Watched(bus, ONE_BLOCK, (1, 2)) as watched:
        watched.good()
        for step_ms[0] in (-3_600_000, 86_400_000):
            watched.good(number=3)
    assert all(qualities(poll) == {"good"} for poll in watched.polls)
    at = [poll.at.mono_s for poll in watched.polls]
    assert at == sorted(at)
    assert watched.wrong() == []


def mixed_faults(protocol: str, seed: int, share: float) -> Callable[[Asked], Sequence[bytes | float]]:
    """Make a script that does something wrong with ``share`` of the requests."""
    chance = random.Random(seed)
    kinds: list[Wrong] = [*wrongs(protocol).values()]
    kinds += [lambda asked: [asked.refusal(6)], lambda asked: [0.03, asked.refusal(6)]]
    kinds += [lambda asked: [right(asked), chance.choice((0.0, 0.003, 0.01, 0.03)), right(asked)]] * 4
    kinds += [lambda asked: [chance.choice((0.03, 0.06, 0.2)), right(asked)]] * 6
    kinds += [lambda _: []] * 3

    def script(asked: Asked) -> Sequence[bytes | float]:
        if chance.random() < share:
            return chance.choice(kinds)(asked)
        return [chance.choice((0.0, 0.001, 0.004)), right(asked)]

    return script


@pytest.mark.parametrize(
    ("protocol", "used"),
    [*((protocol, EQUAL_BLOCKS) for protocol in MODBUS_PROTOCOLS), ("modbus-rtu", ONE_BLOCK)],
    ids=[*(f"{protocol}, equal blocks" for protocol in MODBUS_PROTOCOLS), "modbus-rtu, one block"],
)
def test_soak_with_everything_going_wrong(protocol: str, used: MeterMap, tmp_path: Path) -> None:
    """Seconds of mixed faults, a quarter of all replies wrong, late or doubled: not one wrong value."""
    with line(protocol, tmp_path, timeout_s=0.02) as bus:
        bus.responder.script = mixed_faults(protocol, 20260731, 0.25)
        with Watched(bus, used, (1, 2, 3)) as watched:
            end_s = time.monotonic() + 1.0
            while time.monotonic() < end_s:
                time.sleep(0.05)
            bus.responder.script = answer
            watched.good()
    assert watched.wrong() == []
    assert sum(qualities(poll) == {"good"} for poll in watched.polls) > 6
