"""The meter models of SunSpec as data, and the values of one model at its place in a meter."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from drivers.maps.encodings import WORDS
from drivers.maps.model import Table, Value

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

NOT_IMPLEMENTED: Mapping[str, tuple[int, ...]] = {
    "int16": (0x8000,),
    "uint16": (0xFFFF,),
    "uint32": (0xFFFF_FFFF,),
    "acc32": (0,),
    "uint64": (0xFFFF_FFFF_FFFF_FFFF,),
    "float32": (0x7FC0_0000, 0xFFC0_0000),
}
"""What a point holds that the meter does not implement. Source: SunSpec Device Information Model Specification, from
memory; held in a test against a library's copy. A float's quiet NaN is taken with either sign."""
NO_SCALE = 0x8000
"""The same for a scale factor."""
CHANNELS = ("l1", "l2", "l3", "total")

_ENCODINGS: Mapping[str, str] = {
    "int16": "i16",
    "uint16": "u16",
    "uint32": "u32",
    "acc32": "u32",
    "uint64": "u64",
    "float32": "float32",
}


@dataclass(frozen=True, slots=True)
class Place:
    """One point of a model.

    Attributes:
        at: its first register, from the model's ID register.
        type: SunSpec's name of the type.
        scale: register of its scale factor, counted likewise, or None.

    """

    at: int
    type: str
    scale: int | None = None

    @property
    def end(self) -> int:
        """The first register behind the point and its scale factor."""
        return max(self.at + WORDS[_ENCODINGS[self.type]], (self.scale or 0) + 1)


@dataclass(frozen=True, slots=True)
class Family:
    """Models that share one layout.

    Attributes:
        models: legs of each model, by its number.
        points: by name.
        legs: names of the points of each leg, by quantity.
        whole: the same for all legs together; volts are leg to neutral.
        line_volts: name of the mean volts from leg to leg.
        legs_from: register (from the ID) that holds the number of legs less one, or None.

    """

    models: Mapping[int, int]
    points: Mapping[str, Place]
    legs: tuple[Mapping[str, str], ...]
    whole: Mapping[str, str]
    line_volts: str
    legs_from: int | None = None

    @property
    def end(self) -> int:
        """The first register behind everything that is read."""
        return max(place.end for place in self.points.values())


@cache
def families() -> tuple[Family, ...]:
    """Load the layouts that come with this package."""
    data = tomllib.loads(files(__package__).joinpath("models.toml").read_text(encoding="utf-8"))
    return tuple(_family(table) for table in data["family"])


def _family(table: Mapping[str, Any]) -> Family:
    return Family(
        models={int(number): legs for number, legs in table["models"].items()},
        points={name: Place(**place) for name, place in table["points"].items()},
        legs=tuple(table["legs"]),
        whole=table["whole"],
        line_volts=table["line_volts"],
        legs_from=table.get("legs_from"),
    )


def family_of(model: int) -> Family | None:
    """Give the layout of a meter model, or None where it is none."""
    return next((family for family in families() if model in family.models), None)


def values_of(model: int, at: int, registers: Sequence[int], copy: int = 1) -> Iterator[Value]:
    """Give the values of one model.

    Where it has one leg, that leg and the total are the same, and each quantity is taken from the first of its two
    points that the meter implements. Where it has more, ``total`` has volts from leg to leg, and no amps: the sum
    over legs flows in no conductor.

    Args:
        model: its number.
        at: address of its ID register.
        registers: the model as read once, from its ID register on.
        copy: from 2 on for further models of the same number, whose channels are called ``l1-2`` and so on.

    """
    family = family_of(model)
    if family is None:
        return
    legs = _legs(family, model, registers)
    for channel, names in _channels(family, legs).items():
        for quantity, wanted in names.items():
            places = [family.points[name] for name in wanted if family.points[name].end <= len(registers)]
            if places:
                place = next((one for one in places if _implemented(one, registers)), places[0])
                yield _value(channel if copy == 1 else f"{channel}-{copy}", quantity, place, at)


def _legs(family: Family, model: int, registers: Sequence[int]) -> int:
    if family.legs_from is None or registers[family.legs_from] >= len(family.legs):
        return family.models[model]
    return registers[family.legs_from] + 1


def _channels(family: Family, legs: int) -> dict[str, dict[str, tuple[str, ...]]]:
    """Give the points of each channel's quantities, the best first."""
    if legs == 1:
        one: dict[str, tuple[str, ...]] = {q: (name, family.whole[q]) for q, name in family.legs[0].items()}
        return {"l1": one, "total": {q: tuple(reversed(names)) for q, names in one.items()}}
    channels: dict[str, dict[str, tuple[str, ...]]] = {
        name: {q: (point,) for q, point in points.items()}
        for name, points in zip(CHANNELS, family.legs[:legs], strict=False)
    }
    whole = {**family.whole, "volts": family.line_volts}
    return {**channels, "total": {q: (name,) for q, name in whole.items() if q != "amps"}}


def _implemented(place: Place, registers: Sequence[int]) -> bool:
    words = registers[place.at : place.at + WORDS[_ENCODINGS[place.type]]]
    bits = 0
    for word in words:
        bits = bits << 16 | word
    return bits not in NOT_IMPLEMENTED[place.type]


def _value(channel: str, quantity: str, place: Place, at: int) -> Value:
    return Value(
        channel,
        quantity,
        Table.HOLDING,
        at + place.at,
        _ENCODINGS[place.type],
        scale_from=None if place.scale is None else at + place.scale,
        missing=NOT_IMPLEMENTED[place.type],
        scale_missing=NO_SCALE if quantity == "hertz" else None,  # may be left out; the range tells a wrong scale
    )
