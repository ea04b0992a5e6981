"""Watts lost in a feeder's run above what its cable explains: both ends are read, Ohm's law does the rest.

A run is judged where volts are read at both ends, by a meter or by circuits that hang right on it, and its amps are
measured or all its circuits are. Two meters never agree: what they differ by while hardly anything flows is learned and
taken off; until then they may differ by 1 %. The figure is smoothed over a minute.
"""

from __future__ import annotations

from math import exp
from statistics import median
from typing import TYPE_CHECKING

from monitor.alarms.conditions.layout import parents
from monitor.alarms.conditions.watch import Watch
from monitor.electrical.cable import feeder_drop
from monitor.electrical.legs import lagging, on_legs

if TYPE_CHECKING:
    from monitor.alarms.conditions.known import Known
    from monitor.alarms.conditions.layout import Layout, Place
    from monitor.alarms.model import Observation
    from monitor.show.model import Cable, System

_CABLE = 1.3  # of the table: warm copper, lengths as people give them (a judgement)
_UNLEARNED = 0.01  # of nominal: what two meters may differ by
_LEARNED = 0.002  # of nominal: what is left of it once learned
_IDLE_AMPS = 2.0
_ENOUGH = 30  # idle moments
_SMOOTH_S = 60.0
_BREAKS = ("lost-neutral", "lost-leg", "feeder-lost", "wrong-service")


class _Run:
    """One feeder's run."""

    def __init__(self, layout: Layout, upper: Place, place: Place, cable: Cable) -> None:
        self._system: System = layout.show.source.system
        self._upper, self._place, self._cable = upper, place, cable
        self._nominal = layout.leg_volts
        up = (place.id, *place.up)
        self.watch = Watch("run-resistance", place.id, layout.show.setting("run_excess_watts"), parents(_BREAKS, up))
        self._idle: dict[str, list[float]] = {leg: [] for leg in place.legs}
        self._offsets: dict[str, float] = {}
        self._excess: float | None = None

    def observe(self, known: Known) -> Observation:
        """Take one moment."""
        ends = [self._ends(known, leg) for leg in self._place.legs]
        whole = [end for end in ends if end is not None]
        if known.resumed or len(whole) < len(ends):
            self._excess = None
            return self.watch.unknown
        dropped = dict(zip(self._place.legs, (near - far for near, far, _ in whole), strict=True))
        amps = dict(zip(self._place.legs, (a for _, _, a in whole), strict=True))
        if max(amps.values()) <= _IDLE_AMPS:
            self._learn(dropped)
        excess = self._watts(dropped, amps)
        share = 1 - exp(-known.elapsed_s / _SMOOTH_S)
        self._excess = excess if self._excess is None else self._excess + share * (excess - self._excess)
        value = max(0.0, self._excess)
        seen = ""
        if value > 0.9 * self.watch.limit:
            figures = ", ".join(f"{leg} {dropped[leg]:.1f} V at {amps[leg]:.0f} A" for leg in dropped)
            seen = (
                f"about {value:.0f} W are lost in the run to {self._place.label} above what its cable explains"
                f" ({figures}); limit {self.watch.limit:g} W"
            )
        return self.watch.at(value, seen)

    def _ends(self, known: Known, leg: str) -> tuple[float, float, float] | None:
        near, far = known.leg_volts(self._upper, leg), known.leg_volts(self._place, leg)
        amps = known.leg_amps(self._place, leg)
        if near is None or far is None or amps is None or min(near, far) < 0.5 * self._nominal:
            return None
        return near, far, amps

    def _learn(self, dropped: dict[str, float]) -> None:
        for leg, volts in dropped.items():
            idle = self._idle[leg]
            if len(idle) < _ENOUGH:
                idle.append(volts)
                if len(idle) == _ENOUGH:
                    self._offsets[leg] = median(idle)

    def _watts(self, dropped: dict[str, float], amps: dict[str, float]) -> float:
        """Give the watts lost above cable and meters' error [W]; it may be below 0."""
        by_leg = {leg: on_legs(self._system, (leg,), lagging(a))[leg] for leg, a in amps.items()}
        expected = feeder_drop(self._system, self._cable, by_leg)
        part = _LEARNED if len(self._offsets) == len(dropped) else _UNLEARNED
        allowed = part * self._nominal
        return sum(
            amps[leg] * (volts - self._offsets.get(leg, 0.0) - allowed) - _CABLE * amps[leg] * expected[leg].volts
            for leg, volts in dropped.items()
        )


class Runs:
    """Every feeder with a described cable and volts at both ends."""

    def __init__(self, layout: Layout) -> None:
        self._runs = []
        for feeder in layout.show.feeders:
            place, upper = layout.places[feeder.id], layout.places[feeder.fed_from]
            measured = len(place.own) == len(place.legs) or (place.all_metered and place.below)
            if feeder.cable is not None and measured and _read(upper, place) and _read(place, place):
                self._runs.append(_Run(layout, upper, place, feeder.cable))

    def observe(self, known: Known, out: list[Observation]) -> None:
        """Give the observations."""
        out += [run.observe(known) for run in self._runs]


def _read(at: Place, for_: Place) -> bool:
    here = {leg for circuit in at.circuits for leg, _ in circuit.on_leg}
    return all(leg in at.own or leg in here for leg in for_.legs)
