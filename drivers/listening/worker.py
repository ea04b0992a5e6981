"""One thread a bus of meters that send messages: it alone has the port, and hands on what comes of each message."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from threading import Event, Thread
from typing import TYPE_CHECKING

from drivers.bus.stats import Tally, bus_stats
from drivers.clock import monotonic, now
from drivers.errors import Corrupt, LinkDown, LinkError, PortProblem
from drivers.fields.decode import channels_in, decode_fields
from drivers.iec62056.listener import TelegramListener
from drivers.links.byte_stream import open_stream
from drivers.reading import ChannelReading, MeterPoll
from drivers.textlines.listener import TextListener

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from drivers.bus.settings import BusSettings
    from drivers.bus.stats import BusStats
    from drivers.fields.model import FieldMap, Fields
    from drivers.listening.listener import Listener

RETRY_S = 1.0
"""How often a port that is gone is tried, and the shortest time between the gaps told meanwhile [s]."""
_LOOK_S = 0.2
_FAULTS_ONCE = 2
"""So many messages that are not whole, and a meter that is polled once is told as that."""
_EARLY = 0.5
"""Messages may come at any time: one within half an interval after the last is passed over."""


@dataclass(slots=True)
class FieldMeter:
    """One meter on the bus.

    Attributes:
        unit: its number, by which the polls are told apart.
        map: its field map.

    """

    unit: int
    map: FieldMap
    _heard_s: dict[str, float] = field(default_factory=dict)  # when each channel was told last

    def due(self, channel: str, interval_s: float, now_s: float) -> bool:
        """Say whether a reading of ``channel`` is wanted."""
        return now_s - self._heard_s.get(channel, float("-inf")) >= _EARLY * interval_s

    def told(self, channels: Sequence[str], now_s: float) -> None:
        """Note that a reading of each of ``channels`` was handed on."""
        self._heard_s.update(dict.fromkeys(channels, now_s))

    def last_told(self, channel: str) -> float:
        """Give when ``channel`` was told last [monotonic, s]."""
        return self._heard_s.get(channel, float("-inf"))


class ListeningWorker:
    """Listens to the meters of one bus; the same from outside as ``drivers.bus.worker.BusWorker``.

    Args:
        settings: the bus.
        meters: its meters, each with its own unit number; each message is held against the map of each, so that no
            two may read one channel's fields (a show file has one meter on such a bus).
        deliver: called with every poll, in the worker's thread; it must not block for long.

    """

    def __init__(
        self, settings: BusSettings, meters: Sequence[FieldMeter], deliver: Callable[[MeterPoll], None]
    ) -> None:
        self._settings, self._meters, self._deliver = settings, tuple(meters), deliver
        self._tallies = {meter.unit: Tally(meter.unit) for meter in meters}
        self._listener: Listener | None = None
        self._problem: str | None = "not opened yet"
        self._undelivered, self._fault = 0, ""
        self._since_s = monotonic()
        self._stop = Event()
        self._thread = Thread(target=self._run, name=f"bus-{settings.id}", daemon=True)

    @property
    def bus(self) -> str:
        """Give the bus's id."""
        return self._settings.id

    def start(self) -> None:
        """Begin to listen; may be called once."""
        self._thread.start()

    def stop(self, timeout: float = 5.0) -> None:
        """End listening and close the port; wait for that at most ``timeout`` [s]. Stopping twice is no fault."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(timeout)
        else:
            self._close("closed")

    def stats(self) -> BusStats:
        """Give the state of the bus and the counts of its meters; may be called from any thread."""
        stats = bus_stats(self._settings.id, self._problem, list(self._tallies.values()))
        return replace(stats, undelivered=self._undelivered, fault=self._fault)

    def urge(self, units: frozenset[int]) -> None:
        """Do nothing: these meters speak when they will."""

    def poll_once(self) -> tuple[MeterPoll, ...]:
        """Listen until every channel has been told once, in the caller's thread, without ``start``.

        A port that can't be opened gives a silent gap a meter, with the reason as detail. ``stop`` closes.
        """
        polls: list[MeterPoll] = []
        deliver, self._deliver = self._deliver, polls.append
        try:
            self._listen_once()
        finally:
            self._deliver = deliver
        merged = tuple(_merged([poll for poll in polls if poll.unit == meter.unit]) for meter in self._meters)
        for poll in merged:
            deliver(poll)
        return merged

    def _listen_once(self) -> None:
        listener = self._opened()
        if listener is None:
            self._tell_gap(LinkDown(self._problem or ""))
            return
        begun_s, faults = monotonic(), 0
        while any(meter.last_told(c) < begun_s for meter in self._meters for c in meter.map.channels):
            try:
                fields = listener.listen(_LOOK_S)
                if fields is not None:
                    self._take(fields)
            except Corrupt as fault:
                faults += 1
                if faults == _FAULTS_ONCE:
                    self._tell_missing(fault, begun_s)
            except LinkError as fault:
                self._tell_missing(fault, begun_s)

    def _run(self) -> None:
        try:
            while not self._stop.is_set():
                try:
                    self._go_on()
                except Exception as error:  # noqa: BLE001 - a mistake of ours must not end the readings of a bus
                    self._fault = f"{error!r}"
                    self._close(f"bus {self._settings.id} was not read, by a fault of this program ({error!r})")
                    self._stop.wait(RETRY_S)
        finally:
            self._close("closed")

    def _go_on(self) -> None:
        listener = self._opened()
        if listener is None:
            self._tell_gap(LinkDown(self._problem or ""))
            self._stop.wait(max(RETRY_S, self._settings.interval_s))
            return
        try:
            fields = listener.listen(_LOOK_S)
        except LinkDown as down:
            hardly_open = monotonic() - self._since_s < RETRY_S
            self._close(str(down))
            if hardly_open or self._opened() is None:
                self._tell_gap(down)
                self._stop.wait(RETRY_S)
        except LinkError as fault:
            self._tell_gap(fault)
        else:
            if fields is not None:
                self._take(fields)

    def _take(self, fields: Fields) -> None:
        """Hand on what one message says, of every meter whose turn it is."""
        now_s, whole = monotonic(), self._listener is not None and self._listener.whole
        for meter in self._meters:
            there = channels_in(meter.map, fields)
            wanted = [c for c in there if meter.due(c, self._settings.interval_s, now_s)]
            absent = [c for c in meter.map.channels if c not in there and (whole or self._is_overdue(meter, c, now_s))]
            if not there and not whole:
                continue
            channels = [c for c in meter.map.channels if c in wanted or c in absent]
            if channels:
                self._hand_on(meter, decode_fields(meter.map, fields, channels), now_s)

    def _is_overdue(self, meter: FieldMeter, channel: str, now_s: float) -> bool:
        """Say whether a channel that has lines of its own has had none for too long."""
        last_s = max(meter.last_told(channel), self._since_s)
        return now_s - last_s >= max(self._settings.timeout_s, 2 * self._settings.interval_s)

    def _tell_gap(self, fault: LinkError) -> None:
        self._tell_missing(fault, float("inf"))

    def _tell_missing(self, fault: LinkError, since_s: float) -> None:
        """Tell a gap of every channel that was not told since ``since_s``, no more often than readings are wanted."""
        now_s = monotonic()
        for meter in self._meters:
            missing = [
                c
                for c in meter.map.channels
                if meter.last_told(c) < since_s and meter.due(c, self._settings.interval_s, now_s)
            ]
            if missing:
                gaps = tuple(ChannelReading(c, fault.quality, detail=fault.detail) for c in missing)
                self._hand_on(meter, gaps, now_s)

    def _hand_on(self, meter: FieldMeter, channels: tuple[ChannelReading, ...], now_s: float) -> None:
        meter.told([channel.channel for channel in channels], now_s)
        poll = MeterPoll(self._settings.id, meter.unit, now(), channels)
        self._tallies[meter.unit].count(poll)
        try:
            self._deliver(poll)
        except Exception as error:  # noqa: BLE001 - whatever it is, the meters go on being read
            self._undelivered += 1
            self._fault = f"{error!r}"

    def _opened(self) -> Listener | None:
        """Give the listener on the open port; open it first where needed. None: it can't be opened now."""
        if self._listener is None:
            try:
                self._listener = _listener(self._settings, self._meters)
            except PortProblem as problem:
                self._problem = str(problem)
                return None
            self._problem, self._since_s = None, monotonic()
        return self._listener

    def _close(self, why: str) -> None:
        listener, self._listener = self._listener, None
        if listener is not None:
            listener.close()
        if self._problem is None:
            self._problem = why


def _listener(settings: BusSettings, meters: Sequence[FieldMeter]) -> Listener:
    stream = open_stream(settings)
    if settings.protocol == "text":
        fields = frozenset().union(*(meter.map.fields for meter in meters))
        return TextListener(stream, settings, fields, check_needed=any(meter.map.checksum for meter in meters))
    return TelegramListener(stream, settings)


def _merged(polls: Sequence[MeterPoll]) -> MeterPoll:
    """Put the polls of one meter together; the last word on each channel counts."""
    channels = {channel.channel: channel for poll in polls for channel in poll.channels}
    return replace(polls[-1], channels=tuple(channels.values()))
