"""Every way to read registers, held against Python's own struct."""

from __future__ import annotations

import struct

from hypothesis import given
from hypothesis import strategies as st

from drivers.probe.ways import Way, alike, find, narrow, ways_at

FORMS = {"u16": "H", "i16": "h", "u32": "I", "i32": "i", "u64": "Q", "i64": "q", "float32": "f", "float64": "d"}


def laid(value: float, encoding: str, order: str, at: int) -> dict[int, int]:
    """Lay a value into registers as a meter of that word order would."""
    raw = struct.pack(">" + FORMS[encoding], value)
    words = [raw[i : i + 2] for i in range(0, len(raw), 2)]
    if order in ("CDAB", "DCBA"):
        words.reverse()
    if order in ("BADC", "DCBA"):
        words = [word[::-1] for word in words]
    return {at + i: int.from_bytes(word, "big") for i, word in enumerate(words)}


@given(
    st.sampled_from(list(ways_at(40))),
    st.floats(min_value=45, max_value=480, allow_nan=False),
    st.sampled_from([0.1, 0.01, 1.0]),
)
def test_what_a_meter_holds_is_found_however_it_is_laid(way: Way, value: float, scale: float) -> None:
    """Any encoding, any order, a usual scale: the way is among those found, and reads the value."""
    whole = not way.encoding.startswith("float")
    raw = round(value / scale) if whole else value
    if whole and raw >= 1 << 15 and way.encoding in ("i16", "u16"):
        raw = round(value)
        scale = 1.0
    scale = scale if whole else 1.0
    registers = laid(raw, way.encoding, way.word_order, way.address)
    found = find(registers, value, 0.012)
    wanted = Way(way.address, way.encoding, way.word_order, scale)
    assert wanted in found
    assert abs((wanted.value(registers) or 0.0) - value) <= 0.012 * value


def test_the_plainest_way_comes_first() -> None:
    """A float in plain order is named before what fits by chance."""
    registers = laid(121.3, "float32", "ABCD", 10) | laid(1213, "u16", "ABCD", 20)
    assert find(registers, 121.3, 0.001)[0] == Way(10, "float32", "ABCD")


def test_a_second_value_leaves_what_follows_it() -> None:
    """Two registers read the same first; the one that moved with the instrument stays."""
    first = laid(12.0, "float32", "CDAB", 0) | laid(12.0, "float32", "CDAB", 2)
    found = find(first, 12.0, 0.01)
    later = laid(12.0, "float32", "CDAB", 0) | laid(17.5, "float32", "CDAB", 2)
    assert {way.address for way in narrow(found, later, 17.5, 0.01)} == {2}


def test_small_numbers_read_the_same_in_several_widths() -> None:
    """Nothing measured by hand tells u16 from the low end of u32: they are told as one."""
    registers = laid(121, "u32", "ABCD", 4)
    (group,) = alike(find(registers, 121.0, 0.001))
    assert {way.encoding for way in group} >= {"u16", "i16", "u32", "i32"}
    assert group[0].encoding == "u16"


def test_a_register_that_is_missing_gives_nothing() -> None:
    """Half a number is no number."""
    assert Way(3, "float32", "ABCD").value({3: 0x42F0}) is None


def test_what_is_no_number_is_not_found() -> None:
    """NaN and infinities never fit."""
    assert find(laid(float("nan"), "float32", "ABCD", 0), 120.0, 0.5) == ()
