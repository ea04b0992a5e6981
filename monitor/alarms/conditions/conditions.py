"""All conditions of a show, observed once for every whole second of the log's time."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.alarms.conditions.balance import Neutrals, Unbalance
from monitor.alarms.conditions.known import Known
from monitor.alarms.conditions.layout import lay_out
from monitor.alarms.conditions.load import Heat, OverPlan, Ratings
from monitor.alarms.conditions.meters import Implausible, LogKeeping, Silence
from monitor.alarms.conditions.neutral import LostNeutrals
from monitor.alarms.conditions.openings import Openings
from monitor.alarms.conditions.past import source_minute
from monitor.alarms.conditions.runs import Runs
from monitor.alarms.conditions.service import WrongService
from monitor.alarms.conditions.source import Hertz, Output
from monitor.alarms.conditions.tank import FuelLeft
from monitor.alarms.conditions.volts import Volts

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from monitor.alarms.conditions.past import PointMinute
    from monitor.alarms.conditions.tank import FuelState
    from monitor.alarms.model import Now, Observation
    from monitor.electrical.demand import Demand, Running
    from monitor.electrical.heat import HeatState
    from monitor.show.model import Point, Show


class Conditions:
    """Watches one show.

    Args:
        show: with its places, ratings and settings.

    """

    def __init__(self, show: Show) -> None:
        layout = lay_out(show)
        known = Known(layout)
        self._known = known
        self._ratings = Ratings(layout, known)
        self._heat = Heat(layout, known)
        self._over_plan = OverPlan(layout, known)
        self._volts = Volts(layout, known)
        self._hertz = Hertz(layout, known)
        self._output = Output(layout)
        self._fuel = FuelLeft.of(layout)
        self._unbalance = Unbalance(layout, known)
        self._neutrals = Neutrals(layout, known)
        self._wrong_service = WrongService(layout, known)
        self._lost_neutrals = LostNeutrals(layout)
        self._openings = Openings(layout, known)
        self._runs = Runs(layout)
        self._silence = Silence(layout, known)
        self._implausible = Implausible(layout, known)
        self._log = LogKeeping(layout)

    def observe(self, now: Now) -> tuple[Observation, ...]:
        """Take one moment, and give one observation for every rule and place that is watched."""
        out: list[Observation] = []
        known = self._known
        known.take(now)
        self._openings.observe(known, out)
        self._wrong_service.observe(out)
        self._lost_neutrals.observe(known, out)
        self._silence.observe(known, out)
        self._ratings.observe(out)
        self._heat.observe(known, out)
        self._over_plan.observe(out)
        self._volts.observe(known, out)
        self._hertz.observe(known, out)
        self._output.observe(known, out)
        if self._fuel is not None:
            self._fuel.observe(known, self._output, out)
        self._unbalance.observe(out)
        self._neutrals.observe(out)
        self._runs.observe(known, out)
        self._implausible.observe(out)
        self._log.observe(now, out)
        return tuple(out)

    def recall(self, begin_ms: int, minutes: Mapping[Point, PointMinute]) -> None:
        """Add up a minute of the past that begins at ``begin_ms`` [ms]; one after another, before any moment.

        What the source adds up takes a minute without its legs as unknown; heat and runs take only what is given.
        """
        if self._output.running is not None:
            source = source_minute(self._known.layout, minutes)
            self._output.recall(begin_ms, source)
            if self._fuel is not None:
                self._fuel.recall(begin_ms, source)
        self._heat.recall(minutes)
        self._runs.recall(minutes)

    @property
    def run_offsets(self) -> Mapping[tuple[str, str], float | None]:
        """By how much the two meters of each run differ, by feeder and leg [V]; None where not known yet."""
        return self._runs.offsets

    @property
    def run_points(self) -> frozenset[Point]:
        """What tells how the two meters of each run differ, where that is not known yet."""
        return self._runs.points

    def refuel(self, litres: float, time_ms: int) -> None:
        """Take a refuel: litres added up to the full tank [l]; nothing happens where fuel is not watched."""
        if self._fuel is not None:
            self._fuel.refuel(litres, time_ms)

    @property
    def close(self) -> Iterator[str]:
        """Circuits, and metered legs as points, whose amps are close to their first limit or above it."""
        return self._ratings.close

    @property
    def heat(self) -> Mapping[str, HeatState]:
        """How far each metered circuit's load has come along its breaker's edges, by circuit."""
        return dict(self._heat.states)

    @property
    def demand(self) -> Demand | None:
        """The source's mean over the last 15 minutes [W]; None where its legs are not metered or nothing is known."""
        return self._output.demand

    @property
    def running(self) -> Running | None:
        """The source's energy, peak, and time at low and high load by its rating; None unless each leg is metered."""
        return self._output.running

    @property
    def low_load_hours(self) -> float:
        """Hours at low load, less the time above it since [h]."""
        return self._output.low_load_s / 3600

    @property
    def fuel(self) -> FuelState | None:
        """Litres and hours left, an estimate; None where the show gives no fuel points or the source has no meters."""
        return self._fuel.state if self._fuel is not None else None
