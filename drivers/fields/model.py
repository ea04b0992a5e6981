"""A field map as frozen data: which field of a meter's messages is which quantity of which channel."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Amount:
    """What a message gives for one field, as it stands there.

    Attributes:
        text: the number, or what stands in its place.
        unit: the unit beside it, or empty.

    """

    text: str
    unit: str = ""


Fields = Mapping[str, tuple[Amount, ...]]
"""One message: every amount of each field, by the field's name."""


@dataclass(frozen=True, slots=True)
class Source:
    """One way to get a quantity.

    Attributes:
        plus: name of the field that gives it.
        minus: name of a field to take off where it is there (power given back, say), or empty.

    """

    plus: str
    minus: str = ""


@dataclass(frozen=True, slots=True)
class FieldValue:
    """One quantity of one channel.

    Attributes:
        channel: the channel's name.
        quantity: a name of ``drivers.quantities.QUANTITIES``.
        sources: where it comes from; the first whose field is in the message counts.
        unit: unit of a number that has none beside it; empty is the quantity's own.
        scale: further factor to the quantity's unit.
        optional: a message without it is whole all the same.

    """

    channel: str
    quantity: str
    sources: tuple[Source, ...]
    unit: str = ""
    scale: float = 1.0
    optional: bool = False


@dataclass(frozen=True, slots=True)
class FieldMap:
    """A whole field map.

    Attributes:
        name: for people.
        source: which document the map was made from; never empty.
        protocol: ``text`` or ``iec62056-21``.
        values: every value, in the file's order.
        checksum: text lines without a checksum are refused.

    """

    name: str
    source: str
    protocol: str
    values: tuple[FieldValue, ...]
    checksum: bool = False

    @property
    def channels(self) -> tuple[str, ...]:
        """Names of the channels, in the file's order."""
        return tuple(dict.fromkeys(value.channel for value in self.values))

    @property
    def fields(self) -> frozenset[str]:
        """Names of all fields that are looked at."""
        return frozenset(
            name for value in self.values for source in value.sources for name in (source.plus, source.minus) if name
        )
