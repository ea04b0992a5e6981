"""Fuel: litres in the tank and hours left, by the set's fuel points and its load; an estimate, and it says so."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

from monitor.alarms.conditions.past import MINUTE_S
from monitor.alarms.conditions.watch import Watch
from monitor.electrical.fuel import Fill, burn, calibrate, faults, time_left
from monitor.show.model import SOURCE_ID

if TYPE_CHECKING:
    from monitor.alarms.conditions.known import Known
    from monitor.alarms.conditions.layout import Layout
    from monitor.alarms.conditions.past import SourceMinute
    from monitor.alarms.conditions.source import Output
    from monitor.alarms.model import Observation
    from monitor.electrical.fuel import Calibration, TimeLeft
    from monitor.show.model import Fuel

_ENOUGH_S = 600.0  # of the last hour, before its mean says something
_STEP_WATTS = 10.0  # the burn is worked out for whole steps of load
_MOST_UNKNOWN = 0.02  # of the time between two refuels: with more of it unknown they don't calibrate (a judgement)


@dataclass(frozen=True, slots=True)
class FuelState:
    """What is known of the fuel.

    Attributes:
        litres: in the tank by the fuel points and the load since ``since_ms`` [l].
        since_ms: when the level was last known [ms], or when the log began.
        entered: True where somebody entered a refuel; False: a full tank at the log's begin is assumed.
        modelled_litres: burnt since then, by the fuel points alone [l].
        unknown_s: time since then in which the load was not known: what was burnt then is not in it [s].
        left: hours and usable litres left, or None before anything is known of the load.

    """

    litres: float
    since_ms: int = 0
    entered: bool = False
    modelled_litres: float = 0.0
    unknown_s: float = 0.0
    left: TimeLeft | None = None


@lru_cache(maxsize=4096)
def _burn(fuel: Fuel, rated_kw: float, steps: int) -> float:
    return burn(fuel, rated_kw, steps * _STEP_WATTS / 1000)


class FuelLeft:
    """Litres at the reserve, and hours left; nothing where the show gives no usable fuel points.

    Attributes:
        state: as it is now.
        fills: refuels that say how the set burns against its points.

    """

    def __init__(self, layout: Layout, fuel: Fuel, rated_kw: float) -> None:
        setting = layout.show.setting
        self._fuel, self._rated_kw = fuel, rated_kw
        reserve = fuel.reserve_litres
        if reserve is None:
            reserve = fuel.tank_litres * setting("fuel_reserve_percent") / 100
        self._reserve = Watch("fuel-reserve", SOURCE_ID, reserve)
        self._time = Watch("fuel-time", SOURCE_ID, setting("fuel_time_hours"))
        self.state = FuelState(fuel.tank_litres)
        self.fills: tuple[Fill, ...] = ()

    @classmethod
    def of(cls, layout: Layout) -> FuelLeft | None:
        """Give it for a show, or None where the show gives no usable fuel points or the source's legs have no meter."""
        source = layout.show.source
        whole = len(layout.places[SOURCE_ID].own) == len(source.legs)
        if source.fuel is None or not source.rated_kw or not whole or faults(source.fuel, source.rated_kw):
            return None
        return cls(layout, source.fuel, source.rated_kw)

    def refuel(self, litres: float, time_ms: int) -> None:
        """Take a refuel: litres added [l], up to the full tank; from the second one on they calibrate the set."""
        if self.state.entered and self.state.unknown_s <= _MOST_UNKNOWN * (time_ms - self.state.since_ms) / 1000:
            self.fills = (*self.fills, Fill(litres, self.state.modelled_litres))
        self.state = FuelState(self._fuel.tank_litres, time_ms, entered=True)

    @property
    def calibration(self) -> Calibration:
        """How the set burns against its points, by the refuels."""
        return calibrate(self.fills)

    def observe(self, known: Known, output: Output, out: list[Observation]) -> None:
        """Burn by the moment's load, and give both observations."""
        state = self.state
        if not state.since_ms:
            state = replace(state, since_ms=known.time_ms)
        if output.now is None or known.resumed:
            self.state = replace(state, unknown_s=state.unknown_s + known.elapsed_s)
            out += (self._reserve.unknown, self._time.unknown)
            return
        watts = output.now.watts
        calibration = self.calibration
        state = self._burnt(state, watts, known.elapsed_s if watts > 0 or known.hertz else 0.0)
        litres = state.litres
        mean = output.hour_mean if output.hour.covered_s >= _ENOUGH_S else None
        loads = (mean.watts / 1000 if mean else None, (output.worst_hour_watts or 0.0) / 1000 or None)
        left = time_left(self._fuel, self._rated_kw, litres, loads, calibration)
        self.state = replace(state, left=left)
        out.append(self._reserve.at(litres, self._level() if litres < 1.05 * self._reserve.limit else ""))
        hours = left.hours_mean
        if hours is None:
            out.append(self._time.unknown)
            return
        seen = f"about {hours:.1f} h left at the last hour's mean load; limit {self._time.limit:g} h; {self._level()}"
        out.append(self._time.at(hours, seen if hours < 1.05 * self._time.limit else ""))

    def recall(self, begin_ms: int, minute: SourceMinute) -> None:
        """Burn by a minute of the past, at its mean load."""
        state = self.state if self.state.since_ms else replace(self.state, since_ms=begin_ms)
        known_s = 0.0 if minute.watts is None else minute.seconds
        if minute.watts is not None and (minute.turning or minute.watts > 0):
            state = self._burnt(state, minute.watts, known_s)
        self.state = replace(state, unknown_s=state.unknown_s + MINUTE_S - known_s)

    def _burnt(self, state: FuelState, watts: float, seconds: float) -> FuelState:
        used = _burn(self._fuel, self._rated_kw, round(watts / _STEP_WATTS)) * seconds / 3600
        litres = max(0.0, state.litres - used * self.calibration.applied)
        return replace(state, litres=litres, modelled_litres=state.modelled_litres + used)

    def _level(self) -> str:
        basis = (
            "counted from the full tank of the last refuel"
            if self.state.entered
            else "counted from a full tank when the log began"
        )
        return f"about {self.state.litres:.0f} l in the tank, {basis}: an estimate; reserve {self._reserve.limit:.0f} l"
