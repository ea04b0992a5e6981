"""Contract of every register map that comes with legwatch: it loads, and what goes in comes out."""

from __future__ import annotations

import dataclasses
import struct
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.maps.blocks import plan_blocks
from drivers.maps.decode import decode_poll
from drivers.maps.encode import encode_image
from drivers.maps.mapfile import load_map
from drivers.reading import ChannelReading, Quality, Values

if TYPE_CHECKING:
    from drivers.maps.model import MeterMap, Value

METERS = Path(__file__).parents[3] / "config" / "meters"
FILES = [path for path in sorted(METERS.glob("*.toml")) if 'protocol = "modbus"' in path.read_text(encoding="utf-8")]
MAPS = {path.stem: load_map(path) for path in FILES}
FINEST = -2  # power of ten that the round trip puts into scale registers


def test_there_are_maps() -> None:
    """The folder is found, with the layouts that the example show files name."""
    assert {"three-channel", "six-channel", "single-circuit", "two-leg-source"} <= MAPS.keys()


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_each_says_that_no_maker_made_it(path: Path) -> None:
    """The maps are ours and say so; a name stands once."""
    meter_map = MAPS[path.stem]
    assert "legwatch generic example: no maker's document" in meter_map.source
    assert [other.name for other in MAPS.values()].count(meter_map.name) == 1


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_channel_and_quantity_kind_is_in_an_example(path: Path) -> None:
    """The examples vouch for each quantity of the map, on some channel at least."""
    examples = tomllib.loads(path.read_text(encoding="utf-8"))["example"]
    vouched = {quantity for example in examples for expected in example["expect"].values() for quantity in expected}
    assert vouched == {value.quantity for value in MAPS[path.stem].values}


@pytest.mark.parametrize("name", MAPS)
def test_one_read_fetches_it_all(name: str) -> None:
    """Our own layouts are laid out well: a poll is one read."""
    assert len(plan_blocks(MAPS[name])) == 1


def test_the_first_example_is_the_number_that_ieee_754_gives() -> None:
    """0x42F00000 is 120.0 in binary32, by ``struct``."""
    (volts,) = struct.unpack(">f", bytes.fromhex("42F00000"))
    assert volts == 120.0


def step_of(value: Value) -> float:
    """Give the smallest step an integer encoding can show [the quantity's unit]; 0 for a float."""
    if value.encoding.startswith("float"):
        return 0.0
    return value.scale * (10.0**FINEST if value.scale_from is not None else 1.0)


def likely(value: Value) -> st.SearchStrategy[float]:
    """Draw what a set's meter could read, within what each of our maps can show."""
    low, high = {
        "volts": (0.0, 300.0),
        "amps": (0.0, 400.0),
        "hertz": (0.0, 70.0),
        "watts": (-30_000.0, 30_000.0),
        "power_factor": (-1.0, 1.0),
        "watt_hours": (0.0, 1e7),
    }[value.quantity]
    return st.floats(low, high)


@pytest.mark.parametrize("name", MAPS)
@given(data=st.data())
def test_what_goes_in_comes_out(name: str, data: st.DataObject) -> None:
    """Likely values written to registers and polled come back, to the step of their encoding."""
    meter_map = MAPS[name]
    put = {(v.channel, v.quantity): data.draw(likely(v)) for v in meter_map.values}
    shared = {v.address: (v.channel, v.quantity) for v in meter_map.values}  # a register shown on several channels
    put = {(v.channel, v.quantity): put[shared[v.address]] for v in meter_map.values}
    channels = {c: Values(**{q: n for (of, q), n in put.items() if of == c}) for c in meter_map.channels}
    readings = decode_poll(meter_map, plan_blocks(meter_map), encode_image(meter_map, channels, FINEST), {})
    assert [(r.channel, r.quality, r.detail) for r in readings] == [(c, Quality.GOOD, "") for c in meter_map.channels]
    by_channel = {reading.channel: reading.values for reading in readings}
    for value in meter_map.values:
        found = getattr(by_channel[value.channel], value.quantity)
        assert found == pytest.approx(put[value.channel, value.quantity], rel=1e-6, abs=step_of(value) / 2 + 1e-6)


@pytest.mark.parametrize("name", MAPS)
def test_no_value_comes_out_as_no_value(name: str) -> None:
    """A meter that measures nothing gives good readings without a single number."""
    meter_map: MeterMap = MAPS[name]
    readings = decode_poll(meter_map, plan_blocks(meter_map), encode_image(meter_map, {}), {})
    assert readings == tuple(ChannelReading(channel) for channel in meter_map.channels)


@pytest.mark.parametrize("name", MAPS)
def test_no_two_values_clash(name: str) -> None:
    """Values share registers only where they are one and the same number shown on several channels."""
    seen: dict[tuple[str, int], Value] = {}
    for value in MAPS[name].values:
        before = seen.setdefault((value.table, value.address), value)
        assert dataclasses.replace(before, channel="") == dataclasses.replace(value, channel="")
