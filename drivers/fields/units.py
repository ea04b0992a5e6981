"""Units as meters write them beside a number: an SI prefix and the unit of a quantity."""

from __future__ import annotations

from drivers.quantities import QUANTITIES

_PREFIXES = {"": 0, "m": -3, "k": 3, "K": 3, "M": 6}
_SPELLINGS = {"1": ("", "1")}
UNPREFIXED = frozenset({"volts", "amps", "hertz", "power_factor"})
"""Quantities whose number may stand without a unit: a wrong prefix would leave the plausible range. Power and energy
are as often given in thousands, and both look right."""


def exponent(unit: str, quantity: str) -> int | None:
    """Give the power of ten from ``unit`` to the unit of ``quantity``, or None where it is no unit of it."""
    own = QUANTITIES[quantity].unit
    for spelling in _SPELLINGS.get(own, (own,)):
        head, tail = unit[: len(unit) - len(spelling)], unit[len(unit) - len(spelling) :]
        if tail.casefold() == spelling.casefold() and head in _PREFIXES:
            return _PREFIXES[head]
    return None


def examples(quantity: str) -> str:
    """Name units that would do for ``quantity``."""
    own = QUANTITIES[quantity].unit
    return "none: it has no unit" if own == "1" else f"{own}, k{own} or m{own}"
