"""Checks buses: how each is reached, and that no two meters on one answer to the same number."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from drivers.bus.settings import FIELD_PROTOCOLS
from drivers.files.checked import nearest
from monitor.show.draft import Draft, sound

if TYPE_CHECKING:
    from collections.abc import Iterator

    from drivers.files.faults import Fault
    from drivers.files.located import Path
    from monitor.show.filemodel import BusTable, MeterTable

SERIAL_ONLY = ("modbus-rtu", "modbus-ascii", "sunspec-rtu")
TCP_ONLY = ("modbus-tcp", "modbus-rtu-over-tcp", "sunspec-tcp")
UNIT_NEEDED = (*SERIAL_ONLY, *TCP_ONLY)
DEFAULT_TCP_PORT = 502
_TCP = re.compile(r"(?P<host>\[[0-9A-Fa-f:.%\w]+\]|[^\s:/\[\]]+)(:(?P<port>\d{1,5}))?")

_TCP_PORT = re.compile(r":\d+$")


def split_tcp(address: str) -> tuple[str, int] | None:
    """Split ``host``, ``host:port`` or ``[v6]:port``; None where it is none of these."""
    found = _TCP.fullmatch(address)
    if found is None:
        return None
    port = int(found["port"] or DEFAULT_TCP_PORT)
    return (found["host"].strip("[]"), port) if 1 <= port <= 65_535 else None  # noqa: PLR2004 - TCP's own range


def check_buses(draft: Draft) -> Iterator[Fault]:
    """Give every fault of buses and unit numbers."""
    yield from _buses(draft)
    yield from _units(draft)


def _buses(draft: Draft) -> Iterator[Fault]:
    first: dict[str, str] = {}
    for path, bus in sound(draft.buses):
        problem = _way(bus)
        if problem is not None:
            yield draft.located.fault((*path, problem[0]), problem[1])
            continue
        address = split_tcp(bus.tcp) if bus.tcp is not None else None
        where = f"{address[0].lower()} port {address[1]}" if address else f"{bus.port}"
        if where in first:
            key = "port" if bus.port is not None else "tcp"
            text = f'bus "{first[where]}" already has {where}; put its meters on one [[bus]]'
            yield draft.located.fault((*path, key), text)
        first.setdefault(where, bus.id)


def _way(bus: BusTable) -> tuple[str, str] | None:
    """Say what is wrong with the way to a bus: key and text."""
    if bus.port is not None and bus.tcp is not None:
        return "tcp", "port and tcp exclude each other; keep one"
    if bus.protocol in SERIAL_ONLY and bus.port is None:
        hint = "give a protocol over TCP, or " if bus.tcp else ""
        return "port", f"is missing; {bus.protocol} is serial: {hint}name the port, such as /dev/serial/by-id/..."
    if bus.protocol in TCP_ONLY and bus.tcp is None:
        hint = "give a serial protocol, or " if bus.port else ""
        return "tcp", f'is missing; {bus.protocol} goes over TCP: {hint}name the address, as in tcp = "host:port"'
    if bus.port is None and bus.tcp is None:
        return "port", f'is missing; {bus.protocol} needs port, or tcp = "host:port"'
    told = _address(bus.protocol, bus.tcp) if bus.tcp is not None else ""
    return ("tcp", told) if told else None


def _address(protocol: str, tcp: str) -> str:
    """Say what is wrong with an address, or nothing."""
    if split_tcp(tcp) is None:
        return f'found "{tcp}"; must be "host:port", or "[address]:port" for IPv6, port 1 to 65535'
    if protocol in FIELD_PROTOCOLS and _TCP_PORT.search(tcp) is None:
        return f'found "{tcp}"; {protocol} has no usual port: add it, as in tcp = "host:port"'
    return ""


def _units(draft: Draft) -> Iterator[Fault]:
    known = draft.bus_ids
    protocols = {bus.id: bus.protocol for _, bus in sound(draft.buses)}
    first: dict[tuple[str, int], Path] = {}
    for path, meter in sound(draft.meters):
        if meter.bus not in known:
            yield draft.located.fault((*path, "bus"), f'no bus is called "{meter.bus}"; {nearest(meter.bus, known)}')
            continue
        yield from (draft.located.fault((*path, "unit"), text) for text in _unit(meter, protocols.get(meter.bus)))
        alone = protocols.get(meter.bus) in FIELD_PROTOCOLS
        key = (meter.bus, 1 if alone else unit_of(meter))
        if key in first and alone:
            line = draft.located.line_of(first[key])
            text = f"bus {meter.bus} already has the meter on line {line}; what two send can't be told apart: "
            yield draft.located.fault((*path, "bus"), f"{text}one meter a bus, with all channels in its map")
        elif key in first:
            line = draft.located.line_of((*first[key], "unit"))
            text = f"unit {key[1]} on bus {meter.bus} is already the meter on line {line}; two would answer at once"
            yield draft.located.fault((*path, "unit"), text)
        first.setdefault(key, path)


def unit_of(meter: MeterTable) -> int:
    """Give a meter's unit number; 1 for protocols that need none."""
    return 1 if meter.unit is None else meter.unit


def _unit(meter: MeterTable, protocol: str | None) -> Iterator[str]:
    if meter.unit is None and protocol in UNIT_NEEDED:
        yield f"is missing; {protocol} needs the meter's unit number"
    elif protocol in SERIAL_ONLY and not 1 <= unit_of(meter) <= 247:  # noqa: PLR2004 - Modbus over serial line
        yield f"found {meter.unit}; on a serial bus it must be 1 to 247"
