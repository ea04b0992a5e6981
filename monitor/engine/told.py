"""The parts of a Snapshot that readings alone don't give: what the logger has added up, and the meters it polls."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from monitor.engine.snapshot import Measured


@dataclass(frozen=True, slots=True)
class HeatView:
    """How far a circuit's load has brought its breaker along the two edge curves (see ``monitor.electrical.heat``).

    Attributes:
        fastest: fraction of the early edge [1], 1 is reached; None where that edge is not set.
        slowest: fraction of the late edge [1]; above 1 without an opening is a finding; None where there is none.
        unknown_s: time without a reading that may still matter [s]: the fractions know nothing of what flowed then.

    """

    fastest: float | None
    slowest: float | None
    unknown_s: float = 0.0


@dataclass(frozen=True, slots=True)
class OutputView:
    """What the source has given, as far as the logger has had readings of every leg since it started.

    Attributes:
        demand_kw: mean of the last 15 minutes [kW], over what is covered of them; None where nothing is.
        demand_covered_s: how much of them is [s].
        highest_kw: the highest such mean so far, of those that were covered for most of their time [kW], or None.
        highest_ms: when that was, on the log's clock, or None.
        energy_kwh: [kWh].
        covered_s: time in which it ran and was read [s].
        peak_kw: highest single value [kW], or None.
        load_factor: mean over ``peak_kw`` [1]: how even the load was, not how near the rating; None at first.
        low_s: time under 30 % of the rated kW [s]; None without rated kW.
        high_s: time over 80 % of it [s]; None without rated kW.
        low_net_s: time at low load, less the time above it since [s]: what the rule ``source-low-load`` counts; None
            without rated kW.

    """

    demand_kw: float | None
    demand_covered_s: float
    highest_kw: float | None
    highest_ms: int | None
    energy_kwh: float
    covered_s: float
    peak_kw: float | None
    load_factor: float | None
    low_s: float | None
    high_s: float | None
    low_net_s: float | None


@dataclass(frozen=True, slots=True)
class FuelView:
    """The fuel: always an estimate, from the set's fuel points and its load.

    Attributes:
        tank_litres: what the tank holds [l].
        reserve_litres: where fuel is called for [l].
        litres: in the tank [l]; None where it is not known.
        hours_mean: until nothing more can be drawn, at the last hour's mean load [h]; None where not known.
        hours_worst: the same at the worst hour's load [h].
        hours_reserve: until the reserve, at the last hour's mean load [h]; 0 once it is reached.
        entered: counted from a refuel; else from a full tank when the log began, which is assumed.
        since_ms: when the tank was full, on the log's clock, or None.
        unknown_s: time since then in which the load was not known [s]: what was burnt then is not in it.
        calibrated: refuels have calibrated the set's burn.

    """

    tank_litres: float
    reserve_litres: float
    litres: float | None = None
    hours_mean: float | None = None
    hours_worst: float | None = None
    hours_reserve: float | None = None
    entered: bool = False
    since_ms: int | None = None
    unknown_s: float = 0.0
    calibrated: bool = False


@dataclass(frozen=True, slots=True)
class MeterCounts:
    """What came of a meter's polls since the logger started; a poll counts once, by its worst channel.

    Attributes:
        polls: all of them.
        good: everything came.
        faults: (what went wrong, how often), only what happened: ``silent``, ``corrupt``, ``refused`` ...
        retries: times that it was asked anew within a poll.
        per_second: polls a second of late [1/s], or None.
        busy: share of the bus's time that it takes [1], or None.
        median_s: median time to a whole reply of late [s], or None.
        worst_s: the longest of late [s], or None.

    """

    polls: int
    good: int
    faults: tuple[tuple[str, int], ...]
    retries: int
    per_second: float | None
    busy: float | None
    median_s: float | None
    worst_s: float | None


@dataclass(frozen=True, slots=True)
class MeterView:
    """One meter.

    Attributes:
        unit: its number on the bus.
        map: name of its map.
        points: (channel, point), as in the show.
        latest: of its points the one with the newest good reading: its freshness, age, and last quality.
        counts: None where they are not known.

    """

    unit: int
    map: str
    points: tuple[tuple[str, str], ...]
    latest: Measured
    counts: MeterCounts | None


@dataclass(frozen=True, slots=True)
class BusView:
    """One bus.

    Attributes:
        id: as in the show.
        where: its port or address.
        protocol: as in the show.
        interval_s: the wanted time from poll to poll of one meter [s]; 0 is as fast as the line goes.
        timeout_s: how long a reply is waited for [s].
        meters: in the show's order.
        is_open: its port or connection is open; None where that is not known.
        problem: why not, in plain words, or empty.

    """

    id: str
    where: str
    protocol: str
    interval_s: float
    timeout_s: float
    meters: tuple[MeterView, ...]
    is_open: bool | None = None
    problem: str = ""


@dataclass(frozen=True, slots=True)
class Answer:
    """What became of a request.

    Attributes:
        number: of the request.
        done: carried out; else refused.
        text: one plain sentence.
        time_ms: on the log's clock.

    """

    number: str
    done: bool
    text: str
    time_ms: int
