"""The one glossary of what a meter measures: name, unit, plausible range.

A value outside its plausible range is refused, never clipped. The ranges are judgements for
low-voltage temporary power (common practice, no source): wide enough for any set, narrow enough to
catch a wrong encoding, word order or scale.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping


@dataclass(frozen=True, slots=True)
class Quantity:
    """One measured quantity.

    Attributes:
        name: the name used in register maps, readings, the log and CSV files.
        unit: SI unit symbol.
        low: lowest plausible value [unit].
        high: highest plausible value [unit].

    """

    name: str
    unit: str
    low: float
    high: float

    def plausible(self, value: float) -> bool:
        """Say whether ``value`` [unit] can be a real reading; NaN and infinities never are."""
        return self.low <= value <= self.high


QUANTITIES: Mapping[str, Quantity] = MappingProxyType(
    {
        q.name: q
        for q in (
            Quantity("volts", "V", 0.0, 1_000.0),
            Quantity("amps", "A", -0.5, 6_000.0),  # a little below 0: zero error of a current input
            Quantity("hertz", "Hz", 0.0, 100.0),
            Quantity("watts", "W", -5_000_000.0, 5_000_000.0),  # negative: a reversed transformer
            Quantity("volt_amperes", "VA", -500.0, 5_000_000.0),
            Quantity("vars", "var", -5_000_000.0, 5_000_000.0),
            Quantity("power_factor", "1", -1.01, 1.01),
            Quantity("watt_hours", "Wh", -1e12, 1e12),
        )
    }
)
