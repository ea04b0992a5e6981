"""A show file taken table by table, so that one bad table hides no fault of another."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from pydantic import TypeAdapter

from drivers.files.checked import check, nearest
from drivers.files.faults import FileFaults
from monitor.show import filemodel as fm

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from drivers.files.faults import Fault
    from drivers.files.located import LocatedToml, Path

T = TypeVar("T", bound=fm.Table)

_SINGLE: dict[str, type[fm.Table]] = {"show": fm.ShowTable, "source": fm.SourceTable, "log": fm.LogTable}
_LISTED: dict[str, type[fm.Table]] = {
    "feeder": fm.FeederTable,
    "circuit": fm.CircuitTable,
    "bus": fm.BusTable,
    "meter": fm.MeterTable,
}
_TOP = (*_SINGLE, *_LISTED, "alarms")


def _keys(table: type[fm.Table]) -> tuple[str, ...]:
    return tuple(field.alias or name for name, field in table.model_fields.items())


# Names of the keys of each table, by its path without list indices: to suggest the nearest.
KEYS: Mapping[tuple[str, ...], tuple[str, ...]] = {
    **{(name,): _keys(table) for name, table in (_SINGLE | _LISTED).items()},
    ("source", "fuel"): _keys(fm.FuelTable),
    ("circuit", "load"): _keys(fm.LoadTable),
    **{(place, "breaker"): _keys(fm.BreakerTable) for place in ("circuit", "feeder")},
    **{(place, "breaker", "gates"): _keys(fm.GateTable) for place in ("circuit", "feeder")},
    **{(place, "cable"): _keys(fm.CableTable) for place in ("circuit", "feeder")},
}
_ADAPTERS: dict[type[fm.Table], TypeAdapter[Any]] = {
    table: TypeAdapter(table) for table in (*_SINGLE.values(), *_LISTED.values())
}


@dataclass(frozen=True, slots=True)
class Entry(Generic[T]):
    """One table of a list.

    Attributes:
        path: where it stands.
        id: its id, or empty where it has none that can be read.
        table: None where it has a fault of its own.

    """

    path: Path
    id: str
    table: T | None


@dataclass(frozen=True, slots=True)
class Draft:
    """A show file as far as its tables could be read.

    Attributes:
        located: the file.
        show: None where it has a fault; so are the next two.
        source: see ``show``.
        log: see ``show``.
        feeders: every ``[[feeder]]``, sound or not; so are the next three.
        circuits: see ``feeders``.
        buses: see ``feeders``.
        meters: see ``feeders``.
        alarms: the raw table.

    """

    located: LocatedToml
    show: fm.ShowTable | None
    source: fm.SourceTable | None
    log: fm.LogTable | None
    feeders: tuple[Entry[fm.FeederTable], ...]
    circuits: tuple[Entry[fm.CircuitTable], ...]
    buses: tuple[Entry[fm.BusTable], ...]
    meters: tuple[Entry[fm.MeterTable], ...]
    alarms: dict[str, Any]

    @property
    def feeder_ids(self) -> tuple[str, ...]:
        """Ids of the feeders, sound or not."""
        return tuple(entry.id for entry in self.feeders if entry.id)

    @property
    def circuit_ids(self) -> tuple[str, ...]:
        """Ids of the circuits, sound or not."""
        return tuple(entry.id for entry in self.circuits if entry.id)

    @property
    def bus_ids(self) -> tuple[str, ...]:
        """Ids of the buses, sound or not."""
        return tuple(entry.id for entry in self.buses if entry.id)


def sound(entries: tuple[Entry[T], ...]) -> Iterator[tuple[Path, T]]:
    """Give path and table of each entry without a fault of its own."""
    return ((entry.path, entry.table) for entry in entries if entry.table is not None)


def sound_places(draft: Draft) -> list[tuple[Path, fm.FeederTable | fm.CircuitTable]]:
    """Give path and table of each sound feeder and circuit."""
    return [*sound(draft.feeders), *sound(draft.circuits)]


def read_draft(located: LocatedToml) -> tuple[Draft, list[Fault]]:
    """Read every table by itself; give what could be read, and every fault."""
    faults = [located.fault((key,), f"unknown table; {nearest(key, _TOP)}") for key in located.data if key not in _TOP]
    draft = Draft(
        located,
        _single(located, "show", fm.ShowTable, faults),
        _single(located, "source", fm.SourceTable, faults),
        _single(located, "log", fm.LogTable, faults) if "log" in located.data else fm.LogTable(),
        _listed(located, "feeder", fm.FeederTable, faults),
        _listed(located, "circuit", fm.CircuitTable, faults),
        _listed(located, "bus", fm.BusTable, faults),
        _listed(located, "meter", fm.MeterTable, faults),
        _alarms(located, faults),
    )
    return draft, faults


def _single(located: LocatedToml, key: str, kind: type[T], faults: list[Fault]) -> T | None:
    if key not in located.data:
        faults.append(located.fault((key,), f"is missing; a show file needs [{key}]"))
        return None
    return _table(located, (key,), kind, faults)


def _listed(located: LocatedToml, key: str, kind: type[T], faults: list[Fault]) -> tuple[Entry[T], ...]:
    tables = located.data.get(key, [])
    if not isinstance(tables, list):
        faults.append(located.fault((key,), f"there may be several: write [[{key}]], with two brackets"))
        return ()
    return tuple(
        Entry((key, index), _raw_id(raw), _table(located, (key, index), kind, faults))
        for index, raw in enumerate(tables)
    )


def _table(located: LocatedToml, at: Path, kind: type[T], faults: list[Fault]) -> T | None:
    try:
        table: T = check(located, _ADAPTERS[kind], KEYS, at)
    except FileFaults as found:
        faults.extend(found.faults)
        return None
    return table


def _raw_id(raw: Any) -> str:
    found = raw.get("id") if isinstance(raw, dict) else None
    return found if isinstance(found, str) else ""


def _alarms(located: LocatedToml, faults: list[Fault]) -> dict[str, Any]:
    found = located.data.get("alarms", {})
    if isinstance(found, dict):
        return found
    faults.append(located.fault(("alarms",), "must be a table: write [alarms]"))
    return {}
