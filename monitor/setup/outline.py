"""A draft in few words: the show as it stands, and what would change in its file. Pure."""

from __future__ import annotations

from difflib import unified_diff
from typing import TYPE_CHECKING, Any

from monitor.setup.places import measured
from monitor.setup.readers import cable_words
from monitor.show.model import SOURCE_ID

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from monitor.setup.draft import ShowDraft

_STEP = "  "


def outline(draft: ShowDraft) -> tuple[str, ...]:
    """Give the show line by line, from the source outwards, then what measures it."""
    show, source = draft.table("show"), draft.table("source")
    lines: list[str] = []
    if show:
        lines += [str(show.get("name", "")), f"{_STEP}{_joined(show.get('region'), show.get('timezone'))}"]
    if source:
        ratings = (_unit(source, "rated_kw", "kW"), _unit(source, "amps_per_leg", "A a leg"))
        fuel = source.get("fuel", {}).get("kind")
        lines.append(f"source: {_joined(source.get('kind'), source.get('system'), *ratings, fuel)}")
    lines += _fed(draft, SOURCE_ID, _STEP, measured(draft), set())
    for bus in draft.tables("bus"):
        lines.append(f"{bus.get('id')}: {_joined(bus.get('protocol'), bus.get('port') or bus.get('tcp'))}")
        lines += [
            f"{_STEP}unit {meter.get('unit', 1)}: {', '.join(f'{c} {p}' for c, p in meter['points'].items())}"
            for meter in draft.tables("meter")
            if meter.get("bus") == bus.get("id")
        ]
    return tuple(lines)


def changes(before: str, after: str) -> str:
    """Give the whole text where there was none before, else the lines that go (``-``) and come (``+``)."""
    if not before:
        return after
    told = list(unified_diff(before.splitlines(), after.splitlines(), n=1, lineterm=""))[2:]
    return "\n".join("..." if line.startswith("@@") else line for line in told)


def _fed(draft: ShowDraft, place: str, indent: str, metered: set[str], seen: set[str]) -> Iterator[str]:
    """Give the boxes and circuits that a place feeds, each with what it feeds."""
    for table in (*draft.tables("feeder"), *draft.tables("circuit")):
        name = str(table.get("id"))
        if table.get("fed_from") == place and name not in seen:
            seen.add(name)
            yield f"{indent}{_place(name, table, metered)}"
            yield from _fed(draft, name, indent + _STEP, metered, seen)


def _place(name: str, table: Mapping[str, Any], metered: set[str]) -> str:
    legs = "+".join(map(str, table.get("legs", ())))
    watts = sum(float(load.get("watts", 0)) * load.get("count", 1) for load in table.get("load", ()))
    called = table.get("name") if table.get("name") != name else None
    parts = (called, legs, _unit(table.get("breaker", {}), "amps", "A"), cable_words(table.get("cable", {})))
    meter = "metered" if name in metered else None
    return f"{name} {_joined(*parts, f'{watts:g} W' if watts else None, meter)}".rstrip()


def _unit(table: Mapping[str, Any], key: str, unit: str) -> str | None:
    return f"{table[key]:g} {unit}" if table.get(key) is not None else None


def _joined(*parts: object) -> str:
    return ", ".join(str(part) for part in parts if part)
