"""Finds where a SunSpec meter keeps its models, and makes a register map of them. Asks nothing itself.

A SunSpec device starts with the marker "SunS" at one of three addresses; behind it stand its models, each with its
number and its length, up to the end model. Source: SunSpec Device Information Model Specification, from memory.
"""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from drivers.errors import Refused
from drivers.maps.model import Block, MeterMap, Table, Value
from drivers.sunspec.models import families, family_of, values_of

if TYPE_CHECKING:
    from collections.abc import Sequence

BASES = (40_000, 0, 50_000)
"""Where the marker may be, the most usual first."""
MARKER = (0x5375, 0x6E53)
"""The letters SunS."""
END = 0xFFFF
MOST_MODELS = 64
"""A chain longer than this is none (a judgement)."""
_ADDRESSES = 0x1_0000
_LONGEST_READ = 125
_LONGEST_PROBE = 60
_PROBES_EACH = 4
_SOURCE = "SunSpec model definitions"

Answer = tuple[int, ...] | Refused
Steps = Generator[Block, Answer, MeterMap]
"""Yields the block to read next, is sent its registers or the refusal, and returns the map."""


def _block(address: int, count: int) -> Block:
    return Block(Table.HOLDING, address, count)


@dataclass(slots=True)
class Search:
    """The search for one meter's models.

    Attributes:
        wanted: the channels that somebody wants, told as gaps until the map is known.
        lengths: how many registers the reads of this meter asked for so far.
        channels: all that the meter has, once it was found.

    """

    wanted: tuple[str, ...]
    lengths: set[int] = field(default_factory=set)
    channels: tuple[str, ...] = ()
    _first: int = 0

    def placeholder(self) -> MeterMap:
        """Give a map that stands for the meter until its own is known: it reads no more than the marker."""
        wanted = self.wanted or ("total",)
        return MeterMap(
            "SunSpec meter", _SOURCE, tuple(Value(c, "volts", Table.HOLDING, BASES[0], "u32") for c in wanted)
        )

    def probes(self) -> tuple[Block, ...]:
        """Give reads that bring the meter back in step while nobody knows where it answers: some at each place.

        Each has a length of its own, which no read of this meter had; the marker and the first model hold it.
        """
        lengths = (count for count in range(3, _LONGEST_PROBE + 1) if count not in self.lengths)
        return tuple(_block(base, count) for count, base in zip(lengths, BASES * _PROBES_EACH, strict=False))

    def steps(self) -> Steps:
        """Search once.

        Raises:
            Refused: the meter answers, and has no marker or no meter model; from the generator.

        """
        bases = BASES[self._first :] + BASES[: self._first]
        for base in bases:
            self._first = (BASES.index(base) + 1) % len(BASES)  # where this one stays silent, begin at the next
            answer = yield _block(base, len(MARKER))
            if answer == MARKER:
                found = yield from _walk(base + len(MARKER))
                self._first = BASES.index(base)
                return self._of_it(found)
        places = ", ".join(map(str, sorted(BASES)))
        raise Refused(
            f"answers, but has no SunSpec marker at holding register {places}: "
            "is it a plain Modbus meter? then give its bus a modbus protocol and the meter a map"
        )

    def _of_it(self, found: MeterMap) -> MeterMap:
        """Keep of a map what somebody wants."""
        self.channels = found.channels
        values = tuple(value for value in found.values if value.channel in self.wanted)
        if not values:
            raise Refused(self.absent())
        return replace(found, values=values)

    def absent(self) -> str:
        """Say that the meter lacks a channel that is wanted."""
        return f"this meter measures no such channel; it has {', '.join(self.channels)}"


def _walk(address: int) -> Steps:
    """Follow the chain of models from ``address`` on."""
    values: list[Value] = []
    met: list[int] = []
    while len(met) < MOST_MODELS and address + 1 < _ADDRESSES:
        head = yield _block(address, 2)
        if isinstance(head, Refused) or head[0] in (END, 0):
            break
        model, length = head
        met.append(model)
        family = family_of(model)
        if family is not None:
            count = min(length + 2, family.end, _LONGEST_READ)
            registers = yield _block(address, count)
            if isinstance(registers, Refused):
                raise registers
            if tuple(registers[:2]) != head:
                raise Refused("its models changed while they were read; it is looked at again")
            values.extend(values_of(model, address, registers, met.count(model)))
        address += length + 2
    return _map(values, met)


def _map(values: Sequence[Value], met: Sequence[int]) -> MeterMap:
    """Make the map; where two models give one channel's quantity (integers and floats), the first stands."""
    if not values:
        known = ", ".join(str(model) for family in families() for model in family.models)
        seen = ", ".join(map(str, met)) or "none"
        raise Refused(f"none of its SunSpec models is a meter (it has {seen}; read are {known})")
    first = {(value.channel, value.quantity): value for value in reversed(values)}
    unique = tuple(value for value in values if first[value.channel, value.quantity] is value)
    return MeterMap(f"SunSpec models {', '.join(map(str, met))}", _SOURCE, unique, _LONGEST_READ, _LONGEST_READ)
