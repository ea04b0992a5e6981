"""From values to the registers a meter would show: the inverse of ``decode``, for virtual meters and for tests."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from drivers.maps.decode import shift
from drivers.maps.encodings import encode, is_float, to_registers
from drivers.reading import Values

if TYPE_CHECKING:
    from collections.abc import Mapping

    from drivers.maps.model import MeterMap, Table, Value

_NOTHING = Values()


def encode_image(
    meter_map: MeterMap, channels: Mapping[str, Values], exponent: int = -1
) -> dict[tuple[Table, int], int]:
    """Write the values of ``channels`` into registers, by table and address from 0.

    Args:
        meter_map: the map.
        channels: values of each channel; a channel or value left out is "no value".
        exponent: the power of ten that goes into every ``scale_from`` register.

    Raises:
        ValueError: a value does not fit its encoding, or is to be "no value" where the map has no pattern for it.

    """
    image: dict[tuple[Table, int], int] = {}
    for value in meter_map.values:
        wanted: float | None = getattr(channels.get(value.channel, _NOTHING), value.quantity)
        for offset, register in enumerate(encode_value(value, wanted, exponent)):
            image[value.table, value.address + offset] = register
        if value.scale_from is not None:
            image[value.table, value.scale_from] = encode(exponent, "i16", value.word_order)[0]
    return image


def encode_value(value: Value, wanted: float | None, exponent: int = -1) -> tuple[int, ...]:
    """Write one value [its quantity's unit], rounded to what the encoding can hold; ``exponent`` as above.

    Raises:
        ValueError: as above.

    """
    if wanted is None:
        return _no_value(value)
    raw = wanted / value.scale
    if value.scale_from is not None:
        raw = shift(raw, -exponent)
    if is_float(value.encoding):
        return encode(raw, value.encoding, value.word_order)
    if not math.isfinite(raw):
        raise ValueError(f"{wanted!r} does not fit {value.encoding}")
    return encode(round(raw), value.encoding, value.word_order)


def _no_value(value: Value) -> tuple[int, ...]:
    if value.missing:
        return to_registers(value.missing[0], value.encoding, value.word_order)
    if is_float(value.encoding):
        return encode(math.nan, value.encoding, value.word_order)
    raise ValueError(f"{value.channel} {value.quantity}: the map has no pattern for no value")
