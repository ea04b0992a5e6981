"""Register map files: read, checked table by table and then against each other, every fault at once."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, TypeVar

from pydantic import TypeAdapter

from drivers.files import located as toml
from drivers.files.checked import check
from drivers.files.faults import Fault, FileFaults
from drivers.maps.blocks import ADDRESSES
from drivers.maps.encodings import WORDS
from drivers.maps.examples import Examples
from drivers.maps.model import MeterMap, Value
from drivers.maps.tables import KNOWN, ExampleTable, LayoutTable, MapFile, MeterTable, ValueTable
from drivers.quantities import QUANTITIES

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

T = TypeVar("T")
Form = tuple[TypeAdapter[T], Mapping[tuple[str, ...], tuple[str, ...]]]
"""What a table must be, and the names of its keys."""

_FILE, _VALUE, _EXAMPLE = TypeAdapter(MapFile), TypeAdapter(ValueTable), TypeAdapter(ExampleTable)
_METER, _LAYOUT = TypeAdapter(MeterTable), TypeAdapter(LayoutTable)
_NONE = {
    "value": "is missing; add one [[value]] for each quantity that the meter measures",
    "example": "is missing; add one [[example]] with what the meter's document shows and what it means",
}


def load_map(path: Path) -> MeterMap:
    """Read the register map at ``path``.

    Raises:
        FileFaults: it can't be read, or it can't be believed: every fault found, with line and key.

    """
    return map_from(toml.read(str(path)))


def map_from(located: toml.LocatedToml) -> MeterMap:
    """Check a parsed register map file; see ``load_map``.

    What hangs on something faulty is not looked at, so that one mistake is told of once.
    """
    faults: list[Fault] = []
    sound_table(located, (), (_FILE, KNOWN), faults)
    meter = layout = None
    if isinstance(located.data.get("meter"), dict):
        meter = sound_table(located, ("meter",), (_METER, KNOWN), faults)
        layout = meter or sound_table(located, ("meter",), (_LAYOUT, KNOWN), [])
    entries = sound_tables(located, "value", (_VALUE, KNOWN), faults)
    examples = sound_tables(located, "example", (_EXAMPLE, KNOWN), faults)
    twice = dict(given_twice(located))
    faults.extend(twice)
    values = _values(located, entries, layout, faults) if layout else ()
    if layout:
        by_name = {name: value for value in values if (name := (value.channel, value.quantity)) not in twice.values()}
        look = Examples(located, layout, by_name, complete=len(by_name) == len(_listed(located, "value")))
        for index, example in examples.items():
            faults.extend(look.faults(index, example))
    if meter is None or faults:
        raise FileFaults(tuple(dict.fromkeys(faults)))
    return MeterMap(meter.name, meter.source, values, meter.max_block, meter.max_gap)


def sound_table(located: toml.LocatedToml, at: toml.Path, form: Form[T], faults: list[Fault]) -> T | None:
    """Check one table of a map file; give it where it is sound, else add its faults."""
    try:
        return check(located, *form, at)
    except FileFaults as error:
        faults.extend(error.faults)
        return None


def _listed(located: toml.LocatedToml, key: str) -> list[Any]:
    found = located.data.get(key)
    return found if isinstance(found, list) else []


def sound_tables(located: toml.LocatedToml, key: str, form: Form[T], faults: list[Fault]) -> dict[int, T]:
    """Check each table of the list ``key``; give the sound ones by their place in it."""
    if located.data.get(key, []) == []:
        faults.append(located.fault((key,), _NONE[key]))
    sound: dict[int, T] = {}
    for index, one in enumerate(_listed(located, key)):
        table = sound_table(located, (key, index), form, faults) if isinstance(one, dict) else None
        if table is not None:
            sound[index] = table
    return sound


def given_twice(located: toml.LocatedToml) -> Iterator[tuple[Fault, tuple[str, str]]]:
    """Find channels that have one quantity twice; in the raw data, since other keys may have faults."""
    first: dict[tuple[str, str], int] = {}
    for index, entry in enumerate(_listed(located, "value")):
        channel, quantity = (entry.get("channel"), entry.get("quantity")) if isinstance(entry, dict) else ("", "")
        if not isinstance(channel, str) or not isinstance(quantity, str) or quantity not in QUANTITIES:
            continue
        before = first.setdefault((channel, quantity), index)
        if before != index:
            line = located.line_of(("value", before))
            text = f"{channel} has {quantity} already, from the [[value]] at line {line}; keep one of the two"
            yield located.fault(("value", index, "quantity"), text), (channel, quantity)


def _values(
    located: toml.LocatedToml, entries: Mapping[int, ValueTable], layout: LayoutTable, faults: list[Fault]
) -> tuple[Value, ...]:
    values: list[Value] = []
    for index, entry in entries.items():
        found = [*_address_faults(located, index, entry, layout), *_missing_faults(located, index, entry)]
        faults.extend(found)
        if not found:
            values.append(_value(entry, layout))
    return tuple(values)


def _value(entry: ValueTable, layout: LayoutTable) -> Value:
    return Value(
        entry.channel,
        entry.quantity,
        entry.table or layout.table,
        entry.address - layout.address_base,
        entry.encoding,
        entry.word_order or layout.word_order,
        entry.scale,
        None if entry.scale_from is None else entry.scale_from - layout.address_base,
        tuple(bits % _patterns(entry.encoding) for bits in entry.missing),
    )


def _patterns(encoding: str) -> int:
    """Count the bit patterns of an encoding."""
    return int(1 << 16 * WORDS[encoding])


def _address_faults(located: toml.LocatedToml, index: int, entry: ValueTable, layout: LayoutTable) -> Iterator[Fault]:
    at, base, count = ("value", index), layout.address_base, WORDS[entry.encoding]
    for key, address, length in (("address", entry.address, count), ("scale_from", entry.scale_from, 1)):
        if address is not None and not base <= address <= ADDRESSES - length + base:
            text = f"found {address}; must be from {base} to {ADDRESSES - length + base}"
            yield located.fault((*at, key), text)
    if entry.scale_from is not None and entry.address <= entry.scale_from < entry.address + count:
        yield located.fault((*at, "scale_from"), f"found {entry.scale_from}, which is a register of the value itself")
    if count > layout.max_block:
        text = (
            f"found {layout.max_block}; must be at least {count}, since a value such as {entry.encoding} is read whole"
        )
        yield located.fault(("meter", "max_block"), text)


def _missing_faults(located: toml.LocatedToml, index: int, entry: ValueTable) -> Iterator[Fault]:
    """Check that each pattern fits; a negative number stands for its two's complement in a signed encoding."""
    end = _patterns(entry.encoding)
    lowest = -end // 2 if entry.encoding.startswith("i") else 0
    for bits in entry.missing:
        if not lowest <= bits < end:
            shown = hex(bits) if bits >= 0 else str(bits)
            text = f"found {shown[:40]}; must be bits that {entry.encoding} has, up to 0x{end - 1:X}"
            yield located.fault(("value", index, "missing"), text)
