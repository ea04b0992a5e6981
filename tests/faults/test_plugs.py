"""Adapters that are pulled out, renamed and put back under a running logger: two of them, and the hub of both."""

from __future__ import annotations

import sqlite3
import time
from contextlib import ExitStack
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pytest

from monitor.recorder.recorder import Recorder
from monitor.show.loading import load_show
from tests.support.cable import Cable
from tests.support.measured import Measured
from tests.support.responder import Responder, answer
from tests.support.sets import SHOW

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from monitor.engine.snapshot import Snapshot

WITHIN_S = 15.0
_BUS = """
[[bus]]
id = "{name}"
port = "{port}"
protocol = "modbus-rtu"
baud = 115200
poll_seconds = 0.2
timeout_seconds = 0.2

[[meter]]
bus = "{name}"
unit = 1
map = "responder"
points = {{ ch0 = "{point}" }}
"""
MAP = """
[meter]
name = "What the tests' responder gives"
source = "tests/support/responder.py: a float32 at every even address"
protocol = "modbus"
table = "input"
address_base = 0
word_order = "ABCD"

[[value]]
channel = "ch0"
quantity = "volts"
address = 0
encoding = "float32"

[[example]]
at = 0
words = ["0x42F0", "0x0000"]
expect = { ch0 = { volts = 120.0 } }
"""


@dataclass
class Hub:
    """Two adapters and the logger that reads through them."""

    cables: tuple[Cable, Cable]
    recorder: Recorder
    log: Path

    def live(self) -> list[str]:
        """Name the circuits that are live."""
        return [circuit.id for circuit in self.recorder.snapshot().circuits if circuit.measured.live]

    def until(self, holds: Callable[[Snapshot], bool]) -> float:
        """Wait; give how long [s]."""
        begun_s = time.monotonic()
        while not holds(self.recorder.snapshot()):
            assert time.monotonic() - begun_s < WITHIN_S, f"{self.live()} {self.recorder.snapshot().wrong}"
            time.sleep(0.02)
        return time.monotonic() - begun_s

    def until_live(self, *names: str) -> float:
        """Wait until just these circuits are live; give how long [s]."""
        return self.until(lambda _: self.live() == list(names))


@pytest.fixture
def hub(tmp_path: Path) -> Iterator[Hub]:
    """Give two buses on pseudo-terminals with a meter each, and a logger that has read both."""
    head = SHOW.format(port=1).partition("[[bus]]")[0].replace("[alarms]", "[alarms]\nold_after_seconds = 1")
    with ExitStack() as stack:
        parts, cables = [head], []
        for name, point in (("one", "A1"), ("two", "A2")):
            folder = tmp_path / name
            folder.mkdir()
            cable = stack.enter_context(Cable(folder))
            stack.enter_context(Responder(cable.far)).script = answer
            parts.append(_BUS.format(name=name, port=cable.near, point=point))
            cables.append(cable)
        (tmp_path / "show.toml").write_text("".join(parts))
        (tmp_path / "responder.toml").write_text(MAP)
        log = tmp_path / "log.sqlite"
        recorder = stack.enter_context(Recorder(load_show(tmp_path / "show.toml"), log, 0.2))
        found = Hub((cables[0], cables[1]), recorder, log)
        found.until_live("A1", "A2")
        yield found


def gaps(log: Path) -> set[str]:
    """Name the points with a gap for silence."""
    db = sqlite3.connect(f"file:{log}?mode=ro", uri=True)
    found = {point for (point,) in db.execute("SELECT point FROM gaps WHERE reason = 'silent'")}
    db.close()
    return found


def test_one_adapter_of_two(hub: Hub, record_property: Callable[[str, object], None]) -> None:
    """The other one's circuits stay live; the pulled one's are silent with the reason, and come back by themselves."""
    first = hub.cables[0]
    first.unplug()
    hub.until_live("A2")
    hub.until(lambda s: any((alarm.code, alarm.where) == ("meter-silent", "one:1") for alarm in s.wrong))
    hub.until(lambda s: "is not there" in s.buses[0].problem)
    first.replug()
    back_s = hub.until_live("A1", "A2")
    lost, how = 2 - len(hub.live()), "one of two pseudo-terminals, put back"
    Measured("adapter pulled out", how, 1, lost, 2, "circuits not back", back_s).keep(record_property)
    assert gaps(hub.log) == {"A1"}


def test_back_under_another_name(hub: Hub) -> None:
    """Another name is another port: ours is said to be missing until it is back under its own."""
    first = hub.cables[0]
    ours = first.near
    first.unplug()
    first.replug(ours.with_name("other"))
    hub.until_live("A2")
    first.unplug()
    first.replug(ours)
    hub.until_live("A1", "A2")


def test_a_hub_that_resets(hub: Hub, record_property: Callable[[str, object], None]) -> None:
    """Both go at once and come back one after the other, twice: both are read again, each gap is kept."""
    longest_s = 0.0
    for _ in range(2):
        for cable in hub.cables:
            cable.unplug()
        hub.until_live()
        for cable in hub.cables:
            cable.replug()
        longest_s = max(longest_s, hub.until_live("A1", "A2"))
    lost, how = 2 - len(hub.live()), "two pseudo-terminals gone at once"
    Measured("hub reset", how, 2, lost, 2, "circuits not back", longest_s).keep(record_property)
    assert gaps(hub.log) == {"A1", "A2"}


def test_the_two_swap_names(hub: Hub) -> None:
    """Names swapped while out: each name is read as what the show says of it, and nothing is taken for live before."""
    one, two = hub.cables
    names = one.near, two.near
    for cable in hub.cables:
        cable.unplug()
    hub.until_live()
    one.replug(names[1])
    two.replug(names[0])
    hub.until_live("A1", "A2")
