"""The counts of a bus: rate, latencies and faults as they were, nothing invented where nothing came."""

from __future__ import annotations

import pytest

from drivers.bus.stats import RECENT, Tally
from drivers.clock import Instant
from drivers.reading import ChannelReading, MeterPoll, Quality


def poll(at_s: float, latency_s: float = 0.1, quality: Quality = Quality.GOOD, retries: int = 0) -> MeterPoll:
    """Give a poll of one channel that ended at ``at_s``."""
    return MeterPoll("b", 7, Instant(0, at_s), (ChannelReading("ch1", quality),), latency_s, retries)


def test_rate_latency_and_retries() -> None:
    """Twice a second, one slow reply, one silence that was asked twice."""
    tally = Tally(7)
    for n in range(8):
        tally.count(poll(n * 0.5, 0.3 if n == 4 else 0.1))
    tally.count(poll(4.0, 1.0, Quality.SILENT, retries=1))
    stats = tally.stats()
    assert (stats.polls, stats.good, stats.silent, stats.retries) == (9, 8, 1, 1)
    assert stats.per_second == pytest.approx(2.0)
    assert (stats.median_s, stats.worst_s) == (0.1, 0.3)
    assert stats.busy == pytest.approx((6 * 0.1 + 0.3 + 1.0) / 4.0)


def test_only_the_last_polls_count_for_rate_and_latency() -> None:
    """What was slow long ago is in the counts alone."""
    tally = Tally(7)
    tally.count(poll(0.0, 5.0))
    for n in range(RECENT):
        tally.count(poll(100.0 + n, 0.2))
    assert tally.stats().worst_s == 0.2
    assert tally.stats().per_second == pytest.approx(1.0)
    assert tally.stats().polls == RECENT + 1


def test_nothing_is_said_before_there_is_something() -> None:
    """No poll, one poll, silence only: unknown is None, never 0."""
    tally = Tally(7)
    assert (tally.stats().per_second, tally.stats().busy, tally.stats().median_s) == (None, None, None)
    tally.count(poll(1.0, 0.4, Quality.SILENT))
    assert (tally.stats().per_second, tally.stats().median_s, tally.stats().worst_s) == (None, None, None)
