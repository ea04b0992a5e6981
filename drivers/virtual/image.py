"""The registers a virtual meter shows: a register map filled with the values of the moment."""

from __future__ import annotations

from typing import TYPE_CHECKING

from drivers.maps.encode import encode_image

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from drivers.maps.model import MeterMap, Table
    from drivers.reading import Values
    from drivers.virtual.frames import Image


def one_meter(meter_map: MeterMap, values: Callable[[], Mapping[str, Values] | None], exponent: int = -1) -> Image:
    """Make the image of one meter, whatever unit number it is asked under.

    Registers between the map's lowest and highest that hold no value read as 0; outside there are none.

    Args:
        meter_map: which registers hold what.
        values: gives the values of each channel at this moment, or None while the meter is silent.
        exponent: power of ten in the map's ``scale_from`` registers.

    """

    def image(_unit: int, table: Table, address: int, count: int) -> list[int] | None:
        now = values()
        if now is None:
            return None
        registers = {at: word for (of, at), word in encode_image(meter_map, now, exponent).items() if of is table}
        if not registers or address < min(registers) or address + count - 1 > max(registers):
            raise LookupError(address)
        return [registers.get(at, 0) for at in range(address, address + count)]

    return image


def several_meters(images: Mapping[int, Image]) -> Image:
    """Put several meters on one bus, by unit number; any other unit is silent, as on a real line."""

    def image(unit: int, table: Table, address: int, count: int) -> list[int] | None:
        meter = images.get(unit)
        return None if meter is None else meter(unit, table, address, count)

    return image
