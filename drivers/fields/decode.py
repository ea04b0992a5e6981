"""From the fields of one message to readings; what can't be is a gap with its reason, never a number."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import TYPE_CHECKING

from drivers.fields.units import UNPREFIXED, exponent
from drivers.maps.decode import PRIMARY, Implausible
from drivers.quantities import QUANTITIES
from drivers.reading import ChannelReading, Quality, Values

if TYPE_CHECKING:
    from collections.abc import Sequence

    from drivers.fields.model import Amount, FieldMap, Fields, FieldValue

NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)
NO_VALUE = "null"
"""What a message gives for a field that it has no value for; JSON's own word."""
_SHOWN = 24


def channels_in(field_map: FieldMap, fields: Fields) -> tuple[str, ...]:
    """Name the channels that a message tells of: at least one field came that is not optional, where it has such."""
    return tuple(channel for channel in field_map.channels if _is_in(field_map, channel, fields))


def _is_in(field_map: FieldMap, channel: str, fields: Fields) -> bool:
    values = [value for value in field_map.values if value.channel == channel]
    telling = [value for value in values if not value.optional] or values
    return any(_source(value, fields) for value in telling)


def decode_fields(field_map: FieldMap, fields: Fields, channels: Sequence[str]) -> tuple[ChannelReading, ...]:
    """Read ``channels`` of ``field_map`` out of one message.

    A channel of which no field came is ``SILENT``. One of which a field that is not optional is missing while
    others came is ``CORRUPT`` and has no values: the message was cut. A value that can't be is None; where it is a
    primary one its channel is ``IMPLAUSIBLE``, and its other values stand.
    """
    there = channels_in(field_map, fields)
    readings: list[ChannelReading] = []
    for channel in channels:
        values = [value for value in field_map.values if value.channel == channel]
        if channel in there:
            readings.append(_channel(channel, values, fields))
        else:
            detail = f"what the meter sends has nothing for {channel}"
            readings.append(ChannelReading(channel, Quality.SILENT, detail=detail))
    return tuple(readings)


def _channel(channel: str, values: Sequence[FieldValue], fields: Fields) -> ChannelReading:
    missing = [value.sources[0].plus for value in values if not value.optional and _source(value, fields) is None]
    if missing:
        detail = f"came without {', '.join(missing)}: cut off, or two in one"
        return ChannelReading(channel, Quality.CORRUPT, detail=detail)
    found: dict[str, float] = {}
    told: list[str] = []
    quality = Quality.GOOD
    for value in values:
        number = decode_value(value, fields)
        if isinstance(number, Implausible):
            told.append(number.detail)
            quality = Quality.IMPLAUSIBLE if value.quantity in PRIMARY else quality
        elif number is not None:
            found[value.quantity] = number
    return ChannelReading(channel, quality, Values(**found), "; ".join(told))


def _source(value: FieldValue, fields: Fields) -> tuple[str, str] | None:
    """Give the fields that ``value`` is taken from in this message, or None where none came."""
    return next(((source.plus, source.minus) for source in value.sources if source.plus in fields), None)


def decode_value(value: FieldValue, fields: Fields) -> float | Implausible | None:
    """Read one value [its quantity's unit]; None where it did not come or is told to be no value."""
    names = _source(value, fields)
    if names is None:
        return None
    plus, minus = names
    number = _number(value, plus, fields[plus])
    if minus in fields and isinstance(number, float):
        less = _number(value, minus, fields[minus])
        if not isinstance(less, float):
            return less
        number -= less
    if not isinstance(number, float):
        return number
    quantity = QUANTITIES[value.quantity]
    if not quantity.plausible(number):
        return Implausible(
            f"{quantity.name}: {plus} reads as {number:g} {quantity.unit}; "
            f"it must be from {quantity.low:g} to {quantity.high:g}"
        )
    return number


def _number(value: FieldValue, name: str, amounts: Sequence[Amount]) -> float | Implausible | None:
    """Give the number of one field in the quantity's unit."""
    if len(set(amounts)) > 1:
        return Implausible(f"{value.quantity}: {name} came {len(amounts)} times with different numbers")
    text, unit = amounts[0].text, amounts[0].unit or value.unit
    if text == NO_VALUE:
        return None
    if NUMBER.fullmatch(text) is None:
        return Implausible(f'{value.quantity}: {name} gives "{text[:_SHOWN]}", which is no number')
    if not unit and value.quantity not in UNPREFIXED:
        return Implausible(
            f"{value.quantity}: {name} came without a unit; give it in the map, "
            f'as in unit = "{QUANTITIES[value.quantity].unit}"'
        )
    by = exponent(unit, value.quantity) if unit else 0
    if by is None:
        return Implausible(f"{value.quantity}: {name} came in {unit[:_SHOWN]}, which is no unit of it")
    return float(Decimal(text).scaleb(by)) * value.scale  # decimal, so that 2.027 kW is 2027 W and no dust
