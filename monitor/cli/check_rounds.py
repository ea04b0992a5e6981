"""Asking every meter of a show a few times, and what came of it."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import pairwise
from statistics import median
from typing import TYPE_CHECKING

from drivers.bus.settings import FIELD_PROTOCOLS
from drivers.clock import monotonic
from drivers.reading import Quality
from monitor.recorder.polling import make_workers

if TYPE_CHECKING:
    from collections.abc import Iterator

    from drivers.reading import MeterPoll
    from monitor.recorder.polling import Worker
    from monitor.show.model import Meter, Show

ROUNDS = 3
_LONG_S = 5.0
"""A bus whose first round took longer is not asked again: somebody waits for the answer."""
_VOLTS_JUMP = 0.1
"""Volts of one tap don't move by more than this part within a second on a set (a judgement)."""
_GIVES_VALUES = (Quality.GOOD, Quality.IMPLAUSIBLE)


@dataclass(frozen=True, slots=True)
class Asked:
    """What one meter gave.

    Attributes:
        meter: as in the show.
        polls: in order; at least one.
        listening: it sends by itself: ``spacing_s`` counts, not ``latency_s``.

    """

    meter: Meter
    polls: tuple[MeterPoll, ...]
    listening: bool

    @property
    def where(self) -> str:
        """Its name in findings."""
        return f"{self.meter.bus} unit {self.meter.unit}"

    @property
    def best(self) -> MeterPoll:
        """The newest poll without a fault, else the newest that gave values, else the newest."""
        whole = [poll for poll in self.polls if all(c.quality is Quality.GOOD for c in poll.channels)]
        return (whole or [poll for poll in self.polls if _answered(poll)] or list(self.polls))[-1]

    @property
    def answered(self) -> int:
        """In how many rounds it answered with values."""
        return sum(map(_answered, self.polls))

    @property
    def garbled(self) -> int:
        """In how many rounds broken replies came, and asking again did not help."""
        bad = (Quality.CORRUPT, Quality.SUSPECT)
        return sum(any(c.quality in bad for c in poll.channels) for poll in self.polls)

    @property
    def asked_again(self) -> int:
        """In how many rounds asking again helped, after a late or broken reply."""
        return sum(poll.retries > 0 and _answered(poll) for poll in self.polls)

    @property
    def latency_s(self) -> float | None:
        """Median time of a poll that answered at once [s]; None where there is none, or it sends by itself."""
        times = [poll.latency_s for poll in self.polls if _answered(poll) and not poll.retries]
        return None if self.listening or not times else median(times)

    @property
    def spacing_s(self) -> float | None:
        """Time from message to message of a meter that sends by itself [s]; None where it is not known."""
        at = [poll.at.mono_s for poll in self.polls if _answered(poll)]
        return (at[-1] - at[0]) / (len(at) - 1) if self.listening and len(at) > 1 else None

    def varies(self) -> str:
        """Say what moved between the rounds as no sound meter's values do, or nothing."""
        for index, channel in enumerate(self.polls[0].channels):
            values = [poll.channels[index].values for poll in self.polls if len(poll.channels) > index]
            volts = [one.volts for one in values if one.volts is not None]
            if volts and max(volts) - min(volts) > _VOLTS_JUMP * max(volts):
                return f"{channel.channel} reads from {min(volts):.1f} to {max(volts):.1f} V within moments"
            energy = [one.watt_hours for one in values if one.watt_hours is not None]
            if any(after < before for before, after in pairwise(energy)):
                return f"{channel.channel}'s energy went back from {max(energy):.0f} to {min(energy):.0f} Wh"
        return ""


def ask(show: Show) -> tuple[Asked, ...]:
    """Ask every meter up to ``ROUNDS`` times, all buses at the same time; in the show's order.

    Meters that send by themselves are heard twice. A bus on which nobody answers, or that takes long, once.
    """
    workers = make_workers(show, lambda _: None)
    if not workers:
        return ()
    listening = {bus.id for bus in show.buses if bus.protocol in FIELD_PROTOCOLS}
    with ThreadPoolExecutor(len(workers)) as pool:
        polls = [poll for rounds in pool.map(lambda one: list(_rounds(one, listening)), workers) for poll in rounds]
    return tuple(
        Asked(meter, mine, meter.bus in listening)
        for meter in show.meters
        if (mine := tuple(poll for poll in polls if (poll.bus, poll.unit) == (meter.bus, meter.unit)))
    )


def _rounds(worker: Worker, listening: set[str]) -> Iterator[MeterPoll]:
    begun_s = monotonic()
    try:
        first = worker.poll_once()
        yield from first
        slow = monotonic() - begun_s > _LONG_S
        heard = any(poll.bus in listening for poll in first)
        if not any(map(_answered, first)) or (slow and not heard):
            return
        for _ in range(1 if heard else ROUNDS - 1):
            yield from worker.poll_once()
    finally:
        worker.stop()


def _answered(poll: MeterPoll) -> bool:
    return any(channel.quality in _GIVES_VALUES for channel in poll.channels)
