"""What is on at one circuit, as far as its steps have told, and how that reacts to volts.

Each load is a complex power at nominal volts, P + jQ, and follows the volts by the exponent of its kind: 0 for what
draws constant power (electronic supplies, turning motors), 2 for a resistance, 1.53 for a filament (I ~ V^0.53, SPIE
Field Guide FG11, page 21). What nobody planned is taken in the middle, at 1, and known to be vague.
"""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass
from math import acos, tan
from types import MappingProxyType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from monitor.show.model import Circuit, LoadKind

EXPONENTS: Mapping[LoadKind, float] = MappingProxyType(
    {"electronic": 0.0, "motor": 0.0, "resistive": 2.0, "tungsten": 1.53}
)
_VAGUE = 1.0  # exponent of what nobody planned
_MOST_UNKNOWN = 12


@dataclass(frozen=True, slots=True)
class Planned:
    """One planned load: power of one piece at nominal volts [W + j var], exponent, how many pieces, and its kind."""

    name: str
    power: complex
    exponent: float
    count: int
    kind: LoadKind


@dataclass(frozen=True, slots=True)
class Unknown:
    """Something on that no plan explains.

    Attributes:
        power: at nominal volts [W + j var].
        maybe_planned: it was on before anything was known, or came in a gap or a fade: planned loads may be in it.

    """

    power: complex
    maybe_planned: bool = False


class OnLoads:
    """The loads of one circuit.

    Args:
        circuit: with its planned loads.

    Attributes:
        planned: in the file's order; loads of one name and watts are one.
        on: pieces on, by index of ``planned``.
        size: power of one piece that is on, as measured [W + j var], by index of ``planned``.
        unknown: what else is on.
        by_amps: levels are amps times nominal volts, not watts.
        warming: what came on last did not draw all of its watts yet.

    """

    __slots__ = ("_sums", "by_amps", "on", "planned", "size", "unknown", "vague", "warming")

    def __init__(self, circuit: Circuit) -> None:
        self.planned = _planned(circuit)
        self.on = [0] * len(self.planned)
        self.size = [load.power for load in self.planned]
        self.unknown: list[Unknown] = []
        self.by_amps = False
        self.vague = 0.0
        self.warming = False
        self._sums: dict[float, complex] = {}
        self.changed()

    def level(self, share: float) -> float:
        """Give what is drawn at a share of nominal volts: watts, or amps times nominal volts."""
        total = self.drawn(share)
        return abs(total) / share if self.by_amps else total.real

    def drawn(self, share: float) -> complex:
        """Give the complex power drawn at a share of nominal volts [W + j var]."""
        return sum((power * share**exponent for exponent, power in self._sums.items()), 0j)

    def copy(self) -> OnLoads:
        """Give an independent copy."""
        other = copy(self)
        other.on, other.size, other.unknown = list(self.on), list(self.size), list(self.unknown)
        return other

    def key(self) -> tuple[object, ...]:
        """Give what tells one state from another."""
        return (*self.on, *(complex(round(item.power.real, -1), round(item.power.imag, -1)) for item in self.unknown))

    def clear(self) -> None:
        """Take everything as off."""
        self.on = [0] * len(self.planned)
        self.unknown.clear()
        self.changed()

    def switch(self, index: int, pieces: int, scale: float = 1.0) -> None:
        """Put pieces of a planned load on, or off below 0; ``scale`` is their measured size in planned ones."""
        before, after = self.on[index], self.on[index] + pieces
        if pieces > 0:
            fresh = self.planned[index].power * min(max(scale, 0.8), 1.25)
            self.size[index] = (before * self.size[index] + pieces * fresh) / after
        self.on[index] = max(0, after)
        self.changed()

    def appear(self, power: complex, *, maybe_planned: bool) -> None:
        """Put on what no plan explains."""
        self.unknown.append(Unknown(power, maybe_planned))
        if len(self.unknown) > _MOST_UNKNOWN:
            oldest, *rest = self.unknown
            self.unknown = [Unknown(oldest.power + rest[0].power, maybe_planned=True), *rest[1:]]
        self.changed()

    def vanish(self, index: int, power: complex | None = None) -> None:
        """Take an unknown off, or only a part of its power."""
        was = self.unknown.pop(index)
        if power is not None and was.power.real > 1.1 * power.real:
            self.unknown.insert(index, Unknown(was.power - power, was.maybe_planned))
        self.changed()

    def changed(self) -> None:
        """Work out the sums anew."""
        sums: dict[float, complex] = {}
        for load, count, size in zip(self.planned, self.on, self.size, strict=True):
            if count:
                sums[load.exponent] = sums.get(load.exponent, 0j) + count * size
        loose = sum((item.power for item in self.unknown), 0j)
        if loose:
            sums[_VAGUE] = sums.get(_VAGUE, 0j) + loose
        self._sums = sums
        self.vague = abs(loose)


def _planned(circuit: Circuit) -> tuple[Planned, ...]:
    found: dict[tuple[str, float, float, LoadKind], int] = {}
    for load in circuit.load:
        key = (load.name, load.watts, load.power_factor, load.kind)
        found[key] = found.get(key, 0) + load.count
    return tuple(
        Planned(name, complex(watts, watts * tan(acos(min(factor, 1.0)))), EXPONENTS[kind], count, kind)
        for (name, watts, factor, kind), count in found.items()
        if count > 0 and watts > 0
    )
