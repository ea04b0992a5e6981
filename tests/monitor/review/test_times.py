"""Times of the show's zone, in and out, against Python's own calendar."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.review.times import iso, moment, read, span

ZONES = ("America/Halifax", "Europe/Berlin", "Asia/Kathmandu", "Australia/Lord_Howe", "UTC")


@given(st.integers(0, 4_000_000_000_000), st.sampled_from(ZONES))
def test_what_is_written_reads_back(time_ms: int, zone: str) -> None:
    """To the millisecond, whatever the zone and the season, also in the hour that comes twice."""
    assert read(iso(time_ms, zone), "UTC") == time_ms
    at = datetime.fromisoformat(iso(time_ms, zone))
    assert at.utcoffset() == at.astimezone(ZoneInfo(zone)).utcoffset()


def test_a_time_without_an_offset_is_meant_in_the_shows_zone() -> None:
    """A date alone is its begin, or its end where it ends something."""
    first = datetime(2026, 11, 20, 4, tzinfo=UTC).timestamp() * 1000
    assert read("2026-11-20", "America/Halifax") == first
    assert read("2026-11-20", "America/Halifax", ends=True) == first + 86_400_000
    assert read("2026-11-20T00:00:01", "America/Halifax", ends=True) == first + 1000
    assert read("2026-11-20T00:00Z", "America/Halifax") == first - 4 * 3_600_000


@pytest.mark.parametrize("text", ["", "yesterday", "21:14", "2026-13-01"])
def test_what_is_no_time_is_refused(text: str) -> None:
    """With an error and not a guess."""
    with pytest.raises(ValueError, match=r"isoformat|month"):
        read(text, "UTC")


def test_times_for_people_carry_their_offset() -> None:
    """Summer and winter differ."""
    assert moment(1_790_000_040_000, "America/Halifax") == "2026-09-21 11:14:00 -03:00"
    assert moment(1_800_000_000_000, "America/Halifax") == "2027-01-15 04:00:00 -04:00"


@pytest.mark.parametrize(
    ("seconds", "said"),
    [(0, "0 s"), (59.6, "1 min"), (725, "12 min 5 s"), (12_000, "3 h 20 min"), (187_200, "2 d 4 h")],
)
def test_lengths_of_time(seconds: float, said: str) -> None:
    """In the two units that matter."""
    assert span(seconds) == said
