"""Small sets to compute with; all of it is invented."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from monitor.show.model import Breaker, Circuit, Feeder, Load, Show, Source

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from monitor.show.model import Cable, System


def circuit(
    name: str, legs: Sequence[str], load: Iterable[tuple[float, float]] = (), fed_from: str = "source", amps: float = 20
) -> Circuit:
    """Make a circuit with loads of (watts, power factor)."""
    loads = tuple(Load(f"{name} load {i}", watts, factor) for i, (watts, factor) in enumerate(load))
    return Circuit(name, name, fed_from, tuple(legs), Breaker(amps), load=loads)


def feeder(
    name: str, legs: Sequence[str], fed_from: str = "source", amps: float | None = 60, cable: Cable | None = None
) -> Feeder:
    """Make a feeder."""
    return Feeder(name, name, fed_from, tuple(legs), Breaker(amps) if amps else None, cable)


def source(system: System, kilowatts: float | None = None, **more: float) -> Source:
    """Make a generator."""
    return Source("set", "generator", system, 60.0, rated_kw=kilowatts, **more)  # type: ignore[arg-type]


def show(of: Source, circuits: Iterable[Circuit], feeders: Iterable[Feeder] = (), percent: float = 80) -> Show:
    """Make a show without meters."""
    settings = MappingProxyType({"continuous_percent": percent})
    return Show("set", "north-america", "UTC", of, tuple(feeders), tuple(circuits), (), (), settings)
