"""Contract of every map in config/meters, whatever it maps: served on a wire as its examples have it, and read back.

It finds the maps by itself.
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from drivers.bus.settings import BusSettings, MeterSettings
from drivers.bus.worker import BusWorker
from drivers.fields.mapfile import load_any_map
from drivers.fields.model import FieldMap
from drivers.listening.worker import FieldMeter, ListeningWorker
from drivers.maps.model import Table
from drivers.virtual.serial_slave import SerialSlave
from tests.support.cable import Cable
from tests.support.senders import printing
from tests.support.telegrams import checked

if TYPE_CHECKING:
    from drivers.maps.model import MeterMap
    from drivers.reading import MeterPoll

FILES = sorted((Path(__file__).parents[3] / "config" / "meters").glob("*.toml"))
CASES = [
    (path, number)
    for path in FILES
    for number in range(len(tomllib.loads(path.read_text(encoding="utf-8"))["example"]))
]


def test_there_are_maps_of_every_kind() -> None:
    """Registers, text and telegrams."""
    kinds = {getattr(load_any_map(path), "protocol", "modbus") for path in FILES}
    assert kinds == {"modbus", "text", "iec62056-21"}


@pytest.mark.parametrize(("path", "number"), CASES, ids=lambda one: getattr(one, "stem", one))
def test_an_example_is_read_back(path: Path, number: int, tmp_path: Path) -> None:
    """Every channel and quantity that the example names."""
    example = tomllib.loads(path.read_text(encoding="utf-8"))["example"][number]
    loaded = load_any_map(path)
    if isinstance(loaded, FieldMap):
        poll = _sent(loaded, example, tmp_path)
    else:
        poll = _answered(loaded, path, example, tmp_path)
    found = {reading.channel: reading.values for reading in poll.channels}
    for channel, expected in example["expect"].items():
        given = {quantity: getattr(found[channel], quantity) for quantity in expected}
        assert given == pytest.approx(expected, rel=1e-6), channel


def _sent(loaded: FieldMap, example: dict[str, Any], directory: Path) -> MeterPoll:
    """Have a far end send the example's text again and again; read once."""
    text = example["text"]
    message = text.encode() + b"\r\n" if loaded.protocol == "text" else checked(text)
    with Cable(directory) as cable, printing(cable.far, lambda _: message, 0.1):
        bus = BusSettings("b", loaded.protocol, port=str(cable.near), baud=115200, timeout_s=0.4)
        worker = ListeningWorker(bus, [FieldMeter(1, loaded)], lambda _: None)
        (poll,) = worker.poll_once()
        worker.stop()
    return poll


def _answered(loaded: MeterMap, path: Path, example: dict[str, Any], directory: Path) -> MeterPoll:
    """Have a virtual meter hold the example's registers, and 0 in all others; read once."""
    meter = tomllib.loads(path.read_text(encoding="utf-8"))["meter"]
    first = example["at"] - meter.get("address_base", 0)
    table = Table(example.get("table", meter["table"]))
    words = {(table, first + offset): int(str(word), 0) for offset, word in enumerate(example["words"])}
    slave = SerialSlave(
        lambda _, of, address, count: [words.get((of, at), 0) for at in range(address, address + count)],
        directory / "meter",
    )
    slave.start()
    try:
        bus = BusSettings("b", "modbus-rtu", port=str(directory / "meter"), baud=115200, timeout_s=1.0)
        worker = BusWorker(bus, [MeterSettings(1, loaded)], lambda _: None)
        (poll,) = worker.poll_once()
        worker.stop()
    finally:
        slave.stop()
    return poll
