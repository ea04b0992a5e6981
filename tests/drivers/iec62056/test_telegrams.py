"""Telegrams cut out of bytes, checked and read."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.errors import Corrupt
from drivers.fields.decode import decode_fields
from drivers.fields.mapfile import load_any_map
from drivers.fields.model import Amount, FieldMap
from drivers.iec62056 import obis
from drivers.iec62056.telegram import answered, identification, unasked
from drivers.reading import Quality, Values
from tests.support.telegrams import V2, V4, V5, checked, readout, unchecked

_FOUND = load_any_map(Path(__file__).parents[3] / "config" / "meters" / "telegram.toml")
assert isinstance(_FOUND, FieldMap)
MAP = _FOUND


def values(data: bytes) -> dict[str, Values]:
    """Read an unasked telegram; give the values by channel."""
    found = unasked(data, check_needed=False)
    assert found is not None
    return {reading.channel: reading.values for reading in decode_fields(MAP, found[0], MAP.channels)}


def test_published_telegrams_mean_what_they_say() -> None:
    """Versions 5, 4.2 and 2.2 of the P1 telegram; the numbers stand in ``telegrams``."""
    five, four, two = values(V5), values(V4), values(V2)
    assert five["l1"] == Values(volts=230.0, amps=0.48, watts=70.0)
    assert five["l3"] == Values(volts=229.0, amps=0.86, watts=142.0)
    assert five["total"] == Values(watts=244.0)
    assert [four[leg].watts for leg in ("l1", "l2", "l3", "total")] == [170.0, 1247.0, 209.0, 2027.0]
    assert [four[leg].amps for leg in ("l1", "l2", "l3")] == [0.0, 6.0, 2.0]
    assert two["total"] == Values(watts=1010.0)


@given(st.data())
def test_a_damaged_telegram_is_never_a_reading(data: st.DataObject) -> None:
    """One character changed, at any place between the first and the check: corrupt, or not complete."""
    at = data.draw(st.integers(0, len(V5) - 3))
    other = data.draw(st.integers(1, 255))
    damaged = V5[:at] + bytes([V5[at] ^ other]) + V5[at + 1 :]
    try:
        found = unasked(damaged, check_needed=True)
    except Corrupt:
        return
    assert found is None or (
        damaged.lower() == V5.lower() and at > len(V5) - 7
    )  # a hexadecimal digit of the check may be written small


@given(st.integers(0, len(V5) - 1))
def test_a_telegram_that_is_cut_is_not_complete(length: int) -> None:
    """However much of it came, short of its last character."""
    assert unasked(V5[:length], check_needed=False) is None


def test_what_stands_around_a_telegram_is_passed_over() -> None:
    """The end of the one before, and what a gateway adds between two."""
    found = unasked(V4[300:] + b"  25803103\r\n\xff\xff\xff\r\n" + V5, check_needed=True)
    assert found is not None
    assert found[0]["32.7.0"] == (Amount("0230.0", "V"),)


def test_two_telegrams_run_into_one_are_corrupt() -> None:
    """The end of an unchecked one is lost: its lines and the next one's are not mixed."""
    with pytest.raises(Corrupt, match="began before"):
        unasked(V2[:-3] + V2, check_needed=False)


def test_a_check_that_went_missing_is_told() -> None:
    """A meter that sends checks does not stop to."""
    with pytest.raises(Corrupt, match="without the check"):
        unasked(V2, check_needed=True)


@pytest.mark.parametrize("broken", ["1-0:32.7.0(230", "1-0:32.7.0", "1-0:32.7.0(230*V))", "(1)(2"])
def test_a_line_that_is_none_spoils_an_unchecked_telegram(broken: str) -> None:
    """Without a check the form of every line is all there is."""
    with pytest.raises(Corrupt, match="no data line"):
        unasked(unchecked(f"1-0:52.7.0(231*V)\n{broken}\n1-0:72.7.0(229*V)") + b"\r\n", check_needed=False)


def test_a_readout_and_its_damage() -> None:
    """The block check agrees, or the telegram is corrupt; cut short it is not complete."""
    whole = readout("32.7.0(231.4*V)", "1.8.0(000123.4*kWh)1.8.1(000100.0*kWh)")
    found = answered(whole)
    assert found is not None
    assert (found[0]["32.7.0"], found[0]["1.8.1"], found[1]) == (
        (Amount("231.4", "V"),),
        (Amount("000100.0", "kWh"),),
        True,
    )
    assert all(answered(whole[:length]) is None for length in range(len(whole)))
    for at in range(1, len(whole) - 2):
        with pytest.raises(Corrupt):
            answered(whole[:at] + bytes([whole[at] ^ 0x08]) + whole[at + 1 :])


def test_the_readout_of_a_library_is_read() -> None:
    """From the tests of the public repository pwitab/iec62056-21 (tests/test_data.py), with its block check."""
    found = answered(b'\x023:14(314*kWh)4:15(415*kWh)\r\n!\r\n\x03"')
    assert found is not None
    assert found[1]


@pytest.mark.parametrize(
    ("sent", "speed", "quick"),
    [(b"/XMP5EXAMPLE\r\n", "5", False), (b"/XMpC12\r\n", "C", True), (b"\x7f/?!\r\n/XMP0\\2A B\r\n", "0", False)],
)
def test_identifications(sent: bytes, speed: str, *, quick: bool) -> None:
    """Speed character and reaction time; an echo of the sign-on before it is no identification."""
    found = identification(sent)
    assert found is not None
    assert (found.speed, found.quick, found.end) == (speed, quick, len(sent))
    assert identification(sent[:-1]) is None


@pytest.mark.parametrize(
    ("code", "name"),
    [
        ("32.7", "32.7.0"),
        ("32.7.0", "32.7.0"),
        ("1-0:32.7.0*255", "1-0:32.7.0"),
        ("1-1:1.8.0", "1-1:1.8.0"),
        ("1.8.0*03", "1.8.0*03"),
        ("1.8.0&11", "1.8.0*11"),
        ("F.F", "F.F.0"),
        ("hello", None),
    ],
)
def test_codes_in_one_spelling(code: str, name: str | None) -> None:
    """The tariff is always there, a past period kept apart."""
    assert obis.canonical(code) == name


def test_past_periods_and_other_media_are_not_the_present_load() -> None:
    """Energy of an earlier month, heat and gas leave the electricity of now alone."""
    fields = obis.fields_of("1.8.0(5*kWh)\n1.8.0*03(4*kWh)\n6-0:1.8.0(9*GJ)\n7-0:32.7.0(1*m3)")
    assert fields["1.8.0"] == (Amount("5", "kWh"),)
    assert "32.7.0" not in fields


@pytest.mark.parametrize(
    ("lines", "quality", "told"),
    [
        ("32.7.0(9999*V)", Quality.IMPLAUSIBLE, "reads as 9999 V"),
        ("32.7.0(230*kW)", Quality.IMPLAUSIBLE, "no unit of it"),
        ("32.7.0(----*V)", Quality.IMPLAUSIBLE, "no number"),
        ("21.7.0(5)", Quality.IMPLAUSIBLE, "without a unit"),
        ("1-0:32.7.0(230*V)\n1-1:32.7.0(231*V)", Quality.IMPLAUSIBLE, "different numbers"),
        ("52.7.0(230*V)", Quality.SILENT, "nothing for l1"),
    ],
)
def test_what_can_not_be_is_a_gap(lines: str, quality: Quality, told: str) -> None:
    """Out of range, in a wrong unit, no number, without a unit, ambiguous, or not there."""
    (reading,) = decode_fields(MAP, obis.fields_of(lines), ("l1",))
    assert (reading.quality, reading.values) == (quality, Values())
    assert told in reading.detail


def test_power_given_back_is_taken_off() -> None:
    """A reversed current transformer shows as a negative number, not as none."""
    (reading,) = decode_fields(MAP, obis.fields_of("21.7.0(0.000*kW)\n22.7.0(1.250*kW)"), ("l1",))
    assert reading.values == Values(watts=-1250.0)


def test_a_telegram_of_one_version_with_a_head_of_ours_reads_the_same() -> None:
    """The check covers the head too."""
    assert values(checked("1-0:1.7.0(1.5*kW)", "/ABC5X"))["total"] == Values(watts=1500.0)
