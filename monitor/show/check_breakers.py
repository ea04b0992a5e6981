"""Checks breakers against the region, their standard and the legs they open."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from monitor.show.check_tree import legs_by_place
from monitor.show.draft import Draft, sound_places

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from drivers.files.faults import Fault
    from monitor.show.filemodel import BreakerTable
    from monitor.show.model import Region, Standard

DEFAULT_STANDARD: Mapping[Region, Standard] = {"north-america": "UL 489", "europe": "IEC 60898-1"}
_CURVED: Standard = "IEC 60898-1"


def check_breakers(draft: Draft) -> Iterator[Fault]:
    """Give every fault of breakers."""
    region = draft.show.region if draft.show is not None else None
    legs = legs_by_place(draft)
    for path, table in sound_places(draft):
        if table.breaker is None:
            continue
        texts = [*_standard(table.breaker, region), *_gates(table.breaker)]
        if table.id in legs:
            texts += _poles(table.breaker, len(legs[table.id]), region)
        for key, text in texts:
            yield draft.located.fault((*path, "breaker", *key), text)


def _standard(breaker: BreakerTable, region: Region | None) -> Iterator[tuple[tuple[str, ...], str]]:
    standard = breaker.standard or (DEFAULT_STANDARD[region] if region else None)
    why = standard if breaker.standard else f"{standard} (the default in {region})"
    if standard == _CURVED and breaker.curve is None:
        other = "" if breaker.standard else ', or name another standard such as "IEC 60947-2"'
        yield (), f'class is missing; a breaker of {why} takes class = "B", "C" or "D"{other}'
    if standard not in (_CURVED, None) and breaker.curve is not None:
        yield ("class",), f"only a breaker of {_CURVED} has a class, and this is one of {why}"
    if standard == "custom" and not breaker.gates:
        yield (), "gates are missing; custom takes gates = [ { multiple = 1.5, soonest = 60, latest = 600 }, ... ]"
    if standard not in ("custom", None) and breaker.gates:
        yield ("gates",), f'gates of your own go with standard = "custom", and this is one of {why}'


def _gates(breaker: BreakerTable) -> Iterator[tuple[tuple[str, ...], str]]:
    """More current never takes longer: neither edge may rise with the multiple."""
    gates = sorted(breaker.gates, key=lambda gate: gate.multiple)
    for lower, upper in pairwise(gates):
        if lower.multiple == upper.multiple:
            yield ("gates",), f"multiple {lower.multiple:g} stands twice"
    for name, edge in (
        ("soonest", [(gate.multiple, gate.soonest) for gate in gates if gate.soonest is not None]),
        ("latest", [(gate.multiple, gate.latest) for gate in gates if gate.latest is not None]),
    ):
        for (at, before), (above, after) in pairwise(edge):
            if after > before:
                text = f"{name} is {before:g} s at {at:g} times and {after:g} s at {above:g} times"
                yield ("gates",), f"{text}; more current never takes longer"


def _poles(breaker: BreakerTable, legs: int, region: Region | None) -> Iterator[tuple[tuple[str, ...], str]]:
    """One pole a leg; in Europe one more may switch the neutral (common practice, no source)."""
    allowed = (legs, legs + 1) if region != "north-america" else (legs,)
    if breaker.poles is not None and breaker.poles not in allowed:
        fits = " or ".join(map(str, allowed))
        yield ("poles",), f"found {breaker.poles}, but this has {legs} leg{'s' * (legs > 1)}; must be {fits}"
