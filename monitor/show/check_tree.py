"""Checks the tree from the source to the circuits: ids, what feeds what, legs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TypeAlias

from drivers.files.checked import nearest
from drivers.files.faults import Fault
from monitor.show import filemodel as fm
from monitor.show.draft import Draft, Entry
from monitor.show.model import SOURCE_ID, SYSTEM_LEGS

Place: TypeAlias = Entry[fm.FeederTable] | Entry[fm.CircuitTable]


def check_tree(draft: Draft) -> Iterator[Fault]:
    """Give every fault of ids, feeding and legs."""
    yield from _ids(draft, (*draft.feeders, *draft.circuits), "every feeder and circuit needs its own")
    yield from _ids(draft, draft.buses, "every bus needs its own")
    yield from _parents(draft)
    yield from _rings(draft)
    yield from _legs(draft)


def legs_by_place(draft: Draft) -> Mapping[str, tuple[str, ...]]:
    """Give the legs of the source and of each feeder and circuit that can be traced to it, parents first.

    Legs not given are those of what feeds the place. Empty where the source's system can't be read.
    """
    if draft.source is None:
        return {}
    legs = {SOURCE_ID: SYSTEM_LEGS[draft.source.system]}
    waiting = [entry for entry in draft.feeders if entry.table is not None]
    while ready := [entry for entry in waiting if entry.table is not None and entry.table.fed_from in legs]:
        for entry in ready:
            legs.setdefault(entry.id, _own_legs(entry, legs))
        waiting = [entry for entry in waiting if entry not in ready]
    for circuit in draft.circuits:
        if circuit.table is not None and circuit.table.fed_from in legs:
            legs.setdefault(circuit.id, _own_legs(circuit, legs))
    return legs


def feeds(draft: Draft) -> tuple[str, ...]:
    """Give everything that something may be fed from."""
    return (SOURCE_ID, *(entry.id for entry in draft.feeders if entry.id))


def _own_legs(entry: Place, legs: Mapping[str, tuple[str, ...]]) -> tuple[str, ...]:
    assert entry.table is not None  # noqa: S101 - for the type checker: callers filter
    return entry.table.legs if entry.table.legs is not None else legs[entry.table.fed_from]


def _ids(draft: Draft, entries: tuple[Entry[fm.FeederTable] | Entry[fm.CircuitTable] | Entry[fm.BusTable], ...], rule: str) -> Iterator[Fault]:
    first: dict[str, Entry[fm.FeederTable] | Entry[fm.CircuitTable] | Entry[fm.BusTable]] = {}
    for entry in entries:
        if entry.id == SOURCE_ID and entry.path[0] != "bus":
            yield draft.located.fault((*entry.path, "id"), f'"{SOURCE_ID}" is the name of the source itself')
        elif entry.id in first:
            line = draft.located.line_of((*first[entry.id].path, "id"))
            yield draft.located.fault((*entry.path, "id"), f'"{entry.id}" is already used on line {line}; {rule}')
        elif entry.id:
            first[entry.id] = entry


def _parents(draft: Draft) -> Iterator[Fault]:
    circuits = {entry.id for entry in draft.circuits}
    parents = feeds(draft)
    for entry in (*draft.feeders, *draft.circuits):
        if entry.table is None or entry.table.fed_from in parents:
            continue
        found = entry.table.fed_from
        why = f'"{found}" is a circuit; only a feeder or "{SOURCE_ID}" feeds anything'
        if found not in circuits:
            why = f'nothing is called "{found}"; {nearest(found, parents)}'
        yield draft.located.fault((*entry.path, "fed_from"), why)


def _rings(draft: Draft) -> Iterator[Fault]:
    parent = {entry.id: entry.table.fed_from for entry in reversed(draft.feeders) if entry.table is not None}
    settled: set[str] = set()
    for entry in draft.feeders:
        chain: list[str] = []
        at = entry.id
        while at in parent and at not in settled and at not in chain:
            chain.append(at)
            at = parent[at]
        if at in chain:
            ring = [*chain[chain.index(at) :], at]
            steps = ", ".join(f"{child} is fed from {above}" for child, above in zip(ring, ring[1:], strict=False))
            start = next(feeder for feeder in draft.feeders if feeder.id == at)
            yield draft.located.fault((*start.path, "fed_from"), f"{steps}: this ring never reaches the source")
        settled.update(chain)


def _legs(draft: Draft) -> Iterator[Fault]:
    if draft.source is None:
        return
    system = draft.source.system
    by_place = legs_by_place(draft)
    for entry in (*draft.feeders, *draft.circuits):
        if entry.table is None:
            continue
        above = by_place.get(entry.table.fed_from)
        if entry.table.legs is not None:
            yield from _given_legs(draft, entry, entry.table.legs, system, above)
        elif entry.path[0] == "circuit" and above is not None and len(above) > 1:
            text = f"is missing; {entry.table.fed_from} has {', '.join(above)}: name the circuit's own, such as [\"{above[0]}\"]"
            yield draft.located.fault((*entry.path, "legs"), text)


def _given_legs(draft: Draft, entry: Place, legs: tuple[str, ...], system: str, above: tuple[str, ...] | None) -> Iterator[Fault]:
    known = SYSTEM_LEGS[system]
    if not legs:
        yield draft.located.fault((*entry.path, "legs"), f"is empty; a {system} system has {', '.join(known)}")
    for index, leg in enumerate(legs):
        at = (*entry.path, "legs", index)
        if leg not in known:
            yield draft.located.fault(at, f'found "{leg}"; a {system} system has {", ".join(known)}')
        elif leg in legs[:index]:
            yield draft.located.fault(at, f"{leg} stands twice")
        elif above is not None and leg not in above:
            fed_from = entry.table.fed_from if entry.table is not None else ""
            yield draft.located.fault(at, f"{fed_from}, which feeds this, has no {leg}; it has {', '.join(above)}")
