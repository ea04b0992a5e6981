"""Checks meters: maps, channels, what each channel measures, and what powers the meter."""

from __future__ import annotations

from typing import TYPE_CHECKING

from drivers.bus.settings import SUNSPEC_PROTOCOLS
from drivers.files.checked import nearest
from drivers.sunspec.models import CHANNELS
from monitor.show.check_tree import legs_by_place
from monitor.show.draft import Draft, sound
from monitor.show.mapfiles import kind_for, kind_of, map_name
from monitor.show.model import NEUTRAL, SOURCE_ID, Point

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from drivers.files.faults import Fault
    from drivers.files.located import Path
    from monitor.show.filemodel import MeterTable
    from monitor.show.mapfiles import MapFiles


def split_point(text: str, legs: Mapping[str, tuple[str, ...]], circuits: frozenset[str]) -> Point:
    """Turn a point's text into the point, in its one spelling.

    A circuit with one leg is measured as a whole ("A1"), never by leg; a feeder or source always by leg.
    """
    place, _, leg = text.partition("/")
    known = legs.get(place, ())
    if place in circuits:
        return Point(place, "" if known == (leg,) else leg)
    return Point(place, leg or (known[0] if len(known) == 1 else ""))


def check_meters(draft: Draft, maps: MapFiles | None) -> Iterator[Fault]:
    """Give every fault of meters; without ``maps``, maps and channels are not looked at."""
    yield from _powered(draft)
    yield from _points(draft)
    if maps is not None:
        yield from _maps(draft, maps)


def _powered(draft: Draft) -> Iterator[Fault]:
    places = (SOURCE_ID, *draft.feeder_ids, *draft.circuit_ids)
    for path, meter in sound(draft.meters):
        if meter.powered_from not in places:
            found = meter.powered_from
            yield draft.located.fault((*path, "powered_from"), f'nothing is called "{found}"; {nearest(found, places)}')


def _points(draft: Draft) -> Iterator[Fault]:
    legs, circuits = legs_by_place(draft), frozenset(draft.circuit_ids)
    first: dict[Point, Path] = {}
    for path, meter in sound(draft.meters):
        if not meter.points:
            hint = 'is empty; say what each channel measures, such as { ch1 = "A1" }'
            yield draft.located.fault((*path, "points"), hint)
        for channel, text in meter.points.items():
            at = (*path, "points", channel)
            problem = _point(draft, text, legs.get(text.partition("/")[0]))
            point = split_point(text, legs, circuits)
            if not problem and (before := first.setdefault(point, at)) != at:
                line = draft.located.line_of(before)
                problem = f"{point} is already measured by {before[-1]} of the meter on line {line}"
            if problem:
                yield draft.located.fault(at, problem)
    yield from _whole_and_parts(draft, first)


def _point(draft: Draft, text: str, legs: tuple[str, ...] | None) -> str:
    """Say what is wrong with a point, or nothing.

    Without ``legs`` only the place is looked at: the place itself, or what feeds it, has a fault that is told there.
    """
    place, slash, leg = text.partition("/")
    places = (*draft.circuit_ids, *draft.feeder_ids, SOURCE_ID)
    if place not in places:
        return f'nothing is called "{place}"; {nearest(place, places)}'
    if legs is None:
        return ""
    whole = place in draft.circuit_ids
    wanted = " or ".join(f'"{place}/{name}"' for name in legs)
    if not slash:
        return "" if whole or len(legs) == 1 else f'"{place}" has {len(legs)} legs; name one: {wanted}'
    if leg in legs or (leg == NEUTRAL and not whole):
        return ""
    return f'{place} has no "{leg}"; must be {wanted}' + (f' or "{place}"' if whole else "")


def _whole_and_parts(draft: Draft, measured: Mapping[Point, Path]) -> Iterator[Fault]:
    by_leg = {point.place for point in measured if point.leg and point.place in draft.circuit_ids}
    for point, at in measured.items():
        if not point.leg and point.place in by_leg:
            yield draft.located.fault(at, f"{point.place} is measured both as a whole and by leg; keep one of the two")


def _maps(draft: Draft, maps: MapFiles) -> Iterator[Fault]:
    protocols = {bus.id: bus.protocol for _, bus in reversed(list(sound(draft.buses)))}  # of one id, the first counts
    for path, meter in sound(draft.meters):
        protocol = protocols.get(meter.bus)
        check = _found_on_meter if protocol in SUNSPEC_PROTOCOLS else _map
        for key, text in check(meter, protocol, maps):
            yield draft.located.fault((*path, *key), text)
    yield from maps.faults


def _found_on_meter(meter: MeterTable, protocol: str | None, _: MapFiles) -> Iterator[tuple[Path, str]]:
    """Look at a meter that tells by itself where its registers are."""
    if meter.map is not None:
        yield ("map",), f"is not used on a {protocol} bus: the meter itself says where its registers are; take it out"
    for channel in meter.points:
        plain, dash, copy = channel.partition("-")
        if plain not in CHANNELS or (dash and not copy.isdecimal()):
            hint = nearest(channel, CHANNELS)
            yield (
                ("points", channel),
                f'a SunSpec meter has no channel "{channel}"; {hint} (l1-2 is its second meter\'s)',
            )


def _map(meter: MeterTable, protocol: str | None, maps: MapFiles) -> Iterator[tuple[Path, str]]:
    name = map_name(meter.map, protocol)
    if name is None:
        if protocol is not None:
            yield ("map",), f"is missing; {protocol} needs a map: {maps.known(protocol)}"
        return
    found = maps.find(name)
    if found is None:
        yield ("map",), maps.unknown(name)
        return
    loaded = maps.load(found)
    if loaded is None:
        return
    if protocol is not None and kind_of(loaded) != kind_for(protocol):
        text = f'"{name}" maps {kind_of(loaded)}, the bus speaks {protocol}; {maps.known(protocol)}'
        yield ("map",), text
        return
    for channel in meter.points:
        if channel not in loaded.channels:
            yield ("points", channel), f'"{name}" has no channel "{channel}"; {nearest(channel, loaded.channels)}'
