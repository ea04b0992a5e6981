"""Lines of text to fields: whole, or nothing."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.errors import Corrupt
from drivers.fields.decode import channels_in, decode_fields
from drivers.fields.mapfile import load_any_map
from drivers.fields.model import Amount, FieldMap
from drivers.quantities import QUANTITIES
from drivers.reading import Quality, Values
from drivers.textlines.fields import fields_of
from drivers.textlines.lines import LONGEST, Lines

_FOUND = load_any_map(Path(__file__).parents[3] / "config" / "meters" / "text-lines.toml")
assert isinstance(_FOUND, FieldMap)
MAP = _FOUND


@pytest.mark.parametrize(
    ("line", "fields"),
    [
        ("v=120.4,a=7.25", {"v": ("120.4", ""), "a": ("7.25", "")}),
        ("v = 120.4 ; a=-7", {"v": ("120.4", ""), "a": ("-7", "")}),
        ("v=120.4V\ta=250mA", {"v": ("120.4", "V"), "a": ("250", "mA")}),
        ("v=1.204e2,", {"v": ("1.204e2", "")}),
        ("v=nan a=3", {"v": ("nan", ""), "a": ("3", "")}),
        ("box=kitchen v=120", {"box": ("kitchen", ""), "v": ("120", "")}),
        ('{"v": 120.4, "a": null}', {"v": ("120.4", ""), "a": ("null", "")}),
        ('{"l1": {"v": 120.40, "on": true}}', {"l1.v": ("120.40", ""), "l1.on": ("true", "")}),
        ('{"t": [1, 2]}', {"t.0": ("1", ""), "t.1": ("2", "")}),
        ('{"v": NaN, "a": "3.5 "}', {"v": ("NaN", ""), "a": ("3.5", "")}),
        ("v=1,a=2*38", {"v": ("1", ""), "a": ("2", "")}),
    ],
)  # fmt: skip
def test_whole_lines(line: str, fields: dict[str, tuple[str, str]]) -> None:
    """Both forms, all separators, units, words, nothing and no number, and a check."""
    assert fields_of(line) == {name: (Amount(*amount),) for name, amount in fields.items()}


@pytest.mark.parametrize(
    "line",
    [
        "v=120.4,a=7.2v=120.4,a=7.2",  # two in one, the end of the first lost
        "v=120.4,v=120.5",
        "v=120.4 a",
        "v=120,4;a=3",  # a decimal comma
        "v=12x0",
        "v=0x78",
        "v=1_000",
        '{"v": 120.4, "a": 7',
        '{"v": 120.4}{"v": 120.5}',
        '{"v": 120.4, "v": 120.5}',
        '4, "a": 7.2}',
        "v=1,a=2*1B",  # the check of another line
        "v=120.4,a=7.25\ufffd",
    ],
)
def test_lines_that_are_not_whole(line: str) -> None:
    """Cut, joined, garbled or ambiguous: no field of them is taken."""
    with pytest.raises(Corrupt):
        fields_of(line)


@pytest.mark.parametrize("line", ["", "Booting v1.3", "--- ready ---", "rst:0x1 (POWERON)"])
def test_lines_that_are_no_data(line: str) -> None:
    """What a board prints when it starts."""
    assert fields_of(line) is None


def test_a_line_without_the_check_that_is_asked_for() -> None:
    """The exclusive or of "v=1" is 7A, by hand: 76 ^ 3D ^ 31 (hexadecimal)."""
    assert fields_of("$v=1*7A", check_needed=True) == {"v": (Amount("1"),)}
    with pytest.raises(Corrupt, match="without its check"):
        fields_of("v=1", check_needed=True)


def test_lines_are_cut_at_any_end_and_begin_after_one() -> None:
    """The first piece is never a line; CR, LF and both end one; what is too long is thrown away to its end."""
    lines = Lines()
    assert lines.feed(b"20.4,a=7\r\nv=1\rv=") == [b"v=1"]
    assert lines.feed(b"2\n\r\nv=3\n") == [b"v=2", b"v=3"]
    assert lines.feed(b"x" * (LONGEST + 1)) == []
    assert lines.thrown == LONGEST + 1
    assert lines.feed(b"tail\nv=4\n") == [b"v=4"]


LINE = "v1=120.4,a1=7.25,w1=861,v2=119.8,a2=3.1,w2=366,hz=60.02"
OTHER = json.dumps({"v1": 118.2, "a1": 9.5, "w1": 1104, "v2": 121.7, "a2": 1.25, "w2": 149, "hz": 59.97})


def readings(line: str) -> dict[str, tuple[Quality, Values]]:
    """Read a line as the listener does."""
    try:
        fields = fields_of(line) or {}
    except Corrupt:
        return {}
    return {r.channel: (r.quality, r.values) for r in decode_fields(MAP, fields, channels_in(MAP, fields))}


@pytest.mark.parametrize("line", [LINE, OTHER])
@given(data=st.data())
def test_a_line_that_lost_a_piece_gives_no_half_channel(line: str, data: st.DataObject) -> None:
    """Any piece lost, the line's end among it or not: a channel has all of its fields or none is believed."""
    begin = data.draw(st.integers(0, len(line)))
    end = data.draw(st.integers(begin, len(line)))
    for quality, values in readings(line[:begin] + line[end:]).values():
        given = {q for q in QUANTITIES if getattr(values, q) is not None}
        assert quality is not Quality.GOOD or {"volts", "amps", "watts"} <= given


@given(st.text(alphabet='v1a2=.,;{}":0123456789 eE+-nNuUlL*\x00\xff', max_size=60))
def test_garbage_never_raises_anything_else(line: str) -> None:
    """Fields, no data, or corrupt."""
    try:
        fields_of(line)
    except Corrupt:
        return


@pytest.mark.parametrize(
    ("line", "quality", "told"),
    [
        ("v1=nan,a1=3,w1=360", Quality.IMPLAUSIBLE, "no number"),
        ("v1=1204,a1=3,w1=360", Quality.IMPLAUSIBLE, "1204 V"),
        ("v1=120A,a1=3,w1=360", Quality.IMPLAUSIBLE, "no unit of it"),
        ("v1=on,a1=3,w1=360", Quality.IMPLAUSIBLE, "no number"),
        ("v1=120,w1=360", Quality.CORRUPT, "without a1"),
        ('{"v1": true, "a1": 3, "w1": 360}', Quality.IMPLAUSIBLE, "no number"),
        ('{"v1": 1e400, "a1": 3, "w1": 360}', Quality.IMPLAUSIBLE, "inf V"),
    ],
)
def test_what_can_not_be_is_refused(line: str, quality: Quality, told: str) -> None:
    """The channel's quality and the reason; no volts."""
    (reading,) = decode_fields(MAP, fields_of(line) or {}, ("ch1",))
    assert (reading.quality, reading.values.volts) == (quality, None)
    assert told in reading.detail


def test_null_is_not_measured() -> None:
    """A field that the board has no value for is neither zero nor a fault."""
    (reading,) = decode_fields(MAP, fields_of('{"v1": null, "a1": 3, "w1": 360}') or {}, ("ch1",))
    assert (reading.quality, reading.values) == (Quality.GOOD, Values(amps=3.0, watts=360.0))
