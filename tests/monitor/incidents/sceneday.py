"""Days with meters as they are, what is to go wrong on them, and sets picked at random."""

from __future__ import annotations

from dataclasses import dataclass, replace
from random import Random
from typing import TYPE_CHECKING

from drivers.reading import Quality, Values
from monitor.alarms.model import PointNow
from tests.support.days.day import Day
from tests.support.days.scripts import everything_on
from tests.support.days.sets import Made, make

if TYPE_CHECKING:
    from monitor.incidents.model import Kind
    from monitor.show.model import Point, Show, System
    from tests.support.days.sets import Kind as SourceKind
    from tests.support.days.sets import Metering, Tap

AT = 150
SYSTEMS: tuple[System, ...] = ("120/240", "208Y/120", "400Y/230", "230")
SEVERAL: tuple[System, ...] = ("120/240", "208Y/120", "400Y/230")


class SceneDay(Day):
    """A day whose meters have a pace, a moment within their second, and windows over which they average.

    Attributes:
        pace_s: between two polls of one meter [s].
        sag: depth by leg, of this second only.
        partial: circuits that open within this second: a meter's window holds a part of both.
        no_watts: meters that measure no watts.

    """

    def __init__(self, show: Show, seed: int, noise: float, pace_s: int = 1) -> None:
        super().__init__(show, seed, noise)
        self.pace_s = pace_s
        self.sag: dict[str, float] = {}
        self.partial: set[str] = set()
        self.no_watts = False
        self._offset_s = {f"{m.bus}:{m.unit}": self.random.random() for m in show.meters}
        self._catch = {f"{m.bus}:{m.unit}": 1.0 for m in show.meters}
        self._turn = {f"{m.bus}:{m.unit}": self.random.randrange(pace_s) for m in show.meters}
        self._legs = {str(p): p.leg or next(c.legs[0] for c in show.circuits if c.id == p.place) for p in show.points()}
        for leg in self.rig.legs:
            self.rig.ohms["source", leg] = self.random.uniform(0.005, 0.03)

    def _meter(self, name: str, points: list[Point], hertz: float, volts: float) -> dict[Point, PointNow]:
        self._catch[name] = self.random.uniform(0.35, 1.0)
        due = self.second % self.pace_s == self._turn[name]
        found = super()._meter(name, points, hertz, volts) if due or name in self.silent else {}
        old_s = 2.5 * self.pace_s + 0.5
        for point in points:
            at, values = self._memory.get(point, (-999, Values()))
            age = self.second - at + self._offset_s[name]
            told = found.get(point)
            fresh = told is not None and told.fresh
            quality = told.quality if told is not None else Quality.GOOD
            live = values if age <= max(old_s, 3.0) else None
            found[point] = PointNow(live, quality, "", age if at >= 0 else None, fresh)
        return found

    def _values(self, point: Point, shown: dict[str, tuple[complex, complex]], hertz: float, factor: float) -> Values:
        meter = next(f"{m.bus}:{m.unit}" for m in self.show.meters if any(p is point for _, p in m.points))
        deep = self.sag.get(self._legs[str(point)], 0.0) * self._catch[meter]
        values = super()._values(point, shown, hertz, factor * (1 - deep))
        if point.place in self.partial:
            part = self._catch[meter]
            values = Values(
                (values.volts or 0) * part, (values.amps or 0) * part, values.hertz, (values.watts or 0) * part
            )
        return replace(values, watts=None) if self.no_watts else values


@dataclass(slots=True)
class Scene:
    """One incident to come.

    Attributes:
        name: what was done.
        wanted: kinds that may stand first; empty: nothing may be told.
        where: ids of which one must be among the points.
        day: ready to run.
        seconds: how long.

    """

    name: str
    wanted: tuple[Kind, ...]
    where: tuple[str, ...]
    day: SceneDay
    seconds: int
    at: int = AT


class Maker:
    """Makes scenes of one seed."""

    def __init__(self, seed: int) -> None:
        self.random = Random(seed)
        self.seed = seed

    def show(
        self,
        systems: tuple[System, ...] = SYSTEMS,
        metering: tuple[Metering, ...] = ("circuits", "source", "all"),
        tap: Tap = "load",
        kind: SourceKind | None = None,
    ) -> Show:
        """Make a set."""
        pick = self.random.choice
        kinds: tuple[SourceKind, ...] = ("generator", "generator", "house")
        source: SourceKind = kind if kind is not None else pick(kinds)
        made = Made(
            pick(systems), pick(metering), tap, source, pick(("isochronous", "isochronous", "droop", "inverter")),
            pick(("G1", "G2", "G3")), boxes=pick((2, 2, 3)), each=pick((4, 6)), seed=self.seed,
        )  # fmt: skip
        return make(made)

    def day(self, show: Show, pace: tuple[int, ...] = (1, 1, 1, 2)) -> SceneDay:
        """Make a loaded day on it."""
        pick = self.random.choice
        pace_s = pick(pace)
        day = SceneDay(show, self.seed, pick((0.001, 0.003, 0.006)), pace_s)
        day.corrupt, day.slow = pick((0.0, 0.01, 0.02)), pick((0.0, 0.05))
        day.no_watts = self.random.random() < 0.15
        everything_on(day)
        return day

    def circuit(self, show: Show) -> str:
        """Pick a circuit with one leg."""
        return self.random.choice([c.id for c in show.circuits if len(c.legs) == 1])
