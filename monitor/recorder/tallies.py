"""Puts together, once a cycle, what the logger alone knows: see ``monitor.engine.tallied``."""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

from monitor.engine.tallied import FuelLevel, Tallied
from monitor.engine.told import Answer, OutputView
from monitor.recorder.counter import DONE, REFUSED

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from drivers.bus.stats import BusStats
    from monitor.alarms.conditions import Conditions
    from monitor.engine.events import Event
    from monitor.recorder.polling import Worker

BUSES_EVERY = 5  # cycles: counting up the buses costs more than all the rest
_ANSWERS, _ANSWERED_MS = 32, 60_000  # so many are told, for so long
_LONGEST = 300  # characters of an answer
_MOSTLY = 0.9  # of 15 minutes: a mean of less is no highest demand


class Tallies:
    """What is added up for one show; used by the recorder's thread alone.

    Args:
        workers: of its buses.
        rated: whether the source has rated kW.

    """

    def __init__(self, workers: Sequence[Worker], *, rated: bool) -> None:
        self._workers, self._rated = workers, rated
        self._buses: dict[str, BusStats] = {}
        self._cycles = 0
        self._highest: tuple[float, int] | None = None
        self._answers: deque[Answer] = deque(maxlen=_ANSWERS)

    def answered(self, events: Iterable[Event]) -> None:
        """Keep the answers among the events of a cycle."""
        for event in events:
            number = event.data.get("request")
            if event.kind in {DONE, REFUSED} and number:
                self._answers.append(Answer(str(number), event.kind == DONE, event.text[:_LONGEST], event.time_ms))

    def now(self, conditions: Conditions, now_ms: int) -> tuple[Tallied, bool]:
        """Give what is known at this moment, and whether the buses have been counted up anew."""
        counted = self._cycles % BUSES_EVERY == 0
        self._cycles += 1
        if counted:
            stats = [worker.stats() for worker in self._workers]
            self._buses = {each.bus: each for each in stats}
        while self._answers and now_ms - self._answers[0].time_ms > _ANSWERED_MS:
            self._answers.popleft()
        tallied = Tallied(
            output=self._output(conditions, now_ms),
            fuel=_fuel(conditions),
            heat=conditions.heat,
            buses=self._buses,
            answers=tuple(self._answers),
        )
        return tallied, counted

    def _output(self, conditions: Conditions, now_ms: int) -> OutputView | None:
        running, demand = conditions.running, conditions.demand
        if running is None:
            return None
        kilowatts = None if demand is None else demand.watts / 1000
        if demand is not None and kilowatts is not None and demand.covered_s >= _MOSTLY * demand.length_s:
            self._highest = max(self._highest or (kilowatts, now_ms), (kilowatts, now_ms), key=lambda seen: seen[0])
        rated = self._rated
        return OutputView(
            demand_kw=kilowatts,
            demand_covered_s=0.0 if demand is None else demand.covered_s,
            highest_kw=None if self._highest is None else self._highest[0],
            highest_ms=None if self._highest is None else self._highest[1],
            energy_kwh=running.kilowatt_hours,
            covered_s=running.covered_s,
            peak_kw=None if running.peak_watts is None else running.peak_watts / 1000,
            load_factor=running.load_factor,
            low_s=running.low_s if rated else None,
            high_s=running.high_s if rated else None,
            low_net_s=3600 * conditions.low_load_hours if rated else None,
        )


def _fuel(conditions: Conditions) -> FuelLevel | None:
    state = conditions.fuel
    if state is None:
        return None
    left = state.left
    return FuelLevel(
        litres=state.litres,
        usable_litres=None if left is None else left.usable_litres,
        hours_mean=None if left is None else left.hours_mean,
        hours_worst=None if left is None else left.hours_worst,
        entered=state.entered,
        since_ms=state.since_ms,
        unknown_s=state.unknown_s,
        calibrated=left is not None and not left.estimate,
    )
