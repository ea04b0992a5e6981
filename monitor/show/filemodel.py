"""What the tables of a show file look like, key by key: pydantic models, strict, unknown keys refused.

Only what one table alone can tell is checked here; what needs another table is in the ``check_*`` modules beside.
No ``from __future__ import annotations``: pydantic evaluates the annotations.
"""

import re
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from monitor.show.model import LoadKind, Region, Standard, System

AWG_SIZES = ("18", "16", "14", "12", "10", "8", "6", "4", "3", "2", "1", "1/0", "2/0", "3/0", "4/0")
BAUD_RATES = (
    300,
    600,
    1200,
    2400,
    4800,
    9600,
    14400,
    19200,
    28800,
    38400,
    57600,
    76800,
    115200,
    230400,
    460800,
    921600,
)
METRES_PER_FOOT = 0.3048  # exact, international foot
_ID = re.compile(r"[A-Za-z0-9_.-]+")


def _text(value: str) -> str:
    if not value.strip():
        raise ValueError("is empty; write a name")
    return value


def _id(value: str) -> str:
    if not _ID.fullmatch(value):
        raise ValueError(f'found "{value}"; must be letters, digits, "_", "." or "-" only, without spaces')
    return value


def _awg(value: Any) -> Any:
    size = str(value) if isinstance(value, int) and not isinstance(value, bool) else value
    if size not in AWG_SIZES:
        raise ValueError(f'found {value!r}; must be one of {", ".join(AWG_SIZES)} (sizes with "/" in quotes)')
    return size


def _baud(value: int) -> int:
    if value not in BAUD_RATES:
        raise ValueError(f"found {value}; must be one of {', '.join(map(str, BAUD_RATES))}")
    return value


def _hertz(value: float) -> float:
    if value not in (50, 60):
        raise ValueError(f"found {value:g}; must be 50 or 60")
    return value


def _burn(value: dict[str, float]) -> dict[str, float]:
    if not value:
        raise ValueError("is empty; give litres per hour at one load or more, such as { 50 = 3.4, 100 = 6.1 }")
    seen: set[float] = set()
    for key, litres in value.items():
        percent = float(key) if re.fullmatch(r"\d+(\.\d+)?", key) else -1.0
        if not 0 <= percent <= 110:  # noqa: PLR2004 - 110: prime sets are given for 10 % overload too
            raise ValueError(f'found "{key}"; each key must be a percent of rated kW, 0 to 110')
        if percent in seen:
            raise ValueError(f"{percent:g} percent stands twice")
        if litres < 0:
            raise ValueError(f"found {litres:g} at {key} percent; litres per hour can't be negative")
        seen.add(percent)
    return value


Text = Annotated[str, AfterValidator(_text)]
Id = Annotated[str, AfterValidator(_id)]
Amps = Annotated[float, Field(gt=0, le=10_000)]
Percent = Annotated[float, Field(gt=0, le=100)]


class Table(BaseModel):
    """Base of every table."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


class ShowTable(Table):
    """``[show]``."""

    name: Text
    region: Region
    timezone: str


class FuelTable(Table):
    """``fuel = { }`` of the source."""

    kind: Literal["diesel", "petrol"] = "diesel"
    tank_litres: Annotated[float, Field(gt=0, le=100_000)]
    usable_percent: Percent = 90.0
    reserve_litres: Annotated[float, Field(ge=0)] | None = None
    litres_per_hour: Annotated[dict[str, float], AfterValidator(_burn)]

    @model_validator(mode="after")
    def _reserve_in_tank(self) -> Self:
        if self.reserve_litres is not None and self.reserve_litres >= self.tank_litres:
            raise ValueError("reserve_litres must be less than tank_litres")
        return self


class SourceTable(Table):
    """``[source]``."""

    name: Text = "Source"
    kind: Literal["generator", "house"]
    system: System
    hertz: Annotated[float, AfterValidator(_hertz)] | None = None
    rated_kw: Annotated[float, Field(gt=0, le=10_000)] | None = None
    rated_kva: Annotated[float, Field(gt=0, le=10_000)] | None = None
    amps_per_leg: Amps | None = None
    neutral_amps: Amps | None = None
    governor: Literal["isochronous", "droop", "inverter"] | None = None
    performance_class: Literal["G1", "G2", "G3", "G4"] | None = None
    fuel: FuelTable | None = None

    @model_validator(mode="after")
    def _ratings_fit(self) -> Self:
        if self.kind == "generator" and self.rated_kw is None and self.rated_kva is None:
            raise ValueError("a generator needs rated_kw or rated_kva, from its nameplate")
        if self.rated_kw is not None and self.rated_kva is not None and self.rated_kw > self.rated_kva:
            raise ValueError(f"rated_kw {self.rated_kw:g} is more than rated_kva {self.rated_kva:g}; are they swapped?")
        return self

    @model_validator(mode="after")
    def _house_has_no_engine(self) -> Self:
        engine = [key for key in ("governor", "performance_class", "fuel") if getattr(self, key) is not None]
        if self.kind == "house" and engine:
            raise ValueError(f'{", ".join(engine)}: only for kind = "generator"')
        return self


class GateTable(Table):
    """One of a breaker's own ``gates``; times in seconds."""

    multiple: Annotated[float, Field(gt=0, le=1_000)]
    soonest: Annotated[float, Field(ge=0)] | None = None
    latest: Annotated[float, Field(gt=0)] | None = None

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.soonest is None and self.latest is None:
            raise ValueError("needs soonest or latest, in seconds, or both")
        if self.soonest is not None and self.latest is not None and self.soonest > self.latest:
            raise ValueError(f"soonest {self.soonest:g} s is after latest {self.latest:g} s")
        return self


class BreakerTable(Table):
    """``breaker = { }``."""

    amps: Amps
    standard: Standard | None = None
    curve: Annotated[Literal["B", "C", "D"] | None, Field(alias="class")] = None
    poles: Annotated[int, Field(ge=1, le=4)] | None = None
    gates: tuple[GateTable, ...] = ()
    full_rated: bool = False


class CableTable(Table):
    """``cable = { }``."""

    awg: Annotated[str, BeforeValidator(_awg)] | None = None
    mm2: Annotated[float, Field(gt=0, le=1_000)] | None = None
    metres: Annotated[float, Field(gt=0, le=5_000)] | None = None
    feet: Annotated[float, Field(gt=0, le=16_000)] | None = None
    parallel: Annotated[int, Field(ge=1, le=12)] = 1
    amps: Amps | None = None

    @model_validator(mode="after")
    def _one_of_each(self) -> Self:
        if (self.awg is None) == (self.mm2 is None):
            raise ValueError("needs its size: either awg or mm2")
        if (self.metres is None) == (self.feet is None):
            raise ValueError("needs its one-way length: either metres or feet")
        return self

    @property
    def length_metres(self) -> float:
        """One-way length [m]."""
        return self.metres if self.metres is not None else (self.feet or 0.0) * METRES_PER_FOOT


class LoadTable(Table):
    """One of a circuit's planned loads."""

    name: Text
    watts: Annotated[float, Field(gt=0, le=1_000_000)]
    power_factor: Annotated[float, Field(gt=0, le=1)] = 1.0
    count: Annotated[int, Field(ge=1, le=1_000)] = 1
    kind: LoadKind = "electronic"
    start_multiple: Annotated[float, Field(ge=1, le=20)] | None = None


class FeederTable(Table):
    """``[[feeder]]``."""

    id: Id
    name: Text | None = None
    fed_from: str
    legs: tuple[str, ...] | None = None
    breaker: BreakerTable | None = None
    cable: CableTable | None = None
    neutral_amps: Amps | None = None


class CircuitTable(Table):
    """``[[circuit]]``."""

    id: Id
    name: Text | None = None
    fed_from: str
    legs: tuple[str, ...] | None = None
    breaker: BreakerTable
    cable: CableTable | None = None
    volts_tap: Literal["line", "load"] = "load"
    tags: tuple[Text, ...] = ()
    load: tuple[LoadTable, ...] = ()
    movable: bool = True
    alarms: dict[str, Any] = Field(default_factory=dict)


Protocol = Literal[
    "modbus-rtu",
    "modbus-ascii",
    "modbus-tcp",
    "modbus-rtu-over-tcp",
    "sunspec-rtu",
    "sunspec-tcp",
    "iec62056-21",
    "text",
]


class BusTable(Table):
    """``[[bus]]``."""

    id: Id
    protocol: Protocol
    port: Text | None = None
    tcp: str | None = None
    baud: Annotated[int, AfterValidator(_baud)] | None = None
    parity: Literal["N", "E", "O"] | None = None
    stop_bits: Annotated[int, Field(ge=1, le=2)] = 1
    data_bits: Annotated[int, Field(ge=7, le=8)] | None = None
    timeout_seconds: Annotated[float, Field(ge=0.01, le=60)] | None = None
    poll_seconds: Annotated[float, Field(ge=0, le=3_600)] = 1.0


class MeterTable(Table):
    """``[[meter]]``."""

    bus: str
    unit: Annotated[int, Field(ge=0, le=255)] | None = None
    map: str | None = None
    powered_from: str = "source"
    points: dict[str, str]


class LogTable(Table):
    """``[log]``."""

    keep_days: Annotated[float, Field(gt=0, le=36_500)] | None = None
