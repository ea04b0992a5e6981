"""How a bus is doing, for screens and reports."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from drivers.reading import Quality

if TYPE_CHECKING:
    from collections.abc import Sequence

    from drivers.clock import Instant
    from drivers.reading import MeterPoll


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


@dataclass(slots=True)
class Tally:
    """Counts the polls of one meter."""

    unit: int
    _counts: Counter[Quality] = field(default_factory=Counter)
    _latency_s: float | None = None
    _last_good: Instant | None = None

    def count(self, poll: MeterPoll) -> None:
        """Count one poll."""
        worst = next((c.quality for c in poll.channels if c.quality is not Quality.GOOD), Quality.GOOD)
        self._counts[worst] += 1
        if worst is Quality.GOOD:
            self._latency_s, self._last_good = poll.latency_s, poll.at

    def stats(self) -> MeterStats:
        """Give the counts so far."""
        counts = dict(self._counts)
        by_name = {quality.value: number for quality, number in counts.items()}
        return MeterStats(
            self.unit, sum(counts.values()), latency_s=self._latency_s, last_good=self._last_good, **by_name
        )


def bus_stats(bus: str, problem: str | None, tallies: Sequence[Tally]) -> BusStats:
    """Put the parts together; ``problem`` is None where the port is open."""
    return BusStats(bus, problem is None, problem or "", tuple(tally.stats() for tally in tallies))
