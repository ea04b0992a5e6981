"""Register maps drawn at random, for property tests."""

from __future__ import annotations

from hypothesis import strategies as st

from drivers.maps.encodings import ENCODINGS, WORD_ORDERS
from drivers.maps.model import MeterMap, Table, Value
from drivers.quantities import QUANTITIES

NAMES = [(channel, quantity) for channel in ("a", "b", "c") for quantity in QUANTITIES]


@st.composite
def meter_maps(draw: st.DrawFn, *, most_values: int = 24, last_address: int = 120) -> MeterMap:
    """Draw a map: values anywhere, overlapping or not, in both tables, some with a power of ten of their own."""
    names = draw(st.lists(st.sampled_from(NAMES), min_size=1, max_size=most_values, unique=True))
    addresses = st.integers(0, last_address)
    values = tuple(
        Value(
            channel,
            quantity,
            draw(st.sampled_from(Table)),
            draw(addresses),
            draw(st.sampled_from(ENCODINGS)),
            draw(st.sampled_from(WORD_ORDERS)),
            draw(st.sampled_from([1.0, 0.1, 0.01, 0.001, -1.0, 1000.0])),
            draw(st.none() | addresses),
        )
        for channel, quantity in names
    )
    return MeterMap("drawn", "drawn", values, draw(st.integers(4, 125)), draw(st.integers(0, 20)))
