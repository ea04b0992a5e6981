"""One set's power as frozen dataclasses: what the show file says, checked and with its references resolved.

Amps, volts, watts, metres and litres are SI; ``feet`` and ``awg`` of the file are kept as the user wrote them
beside their SI value where one exists. Every tuple keeps the file's order.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Mapping

    from drivers.bus.settings import BusSettings
    from drivers.fields.model import FieldMap
    from drivers.maps.model import MeterMap

Region = Literal["north-america", "europe"]
System = Literal["120/240", "208Y/120", "400Y/230", "230"]
Standard = Literal["UL 489", "IEC 60898-1", "IEC 60947-2", "custom"]
LoadKind = Literal["electronic", "resistive", "tungsten", "motor"]

SYSTEM_LEGS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "120/240": ("L1", "L2"),
        "208Y/120": ("L1", "L2", "L3"),
        "400Y/230": ("L1", "L2", "L3"),
        "230": ("L1",),
    }
)
SOURCE_ID = "source"
NEUTRAL = "N"


@dataclass(frozen=True, slots=True)
class Gate:
    """One point of a user's own breaker curve.

    Attributes:
        multiple: current as a multiple of the rating [1].
        soonest_s: never opens before this [s], or None where not given.
        latest_s: has opened by then [s], or None where not given.

    """

    multiple: float
    soonest_s: float | None = None
    latest_s: float | None = None


@dataclass(frozen=True, slots=True)
class Breaker:
    """A breaker.

    Attributes:
        amps: rating [A].
        standard: which standard's gates hold; ``custom`` takes ``gates``.
        curve: ``B``, ``C`` or ``D`` for IEC 60898-1 (the file's key is ``class``), else empty.
        poles: 1 to 4.
        gates: the user's own points.
        full_rated: True where the breaker is marked for 100 % continuous load.

    """

    amps: float
    standard: Standard = "UL 489"
    curve: str = ""
    poles: int = 1
    gates: tuple[Gate, ...] = ()
    full_rated: bool = False


@dataclass(frozen=True, slots=True)
class Cable:
    """A run of cable; exactly one of ``awg`` and ``mm2`` is given.

    Attributes:
        metres: one-way length [m].
        awg: American wire gauge as written ("12", "1/0", "4/0"), or empty.
        mm2: cross-section [mm2], or None.
        parallel: sets run in parallel.
        amps: the cable's own rating [A], where the user gives one.

    """

    metres: float
    awg: str = ""
    mm2: float | None = None
    parallel: int = 1
    amps: float | None = None


@dataclass(frozen=True, slots=True)
class Load:
    """A planned load, or several of a kind.

    Attributes:
        name: for people.
        watts: of one piece at nominal volts [W].
        power_factor: displacement, 0 < pf <= 1; current lags.
        count: how many.
        kind: how it reacts to volts.
        start_multiple: starting current as a multiple of running current, for motors, or None.

    """

    name: str
    watts: float
    power_factor: float = 1.0
    count: int = 1
    kind: LoadKind = "electronic"
    start_multiple: float | None = None


@dataclass(frozen=True, slots=True)
class Fuel:
    """A generator's fuel.

    Attributes:
        kind: ``diesel`` or ``petrol``.
        tank_litres: what the tank holds [l].
        usable_percent: of the tank [%].
        litres_per_hour: (percent of rated kW, litres per hour), rising in percent.
        reserve_litres: call for fuel at this [l], or None.

    """

    tank_litres: float
    litres_per_hour: tuple[tuple[float, float], ...]
    kind: Literal["diesel", "petrol"] = "diesel"
    usable_percent: float = 90.0
    reserve_litres: float | None = None


@dataclass(frozen=True, slots=True)
class Source:
    """Where the power comes from.

    Attributes:
        name: for people.
        kind: generator or house tie-in.
        system: voltage system.
        hertz: nominal frequency, 50 or 60 [Hz].
        rated_kw: [kW] or None (house).
        rated_kva: [kVA] or None.
        amps_per_leg: rating of one leg [A], or None.
        neutral_amps: rating of the neutral [A], or None.
        governor: how the set holds its speed, or None (house).
        performance_class: ISO 8528-5 class, or None.
        fuel: or None.

    """

    name: str
    kind: Literal["generator", "house"]
    system: System
    hertz: float
    rated_kw: float | None = None
    rated_kva: float | None = None
    amps_per_leg: float | None = None
    neutral_amps: float | None = None
    governor: Literal["isochronous", "droop", "inverter"] | None = None
    performance_class: Literal["G1", "G2", "G3", "G4"] | None = None
    fuel: Fuel | None = None

    @property
    def legs(self) -> tuple[str, ...]:
        """Names of the legs of the system."""
        return SYSTEM_LEGS[self.system]


@dataclass(frozen=True, slots=True)
class Feeder:
    """A level between the source and circuits.

    Attributes:
        id: unique over feeders and circuits.
        name: for people; the id where none is given.
        fed_from: ``source`` or a feeder's id.
        legs: its legs, never empty (those of its parent where none are given).
        breaker: or None.
        cable: or None.
        neutral_amps: rating of its neutral [A], or None.

    """

    id: str
    name: str
    fed_from: str
    legs: tuple[str, ...]
    breaker: Breaker | None = None
    cable: Cable | None = None
    neutral_amps: float | None = None


@dataclass(frozen=True, slots=True)
class Circuit:
    """A circuit with its breaker and its planned loads.

    Attributes:
        id: unique over feeders and circuits.
        name: for people; the id where none is given.
        fed_from: ``source`` or a feeder's id.
        legs: one leg, or two or three for a two-hot or three-phase circuit.
        breaker: always there: a circuit without a breaker can't be watched.
        cable: or None.
        volts_tap: which side of the breaker the meter's volts come from.
        tags: free words; ``motor`` rides through starts.
        load: planned loads.
        movable: whether a balance may put it on another leg.
        settings: overrides of ``Show.settings`` for this circuit.

    """

    id: str
    name: str
    fed_from: str
    legs: tuple[str, ...]
    breaker: Breaker
    cable: Cable | None = None
    volts_tap: Literal["line", "load"] = "load"
    tags: frozenset[str] = frozenset()
    load: tuple[Load, ...] = ()
    movable: bool = True
    settings: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, slots=True)
class Point:
    """A place where a meter measures.

    Attributes:
        place: a circuit id, a feeder id or ``source``.
        leg: ``L1`` to ``L3``, ``N`` (of a feeder or the source), or empty: the whole of a circuit. A circuit with one
            leg is always a whole; a feeder or the source is always a leg, even where it has only one.

    """

    place: str
    leg: str = ""

    def __str__(self) -> str:
        """Give the name used in show files, logs and CSV: ``A1``, ``boxA/L1``, ``source/N``."""
        return f"{self.place}/{self.leg}" if self.leg else self.place


@dataclass(frozen=True, slots=True)
class Meter:
    """A meter on a bus.

    Attributes:
        bus: id of its bus.
        unit: unit number.
        map_name: as the show file names it.
        map: the register map; None for a protocol that has none.
        fields: the field map, for a protocol in which meters send named fields; else None.
        powered_from: ``source`` or a circuit or feeder id.
        points: (channel, point), in the file's order.

    """

    bus: str
    unit: int
    map_name: str
    map: MeterMap | None
    powered_from: str
    points: tuple[tuple[str, Point], ...]
    fields: FieldMap | None = None


@dataclass(frozen=True, slots=True)
class Show:
    """A whole show file.

    Attributes:
        name: of the show.
        region: picks voltage limits and units.
        timezone: IANA name.
        source: where the power comes from.
        feeders: parents always stand before their children.
        circuits: in the file's order.
        buses: in the file's order.
        meters: in the file's order.
        settings: every one of ``monitor.show.settings.known_settings()``, with the show's own values in it.
        text: the file as read, for the log.
        retention_days: how long readings are kept in the log [days]; None is for ever.

    """

    name: str
    region: Region
    timezone: str
    source: Source
    feeders: tuple[Feeder, ...]
    circuits: tuple[Circuit, ...]
    buses: tuple[BusSettings, ...]
    meters: tuple[Meter, ...]
    settings: Mapping[str, float]
    text: str = ""
    retention_days: float | None = None

    def setting(self, name: str, circuit: Circuit | None = None) -> float:
        """Give a setting: the circuit's own, else the show's (its default where the show says nothing)."""
        if circuit is not None and name in circuit.settings:
            return circuit.settings[name]
        return self.settings[name]

    def points(self) -> tuple[Point, ...]:
        """Every point that a meter of this show measures, in the file's order."""
        return tuple(point for meter in self.meters for _, point in meter.points)
