"""One thread a bus: it alone has the port, asks the meters in turn and hands every poll on.

Where replies carry no number a poll is handed on only after the next exchange on the bus (or a short silence)
has shown that nothing more came: a frame too many means that the poll may have been answered by an earlier
reply, and its values are taken back.

The thread ends when it is told to and not before: what goes wrong in it, or in the one who takes the polls, is
counted, and polling goes on.
"""

from __future__ import annotations

from dataclasses import replace
from threading import Event, Thread
from typing import TYPE_CHECKING

from drivers.bus.finding import FindingPoller
from drivers.bus.poller import UNKNOWN, Meter, doubted, gap
from drivers.bus.schedule import Schedule
from drivers.bus.stats import Tally, bus_stats
from drivers.clock import monotonic
from drivers.errors import LinkDown, PortProblem
from drivers.links.opening import open_link as open_any_link

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from drivers.bus.poller import Polled, Poller
    from drivers.bus.settings import BusSettings, MeterSettings
    from drivers.bus.stats import BusStats
    from drivers.links.contract import Link
    from drivers.reading import MeterPoll

RETRY_S = 1.0
"""How often a port that is gone is tried, and the shortest time between the gaps told meanwhile [s]."""


class BusWorker:
    """Polls the meters of one bus.

    Args:
        settings: the bus.
        meters: its meters, each with its own unit number.
        deliver: called with every poll, in the worker's thread; it must not block for long.
        open_link: opens the port; a test may give its own.

    """

    def __init__(
        self,
        settings: BusSettings,
        meters: Sequence[MeterSettings],
        deliver: Callable[[MeterPoll], None],
        open_link: Callable[[BusSettings], Link] = open_any_link,
    ) -> None:
        self._settings = settings
        self._meters = {meter.unit: Meter.of(meter) for meter in meters}
        self._tallies = {unit: Tally(unit) for unit in self._meters}
        self._deliver = deliver
        self._open_link = open_link
        self._link: Link | None = None
        self._poller: Poller | None = None
        self._problem: str | None = "not opened yet"
        self._try_after_s = float("-inf")
        self._held: MeterPoll | None = None
        self._undelivered = 0
        self._fault = ""
        self._urgent: frozenset[int] = frozenset()
        self._stop = Event()
        self._thread = Thread(target=self._run, name=f"bus-{settings.id}", daemon=True)

    @property
    def bus(self) -> str:
        """Give the bus's id."""
        return self._settings.id

    def start(self) -> None:
        """Begin to poll; may be called once."""
        self._thread.start()

    def stop(self, timeout: float = 5.0) -> None:
        """End polling and close the port; wait for that at most ``timeout`` [s]. Stopping twice is no fault."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(timeout)
        else:
            self._close()

    def urge(self, units: frozenset[int]) -> None:
        """Read these meters more often while the line can't keep up (see ``schedule``); from any thread."""
        self._urgent = units

    def stats(self) -> BusStats:
        """Give the state of the bus and the counts of its meters; may be called from any thread."""
        stats = bus_stats(self._settings.id, self._problem, list(self._tallies.values()))
        return replace(stats, undelivered=self._undelivered, fault=self._fault)

    def poll_once(self) -> tuple[MeterPoll, ...]:
        """Poll every meter once, in the caller's thread, without ``start``; also hand the polls on.

        A port that can't be opened gives a silent gap a meter, with the reason as detail. ``stop`` closes.
        """
        polls: list[MeterPoll] = []
        deliver, self._deliver = self._deliver, polls.append
        try:
            for meter in self._meters.values():
                poller = self._opened()
                if poller is None:
                    self._hand_on(gap(self._settings.id, meter, LinkDown(self._problem or "")))
                else:
                    self._take(self._poll(poller, meter))
            self._stop.wait(self._poller.quiet_s if self._poller else 0.0)
            self._release()
        finally:
            self._deliver = deliver
        for poll in polls:
            deliver(poll)
        return tuple(polls)

    def _run(self) -> None:
        schedule = Schedule(tuple(self._meters), self._settings.interval_s, monotonic())
        try:
            while not self._stop.is_set():
                try:
                    self._go_on(schedule)
                except Exception as error:  # noqa: BLE001 - a mistake of ours must not end the readings of a bus
                    self._begin_anew(error)
            self._release()
        finally:
            self._close()

    def _go_on(self, schedule: Schedule) -> None:
        poller = self._opened()
        if poller is None:
            self._without_port()
            schedule.begin(monotonic())
        else:
            self._turn(poller, schedule)

    def _begin_anew(self, error: Exception) -> None:
        """After a mistake of this program: tell it in every meter's gap, close the port, open it again later."""
        self._fault = f"{error!r}"
        self._problem = f"bus {self._settings.id}: a fault of this program ({error!r}); polling begins anew"
        self._held = None
        for meter in self._meters.values():
            meter.trust.doubt(monotonic())
        self._close()
        self._try_after_s = monotonic() + RETRY_S

    def _turn(self, poller: Poller, schedule: Schedule) -> None:
        """Wait for the next turn, or take it."""
        begun_s = monotonic()
        unit, wait_s = schedule.next(begun_s, self._urgent)
        meter = self._meters[unit]
        settling_s = max(0.0, poller.settled_s - begun_s)
        if self._held is not None and (settling_s < wait_s or poller.confusable(meter)):
            self._stop.wait(settling_s)
            self._release()
        elif wait_s > 0:
            self._stop.wait(wait_s)
        else:
            polled = self._poll(poller, meter)
            schedule.done(unit, begun_s, monotonic(), answered=polled.answered)
            self._take(polled)

    def _poll(self, poller: Poller, meter: Meter) -> Polled:
        """Poll one meter, once more where the link was lost and comes back at once (gateways close idle ones)."""
        polled = poller.poll(meter)
        if polled.down is None:
            return polled
        self._problem = str(polled.down)
        self._close()
        again = self._opened()
        return polled if again is None else again.poll(meter)

    def _without_port(self) -> None:
        """Tell every meter's gap, then wait before the port is tried again."""
        for meter in self._meters.values():
            self._hand_on(gap(self._settings.id, meter, LinkDown(self._problem or "")))
        until_s = monotonic() + max(RETRY_S, self._settings.interval_s)
        while not self._stop.wait(max(0.0, min(until_s, self._try_after_s) - monotonic())):
            if monotonic() >= until_s or self._opened() is not None:
                return

    def _take(self, polled: Polled) -> None:
        """Hand on the poll before this one, and hold this one until the bus has shown that it may stand."""
        held, self._held = self._held, None
        if held is not None:
            self._hand_on(doubted(held) if polled.strays & {UNKNOWN, held.unit} else held)
        if polled.answered and polled.down is None and self._link is not None and not self._link.matches_replies:
            self._held = polled.poll
        else:
            self._hand_on(polled.poll)
        if polled.down is not None:
            self._problem = str(polled.down)
            self._close()

    def _release(self) -> None:
        """Hand on the held poll after a silence on the bus."""
        held, self._held = self._held, None
        if held is None:
            return
        try:
            quiet = self._poller is None or self._poller.is_quiet()
        except LinkDown:
            quiet = True  # the port went after the reply had come; the next poll tells of it
        self._hand_on(held if quiet else doubted(held))

    def _hand_on(self, poll: MeterPoll) -> None:
        self._tallies[poll.unit].count(poll)
        try:
            self._deliver(poll)
        except Exception as error:  # noqa: BLE001 - whatever it is, the meters go on being read
            self._undelivered += 1
            self._fault = f"{error!r}"

    def _opened(self) -> Poller | None:
        """Give the poller of the open port; open it first where needed. None: it can't be opened now."""
        if self._poller is None and monotonic() >= self._try_after_s:
            self._try_after_s = monotonic() + RETRY_S
            try:
                if self._link is None:
                    self._link = self._open_link(self._settings)
                else:
                    self._link.reopen()
            except PortProblem as problem:
                self._problem = str(problem)
                return None
            self._problem = None
            self._poller = FindingPoller(self._link, self._settings)
        return self._poller

    def _close(self) -> None:
        self._poller = None
        if self._link is not None:
            self._link.close()
        if self._problem is None:
            self._problem = "closed"
