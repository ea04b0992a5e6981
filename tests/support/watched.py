"""A bus worker at work, and everything it has delivered."""

from __future__ import annotations

import time
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Self

from drivers.bus.settings import MeterSettings
from drivers.bus.worker import BusWorker

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from drivers.maps.model import MeterMap
    from drivers.reading import MeterPoll
    from tests.support.lines import Line


@dataclass
class Watched:
    """A worker, its far end, and every poll so far."""

    bus: Line
    used: MeterMap
    units: Sequence[int]
    polls: list[MeterPoll] = field(default_factory=list)

    def __enter__(self) -> Self:
        """Start the worker."""
        meters = [MeterSettings(unit, self.used) for unit in self.units]
        self.worker = BusWorker(self.bus.settings, meters, self.polls.append)
        self.worker.start()
        return self

    def __exit__(self, *_: object) -> None:
        """Stop it."""
        self.worker.stop()

    def until(self, enough: Callable[[list[MeterPoll]], bool], within_s: float = 10.0) -> list[MeterPoll]:
        """Wait until ``enough`` of the polls from now on; give those."""
        start, end_s = len(self.polls), time.monotonic() + within_s
        while not enough(self.polls[start:]):
            assert time.monotonic() < end_s, f"not within {within_s} s; since then: {told(self.polls[start:])}"
            time.sleep(0.005)
        return self.polls[start:]

    def good(self, unit: int | None = None, number: int = 2) -> list[MeterPoll]:
        """Wait for good polls of every unit, or one."""
        units = self.units if unit is None else [unit]
        return self.until(
            lambda polls: all(sum(p.unit == u and qualities(p) == {"good"} for p in polls) >= number for u in units)
        )

    def wrong(self) -> list[str]:
        """Name every wrong value delivered so far."""
        return [text for poll in self.polls for text in self.bus.responder.wrong_values(poll, self.used)]


def qualities(poll: MeterPoll) -> set[str]:
    """Give the qualities of a poll's channels."""
    return {channel.quality.value for channel in poll.channels}


def told(polls: Sequence[MeterPoll]) -> list[tuple[int, set[str], str]]:
    """Give polls in short, for messages."""
    return [(poll.unit, qualities(poll), poll.channels[0].detail) for poll in polls[-12:]]
