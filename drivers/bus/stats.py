"""How a bus is doing, for screens and reports."""

from __future__ import annotations

from collections import Counter, deque
from dataclasses import dataclass, field
from statistics import median
from typing import TYPE_CHECKING, NamedTuple

from drivers.reading import Quality

if TYPE_CHECKING:
    from collections.abc import Sequence

    from drivers.clock import Instant
    from drivers.reading import MeterPoll

RECENT = 60
"""So many of a meter's last polls its rate and latencies are taken from."""


@dataclass(frozen=True, slots=True)
class MeterStats:
    """What came of one meter's polls; a poll counts once, by its worst channel.

    Attributes:
        unit: unit number.
        polls: all of them.
        good: everything came.
        silent: nothing came.
        corrupt: no whole reply came.
        refused: the meter refused.
        implausible: a value that can't be.
        suspect: a reply that may answer an earlier question.
        latency_s: of the last good poll [s], or None.
        last_good: when that was, or None.
        retries: times that it was asked anew within a poll, after a fault.
        per_second: polls a second over the last ``RECENT`` polls [1/s]; None before the second poll.
        busy: share of that time in which the bus was occupied with this meter [1]; None before the second poll.
        median_s: median latency of the good ones among the last ``RECENT`` polls [s]; None where there is none, or
            the meter sends of its own accord.
        worst_s: the longest of them [s], or None.

    """

    unit: int
    polls: int = 0
    good: int = 0
    silent: int = 0
    corrupt: int = 0
    refused: int = 0
    implausible: int = 0
    suspect: int = 0
    latency_s: float | None = None
    last_good: Instant | None = None
    retries: int = 0
    per_second: float | None = None
    busy: float | None = None
    median_s: float | None = None
    worst_s: float | None = None


@dataclass(frozen=True, slots=True)
class BusStats:
    """One bus.

    Attributes:
        bus: its id.
        is_open: its port or connection is open.
        problem: why not, in plain words; empty when open.
        meters: one for each meter, in the settings' order.
        undelivered: polls that the one who takes them failed on.
        fault: the last mistake of this program met while polling, in its own words; empty where there was none.

    """

    bus: str
    is_open: bool
    problem: str
    meters: tuple[MeterStats, ...]
    undelivered: int = 0
    fault: str = ""


class _Recent(NamedTuple):
    """One of the last polls: when it ended [monotonic, s], how long it took [s], whether everything came."""

    end_s: float
    latency_s: float
    good: bool


@dataclass(slots=True)
class Tally:
    """Counts the polls of one meter."""

    unit: int
    _counts: Counter[Quality] = field(default_factory=Counter)
    _latency_s: float | None = None
    _last_good: Instant | None = None
    _retries: int = 0
    _recent: deque[_Recent] = field(default_factory=lambda: deque(maxlen=RECENT))

    def count(self, poll: MeterPoll) -> None:
        """Count one poll."""
        worst = next((c.quality for c in poll.channels if c.quality is not Quality.GOOD), Quality.GOOD)
        self._counts[worst] += 1
        self._retries += poll.retries
        self._recent.append(_Recent(poll.at.mono_s, poll.latency_s, worst is Quality.GOOD))
        if worst is Quality.GOOD:
            self._latency_s, self._last_good = poll.latency_s, poll.at

    def stats(self) -> MeterStats:
        """Give the counts so far; may be called from any thread."""
        counts, recent = dict(self._counts), list(self._recent)
        by_name = {quality.value: number for quality, number in counts.items()}
        good = [poll.latency_s for poll in recent if poll.good and poll.latency_s]
        span_s = recent[-1].end_s - recent[0].end_s if recent else 0.0
        return MeterStats(
            self.unit,
            sum(counts.values()),
            latency_s=self._latency_s,
            last_good=self._last_good,
            retries=self._retries,
            per_second=(len(recent) - 1) / span_s if span_s > 0 else None,
            busy=sum(poll.latency_s for poll in recent[1:]) / span_s if span_s > 0 else None,
            median_s=median(good) if good else None,
            worst_s=max(good, default=None),
            **by_name,
        )


def bus_stats(bus: str, problem: str | None, tallies: Sequence[Tally]) -> BusStats:
    """Put the parts together; ``problem`` is None where the port is open."""
    return BusStats(bus, problem is None, problem or "", tuple(tally.stats() for tally in tallies))
