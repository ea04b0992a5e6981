"""From the show's meters to bus workers, and from their polls to readings of points."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

from drivers.bus.settings import MODBUS_PROTOCOLS, MeterSettings
from drivers.bus.worker import BusWorker
from monitor.engine.reading import Reading

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from drivers.bus.settings import BusSettings
    from drivers.reading import MeterPoll
    from monitor.show.model import Point, Show


class NotPollable(Exception):
    """The show has buses that this version can't poll.

    Attributes:
        buses: (id, protocol) of each.

    """

    def __init__(self, buses: tuple[tuple[str, str], ...]) -> None:
        self.buses = buses
        names = ", ".join(f"{bus} ({protocol})" for bus, protocol in buses)
        known = ", ".join(MODBUS_PROTOCOLS)
        super().__init__(f"this version can't poll {names}; it polls {known}")


def make_workers(show: Show, deliver: Callable[[MeterPoll], None]) -> tuple[BusWorker, ...]:
    """Make one worker for each bus that has meters.

    Raises:
        NotPollable: a bus speaks a protocol that has no driver.

    """
    used = [bus for bus in show.buses if any(meter.bus == bus.id for meter in show.meters)]
    foreign = tuple((bus.id, bus.protocol) for bus in used if bus.protocol not in MODBUS_PROTOCOLS)
    if foreign:
        raise NotPollable(foreign)
    return tuple(BusWorker(bus, _meters(show, bus), deliver) for bus in used)


def _meters(show: Show, bus: BusSettings) -> tuple[MeterSettings, ...]:
    return tuple(MeterSettings(m.unit, m.map) for m in show.meters if m.bus == bus.id and m.map is not None)


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
    """Poll every meter once, all buses at the same time; a meter that can't be read gives its reason.

    Raises:
        NotPollable: a bus speaks a protocol that has no driver.

    """
    workers = make_workers(show, lambda _: None)
    if not workers:
        return ()
    with ThreadPoolExecutor(len(workers)) as pool:
        return tuple(poll for polls in pool.map(lambda worker: worker.poll_once(), workers) for poll in polls)
