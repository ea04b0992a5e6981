"""What may be typed for a point, and how numbers are read."""

from __future__ import annotations

import pytest

from monitor.setup.draft import ShowDraft
from monitor.setup.points import point_fault
from monitor.setup.readers import number

DRAFT = ShowDraft(
    '[source]\nkind = "house"\nsystem = "208Y/120"\n'
    '[[feeder]]\nid = "box1"\nfed_from = "source"\n'
    '[[circuit]]\nid = "A1"\nfed_from = "box1"\nlegs = ["L1"]\n'
    '[[circuit]]\nid = "H1"\nfed_from = "box1"\nlegs = ["L1", "L2"]\n'
)


@pytest.mark.parametrize("point", ["A1", "A1/L1", "H1", "H1/L2", "new", "new/L3", "source/L3", "box1/L2", "box1/N"])
def test_points_that_can_be(point: str) -> None:
    """Circuits whole and by leg, new ones, legs and the neutral of boxes and the source."""
    assert point_fault(DRAFT, point, {}) == ""


@pytest.mark.parametrize(
    ("point", "taken", "words"),
    [
        ("source", {}, "has 3 legs"),
        ("box1", {}, "box1/L1 or box1/L2 or box1/L3"),
        ("A1/L2", {}, "has no L2"),
        ("A1/N", {}, "has no N"),
        ("source/L4", {}, "has no L4"),
        ("two words", {}, "a circuit's id"),
        ("A1", {"A1": "bus1 unit 3"}, "measured by bus1 unit 3 already"),
        ("H1", {"H1/L1": "this meter"}, "both as a whole and by leg"),
        ("H1/L1", {"H1": "this meter"}, "both as a whole and by leg"),
    ],
)
def test_points_that_can_not(point: str, taken: dict[str, str], words: str) -> None:
    """Each says what would do."""
    assert words in point_fault(DRAFT, point, taken)


@pytest.mark.parametrize(("text", "value"), [("20", 20), ("20 A", 20), ("12,5kW", 12.5), ("0.5", 0.5)])
def test_numbers_with_units_and_commas(text: str, value: float) -> None:
    """As people type them; whole ones stay whole."""
    read = number(0.1, 100, "a thing")(text)
    assert (read, type(read)) == (value, type(value))


@pytest.mark.parametrize("text", ["", "twenty", "-3", "1000", "nan", "1e9", "²"])
def test_what_is_no_number(text: str) -> None:
    """Refused with the range."""
    with pytest.raises(ValueError, match=r"from 0\.1 to 100"):
        number(0.1, 100, "a thing")(text)
