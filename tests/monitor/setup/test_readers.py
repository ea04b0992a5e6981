"""What may be typed for cables and fuel, and that what is known can be typed again."""

from __future__ import annotations

from typing import Any

import pytest

from monitor.setup.readers import burn, burn_words, cable, cable_words, maybe


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("12 awg 50 ft", {"awg": 12, "feet": 50}),
        ("12AWG, 15m", {"awg": 12, "metres": 15}),
        ("2/0 awg 100 feet", {"awg": "2/0", "feet": 100}),
        ("2.5 mm2 12.5 m", {"mm2": 2.5, "metres": 12.5}),
        ("16mm² 30 metres", {"mm2": 16, "metres": 30}),
        ("2,5 mm2 15 m", {"mm2": 2.5, "metres": 15}),
        ("0.75 mm2 16000 ft", {"mm2": 0.75, "feet": 16_000}),
        ("4 awg 1234.567 m", {"awg": 4, "metres": 1234.567}),
    ],
)
def test_cables(text: str, meant: dict[str, Any]) -> None:
    """Both units of size and of length; what is meant is written as what means the same."""
    assert cable(text) == meant
    assert cable(cable_words(meant)) == meant


@pytest.mark.parametrize("text", ["12", "12 awg", "50 ft", "13 awg 50 ft", "12 awg 0 m", "12 awg 50", "0 mm2 5 m"])
def test_cables_that_can_not_be(text: str) -> None:
    """Size or length missing, a size that there is not, no length at all."""
    with pytest.raises(ValueError, match=r"type"):
        cable(text)


@pytest.mark.parametrize("known", [{}, {"awg": 12}, {"feet": 3}])
def test_what_is_no_whole_cable_is_not_proposed(known: dict[str, Any]) -> None:
    """Nothing is proposed that could not be read again."""
    assert cable_words(known) == ""


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("2.3 3.4 4.9 6.1", {"25": 2.3, "50": 3.4, "75": 4.9, "100": 6.1}),
        ("100=6 50=3,4", {"50": 3.4, "100": 6}),
        ("0=0.8 110=7", {"0": 0.8, "110": 7}),
    ],
)
def test_fuel_points(text: str, meant: dict[str, float]) -> None:
    """Four numbers for the quarters, or pairs in any order; written again they mean the same."""
    assert burn(text) == meant
    assert burn(burn_words(meant)) == meant


@pytest.mark.parametrize(
    "text", ["2.3", "2.3 3.4 4.9", "50=3.4 50=3.5", "50=6 100=3", "120=9", "50=", "=3", "half=3", "6 5 4 3"]
)
def test_fuel_points_that_can_not_be(text: str) -> None:
    """Too few, twice the same, falling, beyond the show file's range, no numbers."""
    with pytest.raises(ValueError, match=r"type|percent"):
        burn(text)


def test_a_dash_is_nothing() -> None:
    """Where Enter takes what is known, a dash takes it away."""
    assert maybe(cable)("-") is None
    assert maybe(cable)("") is None
