"""Register map files: what is read, and each fault with its line and key, all at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from drivers.files.faults import FileFaults
from drivers.files.located import parse
from drivers.maps.decode import decode_value
from drivers.maps.mapfile import load_map, map_from
from drivers.maps.model import MeterMap, Table, Value

if TYPE_CHECKING:
    from pathlib import Path

    from drivers.files.faults import Fault

BENCH = """\
[meter]
name = "Bench meter"
source = "invented for this test"
protocol = "modbus"
table = "input"
address_base = 0
word_order = "ABCD"
max_block = 60
max_gap = 8

[[value]]
channel = "ch1"
quantity = "volts"
address = 0
encoding = "float32"
scale = 1.0
missing = "0x7FC00000"

[[value]]
channel = "ch1"
quantity = "amps"
address = 2
encoding = "u16"
scale_from = 3

[[example]]
at = 0
words = ["0x42F0", "0x0000", "0x007B", "0xFFFF"]
expect = { ch1 = { volts = 120.0, amps = 12.3 } }
"""


def load(text: str) -> MeterMap:
    """Check a map given as text."""
    return map_from(parse(text, "bench.toml"))


def changed(*changes: tuple[str, str]) -> str:
    """Give the bench map with each text, which must be there, replaced."""
    text = BENCH
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return text


def faults_of(text: str) -> tuple[Fault, ...]:
    """Load a map that must be refused."""
    with pytest.raises(FileFaults) as caught:
        load(text)
    return caught.value.faults


def test_a_map_is_read() -> None:
    """Everything the file says arrives."""
    volts = Value("ch1", "volts", Table.INPUT, 0, "float32", "ABCD", 1.0, None, (0x7FC00000,))
    amps = Value("ch1", "amps", Table.INPUT, 2, "u16", "ABCD", 1.0, 3, ())
    assert load(BENCH) == MeterMap("Bench meter", "invented for this test", (volts, amps), 60, 8)


def test_a_file_is_read_from_its_path(tmp_path: Path) -> None:
    """``load_map`` reads a file, with the mark that some editors put first and with either line end."""
    path = tmp_path / "bench.toml"
    path.write_bytes(b"\xef\xbb\xbf" + BENCH.replace("\n", "\r\n").encode())
    assert load_map(path) == load(BENCH)


def test_a_missing_file_is_a_fault(tmp_path: Path) -> None:
    """A file that is not there is told of like any fault."""
    with pytest.raises(FileFaults, match="can't be read"):
        load_map(tmp_path / "none.toml")


def test_defaults() -> None:
    """Base 0, ABCD and the block limits go without saying."""
    lines = (
        'protocol = "modbus"\n',
        "address_base = 0\n",
        'word_order = "ABCD"\n',
        "max_block = 60\n",
        "max_gap = 8\n",
    )
    assert load(changed(*((line, "") for line in lines))) == load(BENCH)


def test_addresses_may_count_from_one() -> None:
    """Base 1 is taken off every address, the power of ten's and the example's among them."""
    text = changed(
        ("address_base = 0", "address_base = 1"),
        ("address = 0", "address = 1"),
        ("address = 2", "address = 3"),
        ("scale_from = 3", "scale_from = 4"),
        ("at = 0", "at = 1"),
    )
    assert load(text) == load(BENCH)


def test_a_value_may_have_its_own_table_and_order() -> None:
    """A value's own table and order go before the meter's; an example names its table."""
    text = changed(("address = 0", 'address = 0\ntable = "holding"\nword_order = "DCBA"'))
    text = text.replace("volts = 120.0, ", "")
    text += '[[example]]\nat = 0\ntable = "holding"\nwords = ["0x0000", 0xF042]\nexpect = { ch1 = { volts = 120 } }\n'
    volts, amps = load(text).values
    assert (volts.table, volts.word_order) == (Table.HOLDING, "DCBA")
    assert (amps.table, amps.word_order) == (Table.INPUT, "ABCD")


@pytest.mark.parametrize(
    ("written", "patterns"),
    [
        ('"0xFFFF"', (0xFFFF,)),
        ("0xFFFF", (0xFFFF,)),
        ("65535", (0xFFFF,)),
        ('["0xFFFF", 0xFFFE, 32768]', (0xFFFF, 0xFFFE, 0x8000)),
        ("[]", ()),
    ],
)
def test_missing_is_a_pattern_or_a_list_of_them(written: str, patterns: tuple[int, ...]) -> None:
    """Text, number, or a list of both; the values so marked read as no value."""
    amps = load(changed(("scale_from = 3", f"scale_from = 3\nmissing = {written}"))).values[1]
    assert amps.missing == patterns
    for bits in patterns:
        assert decode_value(amps, {(Table.INPUT, 2): bits, (Table.INPUT, 3): 0}) is None


def test_a_negative_missing_number_is_its_twos_complement() -> None:
    """-32768 in a signed encoding means 0x8000."""
    text = changed(('encoding = "u16"', 'encoding = "i16"\nmissing = -32768'))
    assert load(text).values[1].missing == (0x8000,)


FAULTS: dict[str, tuple[str, str, int | None, str, str]] = {
    # what is wrong: old text, new text, line, key, part of the message
    "no source": ('source = "invented for this test"\n', "", 1, "meter.source", "is missing"),
    "blank source": ('"invented for this test"', '"  "', 3, "meter.source", "name the document"),
    "blank name": ('"Bench meter"', '""', 2, "meter.name", "is blank"),
    "other protocol": ('"modbus"', '"morse"', 4, "meter.protocol", 'found "morse"; must be "modbus"'),
    "unknown table": ('"input"', '"coil"', 5, "meter.table", "must be 'input' or 'holding'"),
    "no table": ('table = "input"\n', "", 1, "meter.table", "is missing"),
    "address base": ("address_base = 0", "address_base = 2", 6, "meter.address_base", "found 2; must be less"),
    "address base of another kind": (
        "address_base = 0",
        "address_base = true",
        6,
        "meter.address_base",
        "a whole number",
    ),
    "unknown order": ('"ABCD"', '"ABDC"', 7, "meter.word_order", 'found "ABDC"; did you mean'),
    "block of 0": ("max_block = 60", "max_block = 0", 8, "meter.max_block", "found 0; must be greater"),
    "block of 126": ("max_block = 60", "max_block = 126", 8, "meter.max_block", "found 126; must be less"),
    "block too small": ("max_block = 60", "max_block = 1", 8, "meter.max_block", "must be at least 2"),
    "negative gap": ("max_gap = 8", "max_gap = -1", 9, "meter.max_gap", "found -1"),
    "unknown meter key": ("max_gap = 8", "max_gaps = 8", 9, "meter.max_gaps", 'did you mean "max_gap"?'),
    "unknown section": ("[[value]]", "[[valve]]\nx = 1\n\n[[value]]", 11, "valve", 'did you mean "value"?'),
    "example in single brackets": ("[[example]]", "[example]", 26, "example", "as in [[value]]"),
    "unknown value key": ("scale = 1.0", "scael = 1.0", 16, "value[1].scael", 'did you mean "scale"?'),
    "unknown example key": ("at = 0", "at = 0\nand = 1", 28, "example[1].and", "known here: at, words"),
    "blank channel": ('channel = "ch1"', 'channel = " "', 12, "value[1].channel", "is blank"),
    "unknown quantity": ('"volts"', '"volt"', 13, "value[1].quantity", 'found "volt"; did you mean "volts"?'),
    "unknown encoding": ('"u16"', '"u8"', 23, "value[2].encoding", 'found "u8"; known here: u16, i16,'),
    "address as text": ("address = 0", 'address = "0"', 14, "value[1].address", 'found "0"; must be a whole number'),
    "negative address": ("address = 0", "address = -1", 14, "value[1].address", "found -1"),
    "address too high": ("address = 0", "address = 70000", 14, "value[1].address", "found 70000"),
    "last register too high": ("address = 0", "address = 65535", 14, "value[1].address", "from 0 to 65534"),
    "power of ten too high": ("scale_from = 3", "scale_from = 65536", 24, "value[2].scale_from", "from 0 to 65535"),
    "power of ten in the value": ("scale_from = 3", "scale_from = 2", 24, "value[2].scale_from", "the value itself"),
    "scale of 0": ("scale = 1.0", "scale = 0", 16, "value[1].scale", "found 0"),
    "scale nan": ("scale = 1.0", "scale = nan", 16, "value[1].scale", "a finite number"),
    "scale inf": ("scale = 1.0", "scale = inf", 16, "value[1].scale", "a finite number"),
    "value order": ("scale = 1.0", 'word_order = "BA"', 16, "value[1].word_order", 'found "BA"'),
    "missing too wide": ('"0x7FC00000"', '"0x7FC000000"', 17, "value[1].missing", "float32 has, up to 0xFFFFFFFF"),
    "missing no number": ('"0x7FC00000"', '"n/a"', 17, "value[1].missing", 'found "n/a"; must be bits such as'),
    "missing negative": ('"0x7FC00000"', "-1", 17, "value[1].missing", "found -1"),
    "missing of another kind": ('"0x7FC00000"', "true", 17, "value[1].missing", "a whole number"),
    "quantity twice": ('"amps"', '"volts"', 21, "value[2].quantity", "from the [[value]] at line 11"),
    "at too high": ("at = 0", "at = 65535", 27, "example[1].at", "from 0 to 65532 for 4 words"),
    "no words": ('["0x42F0", "0x0000", "0x007B", "0xFFFF"]', "[]", 28, "example[1].words", "is empty"),
    "word too wide": ('"0x0000"', '"0x10000"', 28, "example[1].words[2]", "found"),
    "word no number": ('"0x0000"', '"zero"', 28, "example[1].words[2]", 'found "zero"'),
    "expects nothing": ("{ ch1 = { volts = 120.0, amps = 12.3 } }", "{ ch1 = {} }", 29, "example[1].expect", "nothing"),
    "not as expected": ("volts = 120.0", "volts = 120.001", 29, "example[1].expect.ch1.volts", "decode to 120 V"),
    "expects nan": ("volts = 120.0", "volts = nan", 29, "example[1].expect.ch1.volts", "a finite number"),
    "expects another channel": ("{ ch1 = { volts", "{ ch9 = { volts", 29, "example[1].expect.ch9", 'mean "ch1"?'),
    "expects another quantity": (
        "amps = 12.3",
        "watts = 12.3",
        29,
        "example[1].expect.ch1.watts",
        "no [[value]] gives",
    ),
    "expects no quantity": ("amps = 12.3", "amp = 12.3", 29, "example[1].expect.ch1.amp", 'did you mean "amps"?'),
    "words too few": (', "0x007B", "0xFFFF"]', ', "0x007B"]', 29, "example[1].expect.ch1.amps", "input register 3"),
    "words mean no value": ('"0x42F0"', '"0x7FC0"', 29, "example[1].expect.ch1.volts", "no value"),
    "words implausible": ('"0x42F0"', '"0x7F80"', 29, "example[1].expect.ch1.volts", "reads as inf V"),
}


@pytest.mark.parametrize("name", FAULTS)
def test_one_mistake_is_one_fault_with_line_and_key(name: str) -> None:
    """Each mistake is told of once, where it stands, with what was found or would do."""
    old, new, line, key, part = FAULTS[name]
    (fault,) = faults_of(changed((old, new)))
    assert (fault.file, fault.line, fault.key) == ("bench.toml", line, key)
    assert part in fault.text


@pytest.mark.parametrize("order", ["CDAB", "BADC", "DCBA"])
def test_an_example_finds_a_wrong_word_order(order: str) -> None:
    """A map with the wrong order is refused by its example, whichever it is."""
    faults = faults_of(changed(('word_order = "ABCD"', f'word_order = "{order}"')))
    assert "example[1].expect.ch1.volts" in [fault.key for fault in faults]


def test_a_map_without_example_is_refused() -> None:
    """No example, no map."""
    (fault,) = faults_of(BENCH[: BENCH.index("[[example]]")])
    assert (fault.line, fault.key) == (None, "example")
    assert "add one [[example]]" in fault.text


def test_an_empty_file_lacks_everything() -> None:
    """An empty file is told what a map needs."""
    assert [fault.key for fault in faults_of("")] == ["meter", "value", "example"]


def test_all_faults_are_told_of_together() -> None:
    """Faults of form, of sense and of the example in one go, in the order of their lines."""
    text = changed(
        ('source = "invented for this test"', 'source = ""'),
        ('protocol = "modbus"', 'protocol = "morse"'),
        ("scale = 1.0", "scael = 1.0"),
        ("scale_from = 3", "scale_from = 3\nmissing = 0x10000"),
    )
    text += """
[[value]]
channel = "ch1"
quantity = "watts"
address = 65535
encoding = "i32"

[[value]]
channel = "ch1"
quantity = "hertz"
address = 4
encoding = "u16"

[[value]]
channel = "ch1"
quantity = "volts"
address = 5
encoding = "u61"

[[example]]
at = 4
words = ["0x003C"]
expect = { ch1 = { hertz = 50.0, sparks = 1 } }
"""
    assert [(fault.line, fault.key) for fault in faults_of(text)] == [
        (3, "meter.source"),
        (4, "meter.protocol"),
        (16, "value[1].scael"),
        (25, "value[2].missing"),
        (35, "value[3].address"),
        (46, "value[5].quantity"),
        (48, "value[5].encoding"),
        (53, "example[2].expect.ch1.hertz"),
        (53, "example[2].expect.ch1.sparks"),
    ]


def test_a_doubtful_layout_accuses_no_example() -> None:
    """Where the meter's own word order is in doubt, the example is not called wrong for it."""
    (fault,) = faults_of(changed(('word_order = "ABCD"', 'word_ordr = "CDAB"')))
    assert fault.key == "meter.word_ordr"


def test_values_that_can_not_be_used_accuse_no_example() -> None:
    """An example that needs a faulty value is passed over."""
    (fault,) = faults_of(changed(("address = 2", 'address = "2"')))
    assert fault.key == "value[2].address"


def test_lines_are_right_in_words_over_several_lines() -> None:
    """A wrong word in a list over several lines is found on its own line."""
    text = changed(
        ('["0x42F0", "0x0000", "0x007B", "0xFFFF"]', '[\n  "0x42F0", "0x0000",\n  "x", # here\n  "0xFFFF",\n]')
    )
    (fault,) = faults_of(text)
    assert (fault.line, fault.key) == (30, "example[1].words[3]")


def test_no_toml_is_one_fault_with_its_line() -> None:
    """A syntax error hides the rest of the file: it is told of alone."""
    (fault,) = faults_of(changed(("address = 2", "address =")))
    assert fault.line == 22
