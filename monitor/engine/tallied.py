"""What the logger alone has added up: readings of the last seconds don't tell it. Frozen, and plain data for a file."""

from __future__ import annotations

from dataclasses import astuple, dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from drivers.bus.stats import BusStats, MeterStats
from monitor.electrical.heat import HeatState
from monitor.engine.told import Answer, OutputView

if TYPE_CHECKING:
    from collections.abc import Mapping


@dataclass(frozen=True, slots=True)
class FuelLevel:
    """How the fuel stands by the fuel points and the load: an estimate.

    Attributes:
        litres: in the tank [l].
        usable_litres: of it above what the pump can't reach [l]; None before anything is known of the load.
        hours_mean: until then at the last hour's mean load [h]; None where that is not known.
        hours_worst: the same at the worst hour's load [h].
        entered: somebody entered a refuel; else a full tank when the log began is assumed.
        since_ms: when the level was last known [ms, the log's clock].
        unknown_s: time since then in which the load was not known [s]; what was burnt then is not in it.
        calibrated: refuels have calibrated the set's burn.

    """

    litres: float
    usable_litres: float | None = None
    hours_mean: float | None = None
    hours_worst: float | None = None
    entered: bool = False
    since_ms: int = 0
    unknown_s: float = 0.0
    calibrated: bool = False


@dataclass(frozen=True, slots=True)
class Tallied:
    """One moment of it.

    Attributes:
        output: of the source; None where not every leg of it is metered.
        fuel: None where the show gives no usable fuel points, or not every leg of the source is metered.
        heat: of the breaker of each metered circuit, by its id.
        buses: by id.
        answers: what became of the newest requests, oldest first.

    """

    output: OutputView | None = None
    fuel: FuelLevel | None = None
    heat: Mapping[str, HeatState] = field(default_factory=lambda: MappingProxyType({}))
    buses: Mapping[str, BusStats] = field(default_factory=lambda: MappingProxyType({}))
    answers: tuple[Answer, ...] = ()


def as_data(tallied: Tallied) -> dict[str, Any]:
    """Give plain data, short, for ``json.dumps``; ``buses`` is left out (see ``buses_data``)."""
    return {
        "output": tallied.output and astuple(tallied.output),
        "fuel": tallied.fuel and astuple(tallied.fuel),
        "heat": {
            name: (_short(state.fastest), _short(state.slowest), state.unknown_s, state.since_gap_s)
            for name, state in tallied.heat.items()
        },
        "answers": [astuple(answer) for answer in tallied.answers],
    }


def buses_data(buses: Mapping[str, BusStats]) -> dict[str, Any]:
    """Give the buses as plain data; when a meter's last good poll was is left to the readings."""
    return {
        name: (bus.is_open, bus.problem, bus.undelivered, bus.fault, [_meter(meter) for meter in bus.meters])
        for name, bus in buses.items()
    }


def from_data(data: Any) -> Tallied:
    """Read plain data.

    Raises:
        ValueError: it is none of this version.

    """
    try:
        return Tallied(
            output=data["output"] and OutputView(*data["output"]),
            fuel=data["fuel"] and FuelLevel(*data["fuel"]),
            heat={name: HeatState(*state) for name, state in data["heat"].items()},
            buses={name: _bus(name, *bus) for name, bus in data["buses"].items()},
            answers=tuple(Answer(*answer) for answer in data["answers"]),
        )
    except (KeyError, TypeError, AttributeError) as error:
        raise ValueError(f"not what this version writes: {error}") from error


def _meter(meter: MeterStats) -> tuple[Any, ...]:
    counts = (meter.polls, meter.good, meter.silent, meter.corrupt, meter.refused, meter.implausible, meter.suspect)
    recent = map(_short, (meter.per_second, meter.busy, meter.median_s, meter.worst_s))
    return (meter.unit, *counts, _short(meter.latency_s), None, meter.retries, *recent)


def _bus(name: str, is_open: bool, problem: str, undelivered: int, fault: str, meters: Any) -> BusStats:  # noqa: FBT001 - as written
    return BusStats(name, is_open, problem, tuple(MeterStats(*meter) for meter in meters), undelivered, fault)


def _short(value: float | None) -> float | None:
    """Give a fraction or seconds to a hundredth of a percent or of a tenth of a millisecond."""
    return None if value is None else round(value, 4)
