"""From the show's meters to bus workers, and from their polls to readings of points."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import TYPE_CHECKING, Protocol

from drivers.bus.settings import FIELD_PROTOCOLS, SUNSPEC_PROTOCOLS, MeterSettings
from drivers.bus.worker import BusWorker
from drivers.listening.worker import FieldMeter, ListeningWorker
from drivers.sunspec.search import Search
from monitor.engine.reading import Reading

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from drivers.bus.settings import BusSettings
    from drivers.bus.stats import BusStats
    from drivers.fields.model import FieldMap
    from drivers.reading import MeterPoll
    from monitor.show.model import Meter, Point, Show


class Worker(Protocol):
    """What the recorder needs of whoever reads one bus."""

    @property
    def bus(self) -> str:
        """Give the bus's id."""

    def start(self) -> None:
        """Begin to poll; may be called once."""

    def stop(self, timeout: float = 5.0) -> None:
        """End polling and close the port."""

    def stats(self) -> BusStats:
        """Give the state of the bus and the counts of its meters."""

    def urge(self, units: frozenset[int]) -> None:
        """Read these meters first while the line can't keep up."""

    def poll_once(self) -> tuple[MeterPoll, ...]:
        """Poll every meter once, in the caller's thread, without ``start``."""


def make_workers(show: Show, deliver: Callable[[MeterPoll], None]) -> tuple[Worker, ...]:
    """Make one worker for each bus that has meters."""
    used = [bus for bus in show.buses if any(meter.bus == bus.id for meter in show.meters)]
    return tuple(_worker(show, bus, deliver) for bus in used)


def _worker(show: Show, bus: BusSettings, deliver: Callable[[MeterPoll], None]) -> Worker:
    meters = [meter for meter in show.meters if meter.bus == bus.id]
    if bus.protocol in FIELD_PROTOCOLS:
        return ListeningWorker(bus, [_field_meter(m, m.fields) for m in meters if m.fields is not None], deliver)
    if bus.protocol in SUNSPEC_PROTOCOLS:
        searches = [(meter.unit, Search(tuple(channel for channel, _ in meter.points))) for meter in meters]
        return BusWorker(bus, [MeterSettings(unit, one.placeholder(), one) for unit, one in searches], deliver)
    return BusWorker(bus, [MeterSettings(m.unit, m.map) for m in meters if m.map is not None], deliver)


def _field_meter(meter: Meter, fields: FieldMap) -> FieldMeter:
    """Keep of a field map what the show asks for: what nobody measures can't be missed."""
    wanted = {channel for channel, _ in meter.points}
    return FieldMeter(meter.unit, replace(fields, values=tuple(v for v in fields.values if v.channel in wanted)))


class PointNames:
    """Which channel of which meter measures which point."""

    def __init__(self, show: Show) -> None:
        self._points: dict[tuple[str, int, str], Point] = {
            (meter.bus, meter.unit, channel): point for meter in show.meters for channel, point in meter.points
        }

    def readings(self, poll: MeterPoll, time_ms: int) -> Iterable[Reading]:
        """Give the readings of the mapped channels of one poll, stamped with the log's clock."""
        for channel in poll.channels:
            point = self._points.get((poll.bus, poll.unit, channel.channel))
            if point is not None:
                yield Reading(point, time_ms, poll.at.mono_s, channel.quality, channel.values, channel.detail)


def poll_each_once(show: Show) -> tuple[MeterPoll, ...]:
    """Poll every meter once, all buses at the same time; a meter that can't be read gives its reason."""
    workers = make_workers(show, lambda _: None)
    if not workers:
        return ()
    with ThreadPoolExecutor(len(workers)) as pool:
        return tuple(poll for polls in pool.map(lambda worker: worker.poll_once(), workers) for poll in polls)
