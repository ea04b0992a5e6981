"""Map files of any kind: register maps, text maps and telegram maps; read, checked, every fault at once."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from pydantic import TypeAdapter

from drivers.errors import Corrupt
from drivers.fields.decode import decode_fields
from drivers.fields.model import FieldMap, FieldValue, Source
from drivers.fields.tables import PROTOCOLS, CodeValueTable, FieldMeterTable, TextExampleTable, TextValueTable, known
from drivers.fields.units import examples, exponent
from drivers.files import located as toml
from drivers.files.checked import nearest
from drivers.files.faults import FileFaults
from drivers.iec62056 import obis
from drivers.maps.examples import ABSOLUTE_TOLERANCE, RELATIVE_TOLERANCE
from drivers.maps.mapfile import given_twice, map_from, sound_table, sound_tables
from drivers.maps.tables import MapFile
from drivers.quantities import QUANTITIES
from drivers.textlines import fields as text_fields

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from drivers.fields.model import Fields
    from drivers.files.faults import Fault
    from drivers.maps.model import MeterMap

_FILE, _METER = TypeAdapter(MapFile), TypeAdapter(FieldMeterTable)
_TEXT, _CODE = TypeAdapter(TextValueTable), TypeAdapter(CodeValueTable)
_EXAMPLE = TypeAdapter(TextExampleTable)


def load_any_map(path: Path) -> MeterMap | FieldMap:
    """Read the map file at ``path``, whatever it maps.

    Raises:
        FileFaults: it can't be read, or it can't be believed: every fault found, with line and key.

    """
    located = toml.read(str(path))
    meter = located.data.get("meter")
    protocol = meter.get("protocol", "modbus") if isinstance(meter, dict) else "modbus"
    if protocol == "modbus" or not isinstance(protocol, str):
        return map_from(located)
    if protocol not in PROTOCOLS:
        text = f'found "{protocol}"; {nearest(protocol, PROTOCOLS)}'
        raise FileFaults((located.fault(("meter", "protocol"), text),))
    return field_map_from(located)


def field_map_from(located: toml.LocatedToml) -> FieldMap:
    """Check a parsed field map file; see ``load_any_map``."""
    faults: list[Fault] = []
    is_text = located.data["meter"]["protocol"] == "text"
    keys = known(TextValueTable if is_text else CodeValueTable)
    sound_table(located, (), (_FILE, keys), faults)
    meter = sound_table(located, ("meter",), (_METER, keys), faults)
    entries: Mapping[int, Any]
    if is_text:
        entries = sound_tables(located, "value", (_TEXT, keys), faults)
    else:
        entries = sound_tables(located, "value", (_CODE, keys), faults)
    tables = sound_tables(located, "example", (_EXAMPLE, keys), faults)
    faults.extend(fault for fault, _ in given_twice(located))
    faults.extend(fault for index, entry in entries.items() for fault in _unit_faults(located, index, entry))
    if meter is None or faults:
        raise FileFaults(tuple(dict.fromkeys(faults)))
    values = tuple(_value(entry) for entry in entries.values())
    found = FieldMap(meter.name, meter.source, meter.protocol, values, meter.checksum)
    faults.extend(fault for index, table in tables.items() for fault in _example_faults(located, index, table, found))
    if faults:
        raise FileFaults(tuple(dict.fromkeys(faults)))
    return found


def message_fields(field_map: FieldMap, text: str) -> Fields | None:
    """Read one message of the kind that ``field_map`` maps; None where it is no data.

    Raises:
        Corrupt: it is not whole.

    """
    if field_map.protocol == "text":
        return text_fields.fields_of(text, check_needed=field_map.checksum)
    return obis.fields_of(text)


def _value(entry: TextValueTable | CodeValueTable) -> FieldValue:
    """Make a value; a text line's number has the quantity's own unit where nothing says otherwise."""
    if isinstance(entry, TextValueTable):
        unit = entry.unit or QUANTITIES[entry.quantity].unit
        sources: tuple[Source, ...] = (Source(entry.field),)
    else:
        unit, sources = entry.unit, tuple(entry.code)  # type: ignore[arg-type]  # the validator makes Sources of them
    return FieldValue(entry.channel, entry.quantity, sources, unit, entry.scale, entry.optional)


def _unit_faults(located: toml.LocatedToml, index: int, entry: TextValueTable | CodeValueTable) -> Iterator[Fault]:
    if entry.unit and exponent(entry.unit, entry.quantity) is None:
        text = f'found "{entry.unit}", which is no unit of {entry.quantity}; must be like {examples(entry.quantity)}'
        yield located.fault(("value", index, "unit"), text)


def _example_faults(
    located: toml.LocatedToml, index: int, table: TextExampleTable, field_map: FieldMap
) -> Iterator[Fault]:
    path: toml.Path = ("example", index)
    if not any(table.expect.values()):
        text = "expects nothing; say what the text means, as in expect = { ch1 = { volts = 120.0 } }"
        yield located.fault((*path, "expect"), text)
        return
    try:
        fields = message_fields(field_map, table.text)
    except Corrupt as corrupt:
        yield located.fault((*path, "text"), str(corrupt))
        return
    for channel, expected in table.expect.items():
        at = (*path, "expect", channel)
        if channel not in field_map.channels:
            hint = nearest(channel, field_map.channels)
            yield located.fault(at, f'no [[value]] has the channel "{channel}"; {hint}')
            continue
        (reading,) = decode_fields(field_map, fields or {}, (channel,))
        for quantity, number in expected.items():
            if quantity not in QUANTITIES:
                text = f'no quantity is called "{quantity}"; {nearest(quantity, tuple(QUANTITIES))}'
                yield located.fault((*at, quantity), text)
                continue
            found = getattr(reading.values, quantity)
            if found is None or not math.isclose(found, number, rel_tol=RELATIVE_TOLERANCE, abs_tol=ABSOLUTE_TOLERANCE):
                means = reading.detail if found is None else f"the text gives {found:.9g} {QUANTITIES[quantity].unit}"
                yield located.fault((*at, quantity), f"expected {number:.9g}; {means or 'the text gives no value'}")
