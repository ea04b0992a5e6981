"""Small shows and samples written second by second, for cases whose figures are given."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING

from drivers.reading import Quality, Values
from monitor.alarms.model import Now, PointNow
from monitor.incidents.finder import IncidentFinder
from monitor.show.model import Breaker, Circuit, Feeder, Load, Meter, Point, Show, Source
from monitor.show.settings import with_defaults

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from monitor.incidents.model import FoundStep, Incident
    from monitor.show.model import Region, System

BEGIN_MS = 1_800_000_000_000
Row = tuple[float | None, ...]  # volts, amps and, where given, hertz and watts


def small(
    circuits: Iterable[Circuit],
    *,
    system: System = "120/240",
    feeders: Iterable[Feeder] = (),
    source_points: bool = False,
    rated_kw: float | None = None,
) -> Show:
    """Give a show whose every circuit has a meter of its own, the source's legs perhaps one more."""
    circuits = tuple(circuits)
    america = system in ("120/240", "208Y/120")
    region: Region = "north-america" if america else "europe"
    rated_kva = rated_kw * 1.25 if rated_kw else None
    source = Source("Set", "generator", system, 60.0 if america else 50.0, rated_kw, rated_kva)
    source = replace(source, governor="isochronous", performance_class="G2")
    meters = [Meter("rs", n + 1, "any", None, "source", (("ch1", Point(c.id)),)) for n, c in enumerate(circuits)]
    if source_points:
        legs = tuple((leg, Point("source", leg)) for leg in source.legs)
        meters.append(Meter("net", 99, "any", None, "source", legs))
    settings = MappingProxyType(with_defaults(region, {}))
    return Show("Lock house", region, "UTC", source, tuple(feeders), circuits, (), tuple(meters), settings)


def circuit(id_: str, leg: str = "L1", *, fed_from: str = "source", amps: float = 20.0, **more: object) -> Circuit:
    """Give a circuit."""
    made = Circuit(id_, id_, fed_from, (leg,), Breaker(amps))
    return replace(made, **more)  # type: ignore[arg-type]


def panel(watts: float, name: str = "panel") -> Load:
    """Give a planned load."""
    return Load(name, watts)


class Told:
    """Everything that a finder told, the newest form of each incident."""

    def __init__(self, show: Show, finder: IncidentFinder | None = None) -> None:
        self.finder = finder or IncidentFinder(show)
        self.points = show.points()
        self.second = 0
        self.by_number: dict[int, Incident] = {}
        self.steps: list[FoundStep] = []
        self.tellings = 0

    def play(self, samples: Mapping[str, Row], seconds: int = 1) -> Told:
        """Show the same samples for some seconds; a point that isn't there is silent, None is not measured."""
        for _ in range(seconds):
            points = {point: _known(samples.get(str(point))) for point in self.points}
            now = Now(BEGIN_MS + 1000 * self.second, points, resumed=self.second == 0)
            found = self.finder.observe(now)
            self.steps += found.steps
            self.by_number |= {one.number: one for one in found.incidents}
            self.tellings += len(found.incidents)
            self.second += 1
        return self

    @property
    def incidents(self) -> list[Incident]:
        """What was told, by number."""
        return [self.by_number[number] for number in sorted(self.by_number)]

    @property
    def kinds(self) -> list[str]:
        """Kinds of what was told."""
        return [incident.kind.value for incident in self.incidents]


def _known(row: Row | None) -> PointNow:
    if row is None:
        return PointNow(None, Quality.SILENT, "", 99.0, fresh=True)
    volts, amps, hertz, watts = (*row, None, None)[:4]
    return PointNow(Values(volts=volts, amps=amps, hertz=hertz, watts=watts), Quality.GOOD, "", 0.0, fresh=True)
