"""From a way that was found to a register map: a new file, or one more value at the end of one."""

from __future__ import annotations

import json
import tomllib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from drivers.files.faults import FileFaults
from drivers.maps.mapfile import load_map

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from drivers.maps.model import Table
    from drivers.probe.ways import Way


@dataclass(frozen=True, slots=True)
class Found:
    """A value that was found in a meter.

    Attributes:
        channel: its channel's name.
        quantity: a name of ``drivers.quantities.QUANTITIES``.
        table: where it was read.
        way: how it is read.
        registers: its registers as they were read, for the map's example.
        measured: what was measured by hand at that moment, in the quantity's unit.

    """

    channel: str
    quantity: str
    table: Table
    way: Way
    registers: tuple[int, ...]
    measured: float


class CannotWrite(Exception):
    """The map can't be written; its text says why and what would do."""


def write_map(path: Path, name: str, found: Found, day: str) -> bool:
    """Write a new map with one value, or add the value to the map that is there; give whether it is new.

    The map that comes out is read back before it takes the old one's place.

    Args:
        path: of the map.
        name: of the meter, for a new map.
        found: the value.
        day: of today, for the map's source.

    Raises:
        CannotWrite: the map there has a fault or has the value already, or the file can't be written.

    """
    new = not path.exists()
    text = _head(name, found.table, day) if new else _text_of(path, found)
    at = found.way.address + int(tomllib.loads(text)["meter"].get("address_base", 0))
    draft = path.with_name(path.name + ".draft")
    try:
        draft.write_text(text + _value(found, at) + _example(found, at), encoding="utf-8")
        load_map(draft)
        draft.replace(path)
    except FileFaults as faults:
        draft.unlink()
        raise CannotWrite(f"the map would have a fault: {faults}") from faults
    except OSError as error:
        raise CannotWrite(f"{path} can't be written: {error.strerror}; name a file in another place") from error
    return new


def refuse_known(path: Path, channel: str, quantity: str) -> None:
    """Look whether a value may be added to a map.

    Raises:
        CannotWrite: the map there has a fault, or has the value already.

    """
    if not path.exists():
        return
    try:
        known = load_map(path)
    except FileFaults as faults:
        raise CannotWrite(f"{path} has faults; mend them first, or name a new file:\n{faults}") from faults
    if any((value.channel, value.quantity) == (channel, quantity) for value in known.values):
        raise CannotWrite(f"{path} has {channel}.{quantity} already: take that value out first, or give another name")


def _text_of(path: Path, found: Found) -> str:
    refuse_known(path, found.channel, found.quantity)
    try:
        text = path.read_text(encoding="utf-8")
    except OSError as error:
        raise CannotWrite(f"{path} can't be read: {error.strerror}") from error
    return text if text.endswith("\n") else text + "\n"


def _head(name: str, table: Table, day: str) -> str:
    return f"""\
# Made by legwatch probe from values measured by hand. Compare with the meter's own document before you rely on it.

[meter]
name = {json.dumps(name, ensure_ascii=False)}
source = "found on the wire by values measured by hand, {day}; no document of the meter seen"
protocol = "modbus"
table = "{table}"
address_base = 0
word_order = "ABCD"
max_block = 60
max_gap = 8
"""


def _value(found: Found, at: int) -> str:
    way = found.way
    lines: Mapping[str, str] = {
        "channel": json.dumps(found.channel, ensure_ascii=False),
        "quantity": json.dumps(found.quantity),
        "table": json.dumps(found.table.value),
        "address": str(at),
        "encoding": json.dumps(way.encoding),
        "word_order": json.dumps(way.word_order),
        "scale": repr(way.scale),
    }
    return "\n[[value]]\n" + "".join(f"{key} = {text}\n" for key, text in lines.items())


def _example(found: Found, at: int) -> str:
    words = ", ".join(f'"0x{word:04X}"' for word in found.registers)
    value = found.way.value({found.way.address + i: word for i, word in enumerate(found.registers)})
    channel = json.dumps(found.channel, ensure_ascii=False)
    return (
        f"\n# Read while an instrument showed {found.measured:g}.\n[[example]]\nat = {at}\n"
        f'table = "{found.table}"\nwords = [{words}]\nexpect = {{ {channel} = {{ {found.quantity} = {value!r} }} }}\n'
    )
