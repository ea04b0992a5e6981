"""Watts lost in a feeder's run above what its cable explains: both ends are read, Ohm's law does the rest.

A run is judged where volts are read at both ends, by a meter or by circuits that hang right on it, and its amps are
measured or all its circuits are. Two meters never agree: by how much, is learned from how their difference goes with
the load (a straight line; where it meets no load, only the meters are left). Until it is learned they may differ by
2 %. The figure is smoothed over a minute.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, sqrt
from typing import TYPE_CHECKING

from monitor.alarms.conditions.layout import parents
from monitor.alarms.conditions.past import MINUTE_S, amps_points, middle_volts, sum_amps, volts_points
from monitor.alarms.conditions.watch import Watch
from monitor.electrical.cable import feeder_drop
from monitor.electrical.legs import lagging, on_legs
from monitor.show.model import Point

if TYPE_CHECKING:
    from collections.abc import Mapping

    from monitor.alarms.conditions.known import Known
    from monitor.alarms.conditions.layout import Layout, Place
    from monitor.alarms.conditions.past import PointMinute
    from monitor.alarms.model import Observation
    from monitor.show.model import Cable, System

_CABLE = 1.3  # of the table: warm copper, lengths as people give them (a judgement)
_UNLEARNED = 0.02  # of nominal: what two meters may differ by
_LEARNED = 0.002  # of nominal: what is left of it once learned
_ENOUGH = 300  # moments
_LEAST_SPAN_AMPS = 8.0
_LOW_END = 0.4  # of the highest amps: a line must reach down to here
_SMOOTH_S = 60.0
_BREAKS = ("lost-neutral", "lost-leg", "feeder-lost", "wrong-service")


@dataclass(slots=True)
class Line:
    """A straight line through drops in volts over what the table expects, least squares; fixed once it is good enough.

    Attributes:
        offset: where it meets no load: what the two meters differ by [V]; None until learned.

    """

    offset: float | None = None
    _count: int = 0
    _x: float = 0.0
    _y: float = 0.0
    _xx: float = 0.0
    _xy: float = 0.0
    _least: float = 1e9
    _most: float = 0.0

    def add(self, expected: float, dropped: float, amps: float, moments: int = 1) -> None:
        """Add one moment, or several of the same mean: expected and measured drop [V], amps [A]."""
        if self.offset is not None:
            return
        self._count += moments
        self._x += moments * expected
        self._y += moments * dropped
        self._xx += moments * expected**2
        self._xy += moments * expected * dropped
        self._least, self._most = min(self._least, amps), max(self._most, amps)
        spread = self._count * self._xx - self._x**2
        wide = self._most - self._least >= _LEAST_SPAN_AMPS and self._least <= _LOW_END * self._most
        if self._count >= _ENOUGH and wide and spread > 0:
            self.offset = (self._y * self._xx - self._x * self._xy) / spread


class _Run:
    """One feeder's run."""

    def __init__(self, layout: Layout, upper: Place, place: Place, cable: Cable) -> None:
        self._system: System = layout.show.source.system
        self._upper, self._place, self._cable = upper, place, cable
        self._nominal = layout.leg_volts
        limit = layout.show.setting("run_excess_watts")
        far = parents(("volts-far-low",), (place.id, *(str(Point(place.id, leg)) for leg in place.legs)))
        self.watch = Watch("run-resistance", place.id, limit, (*parents(_BREAKS, (place.id, *place.up)), *far))
        self.lines = {leg: Line() for leg in place.legs}
        self._by = {
            leg: (volts_points(upper, leg), volts_points(place, leg), amps_points(place, leg)) for leg in place.legs
        }
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
        excess = self._watts(dropped, amps)
        share = 1 - exp(-known.elapsed_s / _SMOOTH_S)
        before = self._excess or 0.0
        value = self._excess = max(0.0, before + share * (excess - before))
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

    @property
    def learned(self) -> bool:
        """Whether it knows what its meters differ by."""
        return all(line.offset is not None for line in self.lines.values())

    @property
    def points(self) -> frozenset[Point]:
        """What it is read by."""
        return frozenset(point for several in self._by.values() for points in several for point in points)

    def recall(self, minutes: Mapping[Point, PointMinute]) -> None:
        """Learn from a minute of the past."""
        whole = []
        for upper, here, carried in self._by.values():
            near, far, amps = middle_volts(upper, minutes), middle_volts(here, minutes), sum_amps(carried, minutes)
            if near is None or far is None or amps is None or min(near, far) < 0.5 * self._nominal:
                return
            whole.append((near, far, amps))
        expected = self._expected({leg: a for leg, (_, _, a) in zip(self._place.legs, whole, strict=True)})
        for leg, (near, far, amps) in zip(self._place.legs, whole, strict=True):
            self.lines[leg].add(expected[leg], near - far, amps, round(MINUTE_S))

    def _expected(self, amps: dict[str, float]) -> dict[str, float]:
        """Give the drop that the table expects on each leg [V]."""
        by_leg = {leg: on_legs(self._system, (leg,), lagging(a))[leg] for leg, a in amps.items()}
        return {leg: found.volts for leg, found in feeder_drop(self._system, self._cable, by_leg).items()}

    def _watts(self, dropped: dict[str, float], amps: dict[str, float]) -> float:
        """Give the watts lost above cable and meters' error [W]; it may be below 0."""
        expected = self._expected(amps)
        lost = 0.0
        for leg, line in self.lines.items():
            line.add(expected[leg], dropped[leg], amps[leg])
            lost += amps[leg] * (dropped[leg] - (line.offset or 0.0) - _CABLE * expected[leg])
        part = _LEARNED if self.learned else _UNLEARNED
        return lost - part * self._nominal * sqrt(sum(a**2 for a in amps.values()))


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

    @property
    def points(self) -> frozenset[Point]:
        """What the runs are read by whose meters' difference is not known yet."""
        return frozenset(point for run in self._runs if not run.learned for point in run.points)

    @property
    def offsets(self) -> Mapping[tuple[str, str], float | None]:
        """By how much the two meters of each run differ, by feeder and leg [V]; None where not known yet."""
        return {(run.watch.where, leg): line.offset for run in self._runs for leg, line in run.lines.items()}

    def recall(self, minutes: Mapping[Point, PointMinute]) -> None:
        """Learn from a minute of the past."""
        for run in self._runs:
            if not run.learned:
                run.recall(minutes)


def _read(at: Place, whose: Place) -> bool:
    """Say whether the volts of every leg of ``whose`` are read at a place."""
    here = {leg for circuit in at.circuits for leg, _ in circuit.on_leg}
    return all(leg in at.own or leg in here for leg in whose.legs)
