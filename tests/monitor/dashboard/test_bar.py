"""The bar tells at a glance which side of each mark the amps are on."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.dashboard.bar import BEYOND, FILL, LIMIT, LOWER_BOUND, PLAN, TIGHT, Marks, bar, scale
from monitor.dashboard.pieces import Tone, text_of

TWENTY = Marks(20.0, 16.0, 12.0)


def drawn(amps: float, marks: Marks = TWENTY, width: int = 15) -> str:
    """Give a bar's text."""
    return text_of(bar(amps, marks, width))


@pytest.mark.parametrize(
    ("amps", "expected"),
    [
        (0.0, "      ● │░│    "),
        (9.0, "████  ● │░│    "),
        (16.0, "██████●█│░│    "),
        (16.1, "██████●█│█│    "),
        (20.0, "██████●█│█│    "),
        (20.1, "██████●█│█│█   "),
        (30.0, "██████●█│█│████"),
        (31.0, "██████●█│█│███→"),
        (-3.0, "      ● │░│    "),
    ],
)
def test_bar(amps: float, expected: str) -> None:
    """Known amps give the known bar: marks stand still, the fill passes a limit exactly when the amps do."""
    assert drawn(amps) == expected


def test_full_rated_breaker_has_one_mark() -> None:
    """Where continuous limit and rating are the same there is one mark and no stretch between."""
    assert drawn(10.0, Marks(20.0, 20.0)) == "█████     │    "


def test_no_plan_has_no_plan_mark() -> None:
    """Without a planned load no plan is drawn."""
    assert PLAN not in drawn(10.0, Marks(20.0, 16.0, 0.0))


def test_lower_bound_looks_different() -> None:
    """A sum of what is measured is not drawn like a measurement."""
    text = text_of(bar(10.0, Marks(20.0), 15, Tone.OLD, LOWER_BOUND))
    assert text == "▒▒▒▒▒     │    "


@given(
    amps=st.floats(0, 500),
    rated=st.floats(1, 400),
    share=st.floats(0.5, 1.0),
    plan=st.floats(0, 500),
    width=st.integers(6, 60),
)
def test_fill_passes_the_rating_exactly_when_the_amps_do(
    amps: float, rated: float, share: float, plan: float, width: int
) -> None:
    """For any bar: the width holds, and cells behind the rating's mark are filled if and only if it is passed."""
    text = drawn(amps, Marks(rated, share * rated, plan), width)
    assert len(text) == width
    rating = text.rindex(LIMIT)
    behind = text[rating + 1 :].replace(PLAN, "")
    assert (FILL in behind or BEYOND in behind) == (amps > rated)
    assert set(text) <= {FILL, LIMIT, PLAN, TIGHT, BEYOND, " "}


@given(width=st.integers(6, 60))
def test_scale_stands_over_the_marks(width: int) -> None:
    """The 100 of the scale begins over the rating's mark."""
    numbers = scale(width)
    assert len(numbers) == width
    assert numbers.startswith("0")
    if width >= 15:
        assert numbers.index("100%") == drawn(0.0, Marks(20.0), width).index(LIMIT)
