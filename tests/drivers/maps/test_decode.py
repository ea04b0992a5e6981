"""Polls into readings: what can't be is a gap with its reason, and the rest stands."""

from __future__ import annotations

import dataclasses
import struct
from fractions import Fraction
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.errors import Corrupt, LinkDown, LinkError, Refused, Silent, Suspect
from drivers.maps.blocks import plan_blocks
from drivers.maps.decode import PRIMARY, decode_poll
from drivers.maps.encode import encode_image
from drivers.maps.encodings import WORDS
from drivers.maps.model import Block, MeterMap, Table, Value
from drivers.quantities import QUANTITIES
from drivers.reading import ChannelReading, Quality, Values
from tests.drivers.maps.strategies import meter_maps

if TYPE_CHECKING:
    from collections.abc import Mapping

    Image = Mapping[tuple[Table, int], int]

FORMATS = {"u16": "H", "i16": "h", "u32": "I", "i32": "i", "u64": "Q", "i64": "q", "float32": "f", "float64": "d"}
NAN = (0x7FC0, 0x0000)


def bench(*values: Value, max_gap: int = 8) -> MeterMap:
    """Make a map of ``values``."""
    return MeterMap("bench", "invented", values, max_gap=max_gap)


def real(channel: str, quantity: str, address: int, **more: Any) -> Value:
    """Make a float32 input value, or what ``more`` says."""
    return dataclasses.replace(Value(channel, quantity, Table.INPUT, address, "float32"), **more)


def holding(*words: int, at: int = 0) -> dict[tuple[Table, int], int]:
    """Give an image of input registers."""
    return {(Table.INPUT, at + offset): word for offset, word in enumerate(words)}


def poll(meter_map: MeterMap, image: Image, failures: Mapping[Block, LinkError] | None = None) -> ChannelReading:
    """Decode a poll of a map with one channel."""
    (reading,) = decode_poll(meter_map, plan_blocks(meter_map), image, failures or {})
    return reading


def floats(*numbers: float) -> tuple[int, ...]:
    """Write numbers as big-endian binary32 registers."""
    return struct.unpack(f">{2 * len(numbers)}H", struct.pack(f">{len(numbers)}f", *numbers))


def test_the_glossary_and_the_values_have_the_same_names() -> None:
    """Every quantity has its field and every field its quantity; primary ones are among them."""
    assert [field.name for field in dataclasses.fields(Values)] == list(QUANTITIES)
    assert set(QUANTITIES) > PRIMARY


def test_a_good_poll() -> None:
    """Values land under their names, and nothing is told."""
    found = poll(bench(real("ch1", "volts", 0), real("ch1", "amps", 2)), holding(*floats(120.0, 12.5)))
    assert found == ChannelReading("ch1", Quality.GOOD, Values(volts=120.0, amps=12.5))


def exact(value: Value, image: Image) -> Fraction | None:
    """Work a value out in exact fractions; ``None`` where it is no finite number or its scale can't be."""
    swap = value.word_order in ("BADC", "CDAB")
    form = (">" if value.word_order in ("ABCD", "BADC") else "<") + FORMATS[value.encoding]
    words = [image[value.table, value.address + i] for i in range(WORDS[value.encoding])]
    data = b"".join(word.to_bytes(2, "little" if swap else "big") for word in words)
    raw = struct.unpack(form, data)[0]
    if raw != raw or raw in (float("inf"), float("-inf")):  # noqa: PLR0124 - NaN is what differs from itself
        return None
    result = Fraction(raw) * Fraction(value.scale)
    if value.scale_from is not None:
        register = image[value.table, value.scale_from]
        swapped = value.word_order in ("BADC", "DCBA")
        exponent = int.from_bytes(register.to_bytes(2, "little" if swapped else "big"), "big", signed=True)
        return result * Fraction(10) ** exponent if abs(exponent) <= 10 else None
    return result


def likely(quantity: str, number: Fraction | None) -> bool:
    """Say whether ``number`` lies in the quantity's plausible range."""
    return number is not None and QUANTITIES[quantity].low <= number <= QUANTITIES[quantity].high


@given(meter_maps(), st.data())
def test_any_registers_give_exact_arithmetic_or_a_gap(meter_map: MeterMap, data: st.DataObject) -> None:
    """Any registers at all: each value is what exact fractions give, or None where that is implausible."""
    words = st.integers(0, 0xFFFF) | st.sampled_from([0, 1, 0xFFFF, 0xFFFE, 0x42F0, 0x8000, 0x7FC0, 0x7F80, 0x0100])
    blocks = plan_blocks(meter_map)
    image = {(b.table, b.address + i): data.draw(words) for b in blocks for i in range(b.count)}
    readings = {reading.channel: reading for reading in decode_poll(meter_map, blocks, image, {})}
    assert tuple(readings) == meter_map.channels
    spoiled: set[str] = set()
    for value in meter_map.values:
        expected, found = exact(value, image), getattr(readings[value.channel].values, value.quantity)
        if likely(value.quantity, expected):
            assert expected is not None
            assert found == pytest.approx(float(expected), rel=1e-12, abs=1e-300)
        else:
            assert found is None
            assert value.quantity in readings[value.channel].detail
            spoiled |= {value.channel} & {value.channel for _ in PRIMARY & {value.quantity}}
    for channel, reading in readings.items():
        assert reading.quality is (Quality.IMPLAUSIBLE if channel in spoiled else Quality.GOOD)


@pytest.mark.parametrize(
    "words",
    [NAN, (0xFFC0, 0x0001), (0x7F80, 0), (0xFF80, 0), floats(1001.0), floats(-0.1), (0x42F0 ^ 0x2000, 0x0000)],
    ids=["nan", "another nan", "inf", "-inf", "too high", "below zero", "flipped bit"],
)
def test_an_implausible_primary_value_spoils_the_quality_only(words: tuple[int, int]) -> None:
    """Volts that can't be are None and told of; the amps beside them stand."""
    found = poll(bench(real("ch1", "volts", 0), real("ch1", "amps", 2)), holding(*words, *floats(12.5)))
    assert found.quality is Quality.IMPLAUSIBLE
    assert found.values == Values(amps=12.5)
    assert "volts" in found.detail
    assert f"0x{words[0]:04X}{words[1]:04X}" in found.detail


@pytest.mark.parametrize("quantity", sorted(set(QUANTITIES) - PRIMARY))
def test_an_implausible_derived_value_is_told_of_and_the_channel_stays_good(quantity: str) -> None:
    """Many meters have no power factor at no current: that says nothing against volts."""
    found = poll(bench(real("ch1", "volts", 0), real("ch1", quantity, 2)), holding(*floats(120.0), *NAN))
    assert (found.quality, found.values) == (Quality.GOOD, Values(volts=120.0))
    assert quantity in found.detail


def test_a_missing_pattern_is_not_measured_and_nothing_is_told() -> None:
    """The declared pattern gives None, in ABCD order whatever the order on the wire, and only that exact pattern."""
    value = real("ch1", "volts", 0, word_order="DCBA", missing=(0x7FC00000,))
    assert poll(bench(value), holding(0x0000, 0xC07F)) == ChannelReading("ch1")
    assert poll(bench(value), holding(0x0100, 0xC07F)).quality is Quality.IMPLAUSIBLE


def test_a_missing_pattern_goes_before_a_bad_power_of_ten() -> None:
    """Where the value itself says "no value", its power of ten is of no interest."""
    value = real("ch1", "volts", 0, encoding="i16", scale_from=1, missing=(0x8000,))
    assert poll(bench(value), holding(0x8000, 0x8000)) == ChannelReading("ch1")


@pytest.mark.parametrize(("exponent", "expected"), [(0xFFFF, 120.5), (0, None), (10, None), (11, None), (0x8000, None)])
def test_a_power_of_ten_is_applied_or_refused(exponent: int, expected: float | None) -> None:
    """1205 with -1 is 120.5 exactly; 0 and 10 give implausible volts; beyond 10 is no scale (0x8000 among it)."""
    found = poll(bench(real("ch1", "volts", 0, encoding="u16", scale_from=1)), holding(1205, exponent))
    assert found.values.volts == expected
    assert found.quality is (Quality.IMPLAUSIBLE if expected is None else Quality.GOOD)
    if exponent in (11, 0x8000):
        assert "power of ten" in found.detail


@pytest.mark.parametrize(("exponent", "scale"), [(10, 1e-11), (0xFFF6, 1e9)])
def test_powers_of_ten_up_to_ten_either_way_are_taken(exponent: int, scale: float) -> None:
    """10 and -10 are still a scale (SunSpec's sunssf has this range; from memory)."""
    value = real("ch1", "volts", 0, encoding="u16", scale_from=1, scale=scale)
    assert poll(bench(value), holding(1205, exponent)).values.volts == pytest.approx(120.5)


def test_scale_and_power_of_ten_are_applied_together() -> None:
    """A factor of 0.5 and 10^-1 both count."""
    value = real("ch1", "volts", 0, encoding="u16", scale_from=1, scale=0.5)
    assert poll(bench(value), holding(2400, 0xFFFF)).values.volts == 120.0


@pytest.mark.parametrize(
    "failure",
    [Silent("no reply"), Corrupt("bad check"), Refused("exception 2", 2), LinkDown("port gone"), Suspect("late")],
)
def test_a_failed_block_gives_its_reason_and_the_rest_stands(failure: LinkError) -> None:
    """Nothing of the failed block stands, even where its registers are in the image; another block's values do."""
    meter_map = bench(real("ch1", "volts", 0), real("ch1", "amps", 50))
    _, second = plan_blocks(meter_map)
    image = holding(*floats(120.0)) | holding(*floats(12.5), at=50)
    found = poll(meter_map, image, {second: failure})
    assert found == ChannelReading("ch1", failure.quality, Values(volts=120.0), failure.detail)


def test_a_failed_block_of_another_channel_is_none_of_this_ones_business() -> None:
    """Only channels with a value in the failed block are touched."""
    meter_map = bench(real("ch1", "volts", 0), real("ch2", "volts", 50))
    blocks = plan_blocks(meter_map)
    one, two = decode_poll(meter_map, blocks, holding(*floats(120.0)), {blocks[1]: Silent("no reply")})
    assert one == ChannelReading("ch1", Quality.GOOD, Values(volts=120.0))
    assert two == ChannelReading("ch2", Quality.SILENT, Values(), "no reply")


def test_a_good_block_of_the_other_table_is_no_witness() -> None:
    """Equal addresses in the two tables are different registers: one block's success says nothing of the other."""
    meter_map = bench(real("ch1", "volts", 0), real("ch2", "volts", 0, table=Table.HOLDING))
    blocks = plan_blocks(meter_map)
    late = {(Table.HOLDING, address): word for (_, address), word in holding(*floats(240.0)).items()}
    one, two = decode_poll(meter_map, blocks, holding(*floats(120.0)) | late, {blocks[1]: Suspect("may be late")})
    assert one == ChannelReading("ch1", Quality.GOOD, Values(volts=120.0))
    assert two == ChannelReading("ch2", Quality.SUSPECT, Values(), "may be late")


def test_a_failed_block_with_the_power_of_ten_takes_its_values_along() -> None:
    """A raw number without its power of ten is no value."""
    meter_map = bench(real("ch1", "volts", 0, encoding="u16", scale_from=40), real("ch1", "hertz", 2))
    _, scales = plan_blocks(meter_map)
    found = poll(meter_map, holding(1205, 0, *floats(60.0)) | holding(0xFFFF, at=40), {scales: Corrupt("bad check")})
    assert found == ChannelReading("ch1", Quality.CORRUPT, Values(hertz=60.0), "bad check")


def test_a_failed_block_goes_before_an_implausible_value_and_both_are_told() -> None:
    """Silence is the channel's quality; the impossible value is told of after it."""
    meter_map = bench(real("ch1", "volts", 0), real("ch1", "amps", 50))
    _, second = plan_blocks(meter_map)
    found = poll(meter_map, holding(*NAN), {second: Silent("no reply")})
    assert found.quality is Quality.SILENT
    assert found.values == Values()
    assert found.detail.startswith("no reply; volts: ")


def test_one_reason_is_told_once() -> None:
    """Two values of one failed block don't say the same twice."""
    meter_map = bench(real("ch1", "volts", 0), real("ch1", "amps", 2))
    (block,) = plan_blocks(meter_map)
    assert poll(meter_map, {}, {block: Silent("no reply")}).detail == "no reply"


def test_registers_that_nobody_read_are_a_gap() -> None:
    """A poll given up half way leaves gaps, never an error and never a number."""
    found = poll(bench(real("ch1", "volts", 0), real("ch1", "amps", 2)), holding(*floats(120.0)))
    assert found == ChannelReading("ch1", Quality.SILENT, Values(volts=120.0), "amps: was not read")


def test_a_value_read_by_another_block_too_stands() -> None:
    """Where two overlapping blocks read a value and one fails, the other's word is good."""
    meter_map = bench(real("ch1", "volts", 0))
    good, failed = Block(Table.INPUT, 0, 4), Block(Table.INPUT, 0, 2)
    (found,) = decode_poll(meter_map, (good, failed), holding(*floats(120.0)), {failed: Silent("no reply")})
    assert found.values.volts == 120.0


def test_encoding_no_value_without_a_pattern_is_refused() -> None:
    """A virtual meter can't show "no value" where the map has no pattern for it: never a 0 instead."""
    with pytest.raises(ValueError, match="no pattern"):
        encode_image(bench(real("ch1", "volts", 0, encoding="u16")), {"ch1": Values()})


def test_encoding_no_value_uses_the_pattern_or_nan() -> None:
    """The first pattern is shown, or NaN by a float without one."""
    meter_map = bench(real("ch1", "volts", 0, encoding="u16", missing=(0xFFFF, 0xFFFE)), real("ch1", "amps", 2))
    assert encode_image(meter_map, {}) == holding(0xFFFF) | holding(*NAN, at=2)


@pytest.mark.parametrize("number", [float("nan"), float("inf"), 1e9])
def test_encoding_what_does_not_fit_is_refused(number: float) -> None:
    """No number is clipped into a register."""
    with pytest.raises(ValueError, match="does not fit"):
        encode_image(bench(real("ch1", "volts", 0, encoding="u16")), {"ch1": Values(volts=number)})
