"""Checks the tree from the source to the circuits: ids, what feeds what, legs."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any, TypeAlias

from drivers.files.checked import nearest
from monitor.show.draft import Draft, Entry, sound, sound_places
from monitor.show.filemodel import CircuitTable, FeederTable
from monitor.show.model import SOURCE_ID, SYSTEM_LEGS

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from drivers.files.faults import Fault
    from drivers.files.located import Path

Legs: TypeAlias = tuple[str, ...]


def check_tree(draft: Draft) -> Iterator[Fault]:
    """Give every fault of ids, feeding and legs."""
    yield from _ids(draft, (*draft.feeders, *draft.circuits), "every feeder and circuit needs its own")
    yield from _ids(draft, draft.buses, "every bus needs its own")
    yield from _parents(draft)
    yield from _rings(draft)
    yield from _legs(draft)


def legs_by_place(draft: Draft) -> Mapping[str, Legs]:
    """Give the legs of the source and of each feeder and circuit that can be traced to it, parents first.

    Legs not given are those of what feeds the place. Places whose legs have a fault, and what hangs below them, are
    left out; where the source's system can't be read, so is everything.
    """
    if draft.source is None:
        return {}
    legs: dict[str, Legs] = {SOURCE_ID: SYSTEM_LEGS[draft.source.system]}
    waiting = [table for _, table in sound_places(draft)]
    while ready := [table for table in waiting if table.fed_from in legs]:
        waiting = [table for table in waiting if table.fed_from not in legs]
        for table in ready:
            above = legs[table.fed_from]
            own = above if table.legs is None else table.legs
            if own and len(set(own)) == len(own) and set(own) <= set(above):
                legs.setdefault(table.id, own)
    return legs


def _ids(draft: Draft, entries: tuple[Entry[Any], ...], rule: str) -> Iterator[Fault]:
    first: dict[str, Path] = {}
    for entry in entries:
        at = (*entry.path, "id")
        if entry.id == SOURCE_ID and entry.path[0] != "bus":
            yield draft.located.fault(at, f'"{SOURCE_ID}" is the name of the source itself; choose another')
        elif entry.id in first:
            line = draft.located.line_of(first[entry.id])
            yield draft.located.fault(at, f'"{entry.id}" is already used on line {line}; {rule}')
        elif entry.id:
            first[entry.id] = at


def _parents(draft: Draft) -> Iterator[Fault]:
    parents = (SOURCE_ID, *draft.feeder_ids)
    for path, table in sound_places(draft):
        found = table.fed_from
        if found in parents:
            continue
        why = f'nothing is called "{found}"; {nearest(found, parents)}'
        if found in draft.circuit_ids:
            why = f'"{found}" is a circuit; only a feeder or "{SOURCE_ID}" feeds anything'
        yield draft.located.fault((*path, "fed_from"), why)


def _rings(draft: Draft) -> Iterator[Fault]:
    """Give one fault for each ring; what hangs below a ring has no fault of its own."""
    parent = {table.id: table.fed_from for _, table in sound(draft.feeders)}
    place = {table.id: path for path, table in sound(draft.feeders)}
    settled: set[str] = set()
    for start in parent:
        chain: list[str] = []
        at = start
        while at in parent and at not in settled and at not in chain:
            chain.append(at)
            at = parent[at]
        if at in chain:
            ring = [*chain[chain.index(at) :], at]
            steps = ", ".join(f"{child} from {above}" for child, above in pairwise(ring))
            yield draft.located.fault((*place[at], "fed_from"), f"fed in a ring that never reaches the source: {steps}")
        settled.update(chain)


def _legs(draft: Draft) -> Iterator[Fault]:
    if draft.source is None:
        return
    known = legs_by_place(draft)
    for path, table in sound_places(draft):
        above = known.get(table.fed_from)
        if table.legs is not None:
            for at, text in _given_legs(table, table.legs, draft.source.system, above):
                yield draft.located.fault((*path, *at), text)
        elif isinstance(table, CircuitTable) and above is not None and len(above) > 1:
            text = f"is missing; {table.fed_from} has {', '.join(above)}: name those of this circuit"
            yield draft.located.fault((*path, "legs"), text)


def _given_legs(
    table: FeederTable | CircuitTable, legs: Legs, system: str, above: Legs | None
) -> Iterator[tuple[Path, str]]:
    has = f"a {system} system has {', '.join(SYSTEM_LEGS[system])}"
    if not legs:
        yield ("legs",), f"is empty; {has}"
    for index, leg in enumerate(legs):
        at = ("legs", index)
        if leg not in SYSTEM_LEGS[system]:
            yield at, f'found "{leg}"; {has}'
        elif leg in legs[:index]:
            yield at, f"{leg} stands twice"
        elif above is not None and leg not in above:
            yield at, f"{table.fed_from}, which feeds this, has no {leg}; it has {', '.join(above)}"
