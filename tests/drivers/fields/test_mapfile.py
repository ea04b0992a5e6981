"""Field map files: what is wrong, where, and what would do."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from drivers.fields.mapfile import load_any_map
from drivers.fields.model import FieldMap, FieldValue, Source
from drivers.fields.units import exponent
from drivers.files.faults import FileFaults

if TYPE_CHECKING:
    from pathlib import Path

TEXT = """[meter]
name = "Box"
source = "our own program, version 2"
protocol = "text"
[[value]]
channel = "ch1"
quantity = "amps"
field = "a"
unit = "mA"
[[example]]
text = "a=250"
expect = { ch1 = { amps = 0.25 } }
"""
CODES = """[meter]
name = "Meter"
source = "its document"
protocol = "iec62056-21"
[[value]]
channel = "l1"
quantity = "watts"
code = ["36.7", "1-0:21.7.0*255 - 22.7.0"]
[[example]]
text = "1-0:21.7.0(1.5*kW)"
expect = { l1 = { watts = 1500 } }
"""


def load(text: str, directory: Path) -> FieldMap:
    """Load a map from its text."""
    path = directory / "map.toml"
    path.write_text(text, encoding="utf-8")
    loaded = load_any_map(path)
    assert isinstance(loaded, FieldMap)
    return loaded


def test_a_text_map(tmp_path: Path) -> None:
    """Unit, name and source."""
    assert load(TEXT, tmp_path) == FieldMap(
        "Box", "our own program, version 2", "text", (FieldValue("ch1", "amps", (Source("a"),), "mA"),)
    )


def test_a_telegram_map(tmp_path: Path) -> None:
    """Codes in one spelling, the second with one to take off; nothing in it must be there."""
    sources = (Source("36.7.0"), Source("1-0:21.7.0", "22.7.0"))
    assert load(CODES, tmp_path).values == (FieldValue("l1", "watts", sources, optional=True),)


@pytest.mark.parametrize(
    ("text", "change", "line", "key", "told"),
    [
        (TEXT, ('protocol = "text"', 'protocol = "txt"'), 4, "meter.protocol", 'did you mean "text"?'),
        (TEXT, ('field = "a"', 'fields = "a"'), 8, "value[1].fields", 'unknown key; did you mean "field"?'),
        (TEXT, ('field = "a"', "field = 7"), 8, "value[1].field", "must be text in quotes"),
        (TEXT, ('unit = "mA"', 'unit = "kW"'), 9, "value[1].unit", "no unit of amps; must be like A, kA or mA"),
        (TEXT, ('quantity = "amps"', 'quantity = "amperes"'), 7, "value[1].quantity", 'found "amperes"'),
        (TEXT, ('text = "a=250"', 'text = "a=250 a"'), 11, "example[1].text", "no key=value"),
        (TEXT, ('text = "a=250"', 'text = "b=250"'), 12, "example[1].expect.ch1.amps", "nothing for ch1"),
        (TEXT, ("amps = 0.25", "amps = 250"), 12, "example[1].expect.ch1.amps", "the text gives 0.25 A"),
        (TEXT, ("{ ch1 = {", "{ ch2 = {"), 12, "example[1].expect.ch2", 'did you mean "ch1"?'),
        (TEXT, ("amps = 0.25", "amp = 0.25"), 12, "example[1].expect.ch1.amp", 'did you mean "amps"?'),
        (TEXT, ('source = "our own program, version 2"', 'source = ""'), 3, "meter.source", "is blank"),
        (CODES, ('"36.7"', '"L1 power"'), 8, "value[1].code[1]", "must be an OBIS code"),
        (CODES, ("code = [", "codes = ["), 8, "value[1].codes", 'did you mean "code"?'),
        (CODES, ("(1.5*kW)", "(1.5*kW"), 10, "example[1].text", "no data line"),
    ],
)  # fmt: skip
def test_a_fault_is_told_with_its_place(
    text: str, change: tuple[str, str], line: int, key: str, told: str, tmp_path: Path
) -> None:
    """File, line, key, what was found and what would do."""
    assert change[0] in text
    with pytest.raises(FileFaults) as found:
        load(text.replace(*change, 1), tmp_path)
    assert any(f.line == line and f.key == key and told in f.text for f in found.value.faults), str(found.value)


def test_a_quantity_given_twice(tmp_path: Path) -> None:
    """One of the two has to go."""
    with pytest.raises(FileFaults, match="has amps already"):
        load(TEXT + '[[value]]\nchannel = "ch1"\nquantity = "amps"\nfield = "b"\n', tmp_path)


@pytest.mark.parametrize(
    ("unit", "quantity", "power"),
    [
        ("kW", "watts", 3), ("W", "watts", 0), ("kwh", "watt_hours", 3), ("MWh", "watt_hours", 6), ("mA", "amps", -3),
        ("kvar", "vars", 3), ("KVA", "volt_amperes", 3), ("Hz", "hertz", 0), ("", "power_factor", 0),
        ("VA", "volts", None), ("kW", "watt_hours", None), ("V", "volt_amperes", None), ("x", "volts", None),
    ],
)  # fmt: skip
def test_units(unit: str, quantity: str, power: int | None) -> None:
    """Prefix and unit, small or capital; m and M are apart."""
    assert exponent(unit, quantity) == power
