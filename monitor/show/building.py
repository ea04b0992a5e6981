"""Turns checked tables into the show's frozen dataclasses, with every default and reference filled in."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

from drivers.bus.settings import BusSettings
from drivers.fields.model import FieldMap
from drivers.maps.model import MeterMap
from monitor.show import filemodel as fm
from monitor.show import model as m
from monitor.show.check_breakers import DEFAULT_STANDARD
from monitor.show.check_buses import split_tcp, unit_of
from monitor.show.check_meters import split_point
from monitor.show.check_tree import legs_by_place
from monitor.show.draft import Draft, sound
from monitor.show.mapfiles import kind_for, map_name
from monitor.show.settings import with_defaults

if TYPE_CHECKING:
    from collections.abc import Mapping

    from monitor.show.mapfiles import MapFiles

DEFAULT_HERTZ: Mapping[m.Region, float] = MappingProxyType({"north-america": 60.0, "europe": 50.0})


@dataclass(frozen=True, slots=True)
class _Line:
    """Defaults of a serial line."""

    baud: int = 9600
    parity: str = "N"
    data_bits: int = 8
    timeout_seconds: float = 0.5


# IEC 62056-21: starts at 300 baud with 7 data bits and even parity, answers within 1.5 s (from memory).
# The P1 telegram at 115200 baud has 8 data bits and no parity (from memory); older ones keep 7 and even.
# Modbus ASCII: 7 data bits, even parity (Modbus over Serial Line V1.02, from memory).
_LINES = {
    "modbus-ascii": _Line(parity="E", data_bits=7),
    "iec62056-21": _Line(baud=300, parity="E", data_bits=7, timeout_seconds=2.0),
    "text": _Line(timeout_seconds=5.0),  # a board that resets when its port is opened takes a few seconds
}
_P1_BAUD = 115_200
_P1_LINE = _Line(baud=_P1_BAUD, timeout_seconds=2.0)


def build(draft: Draft, maps: MapFiles | None) -> m.Show:
    """Build the show of a draft without any fault; without ``maps``, meters have no map."""
    assert draft.show is not None and draft.source is not None  # noqa: S101, PT018 - no fault was found
    region = draft.show.region
    legs = legs_by_place(draft)
    return m.Show(
        name=draft.show.name,
        region=region,
        timezone=draft.show.timezone,
        source=_source(draft.source, region),
        feeders=_feeders(draft, legs, region),
        circuits=tuple(_circuit(table, legs[table.id], region) for _, table in sound(draft.circuits)),
        buses=tuple(bus_settings(table) for _, table in sound(draft.buses)),
        meters=_meters(draft, legs, maps),
        settings=with_defaults(region, draft.alarms),
        text=draft.located.text,
        retention_days=draft.log.keep_days if draft.log is not None else None,
    )


def _source(table: fm.SourceTable, region: m.Region) -> m.Source:
    return m.Source(
        name=table.name,
        kind=table.kind,
        system=table.system,
        hertz=table.hertz or DEFAULT_HERTZ[region],
        rated_kw=table.rated_kw,
        rated_kva=table.rated_kva,
        amps_per_leg=table.amps_per_leg,
        neutral_amps=table.neutral_amps,
        governor=table.governor,
        performance_class=table.performance_class,
        fuel=_fuel(table.fuel),
    )


def _fuel(table: fm.FuelTable | None) -> m.Fuel | None:
    if table is None:
        return None
    return m.Fuel(
        tank_litres=table.tank_litres,
        litres_per_hour=tuple(sorted((float(percent), litres) for percent, litres in table.litres_per_hour.items())),
        kind=table.kind,
        usable_percent=table.usable_percent,
        reserve_litres=table.reserve_litres,
    )


def _feeders(draft: Draft, legs: Mapping[str, tuple[str, ...]], region: m.Region) -> tuple[m.Feeder, ...]:
    tables = {table.id: table for _, table in sound(draft.feeders)}
    return tuple(
        m.Feeder(
            id=table.id,
            name=table.name or table.id,
            fed_from=table.fed_from,
            legs=legs[table.id],
            breaker=_breaker(table.breaker, len(legs[table.id]), region) if table.breaker else None,
            cable=_cable(table.cable),
            neutral_amps=table.neutral_amps,
        )
        for table in (tables[place] for place in legs if place in tables)  # ``legs`` has parents first
    )


def _circuit(table: fm.CircuitTable, legs: tuple[str, ...], region: m.Region) -> m.Circuit:
    return m.Circuit(
        id=table.id,
        name=table.name or table.id,
        fed_from=table.fed_from,
        legs=legs,
        breaker=_breaker(table.breaker, len(legs), region),
        cable=_cable(table.cable),
        volts_tap=table.volts_tap,
        tags=frozenset(table.tags),
        load=tuple(m.Load(**load.model_dump()) for load in table.load),
        movable=table.movable,
        settings=MappingProxyType({name: float(value) for name, value in table.alarms.items()}),
    )


def _breaker(table: fm.BreakerTable, legs: int, region: m.Region) -> m.Breaker:
    return m.Breaker(
        amps=table.amps,
        standard=table.standard or DEFAULT_STANDARD[region],
        curve=table.curve or "",
        poles=table.poles or legs,
        gates=tuple(
            m.Gate(gate.multiple, gate.soonest or None, gate.latest)  # "not before 0 s" asks nothing
            for gate in sorted(table.gates, key=lambda gate: gate.multiple)
        ),
        full_rated=table.full_rated,
    )


def _cable(table: fm.CableTable | None) -> m.Cable | None:
    if table is None:
        return None
    return m.Cable(
        metres=table.length_metres,
        awg=table.awg or "",
        mm2=table.mm2,
        parallel=table.parallel,
        amps=table.amps,
    )


def bus_settings(table: fm.BusTable) -> BusSettings:
    """Give what the drivers must know of a bus, with the defaults of its protocol."""
    line = _LINES.get(table.protocol, _Line())
    if table.protocol == "iec62056-21" and table.baud == _P1_BAUD:
        line = _P1_LINE
    host, port = (split_tcp(table.tcp) if table.tcp else None) or ("", 502)
    return BusSettings(
        id=table.id,
        protocol=table.protocol,
        port=table.port or "",
        host=host,
        tcp_port=port,
        baud=table.baud or line.baud,
        parity=table.parity or line.parity,
        stop_bits=table.stop_bits,
        data_bits=table.data_bits or line.data_bits,
        timeout_s=table.timeout_seconds or line.timeout_seconds,
        interval_s=table.poll_seconds,
    )


def _meters(draft: Draft, legs: Mapping[str, tuple[str, ...]], maps: MapFiles | None) -> tuple[m.Meter, ...]:
    circuits = frozenset(table.id for _, table in sound(draft.circuits))
    protocols = {table.id: table.protocol for _, table in sound(draft.buses)}
    return tuple(
        m.Meter(
            bus=table.bus,
            unit=unit_of(table),
            map_name=table.map or "",
            map=loaded if isinstance(loaded, MeterMap) else None,
            powered_from=table.powered_from,
            points=tuple((channel, split_point(text, legs, circuits)) for channel, text in table.points.items()),
            fields=loaded if isinstance(loaded, FieldMap) else None,
        )
        for table, loaded in ((table, _map(table, protocols[table.bus], maps)) for _, table in sound(draft.meters))
    )


def _map(table: fm.MeterTable, protocol: str, maps: MapFiles | None) -> MeterMap | FieldMap | None:
    if maps is None or not kind_for(protocol):
        return None
    found = maps.find(map_name(table.map, protocol) or "")
    return maps.load(found) if found is not None else None
