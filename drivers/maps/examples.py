"""A register map's examples: registers from the meter's document, held against what the map makes of them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from drivers.files.checked import nearest
from drivers.maps.blocks import ADDRESSES, spans
from drivers.maps.decode import Implausible, decode_value
from drivers.quantities import QUANTITIES

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from drivers.files.faults import Fault
    from drivers.files.located import LocatedToml, Path
    from drivers.maps.model import Value
    from drivers.maps.tables import ExampleTable, LayoutTable

RELATIVE_TOLERANCE = 1e-6
"""How far an example may be from what its registers decode to; binary32 carries seven digits."""
ABSOLUTE_TOLERANCE = 1e-9
"""The same where 0 is expected [the quantity's unit]."""


@dataclass(frozen=True, slots=True)
class Examples:
    """Looks at the examples of one file.

    Attributes:
        located: the file.
        layout: its ``[meter]``.
        values: its values that have no fault and are given once, by channel and quantity.
        complete: False where some value has a fault: an example that needs it is passed over.

    """

    located: LocatedToml
    layout: LayoutTable
    values: Mapping[tuple[str, str], Value]
    complete: bool

    def faults(self, index: int, example: ExampleTable) -> Iterator[Fault]:
        """Give the faults of the example at ``index`` of the file's list."""
        path: Path = ("example", index)
        base, count = self.layout.address_base, len(example.words)
        if not count:
            yield self.located.fault((*path, "words"), "is empty; give the registers from the meter's document")
        elif not base <= example.at <= ADDRESSES - count + base:
            text = f"found {example.at}; must be from {base} to {ADDRESSES - count + base} for {count} words"
            yield self.located.fault((*path, "at"), text)
        elif not any(example.expect.values()):
            text = "expects nothing; say what the words mean, as in expect = { ch1 = { volts = 120.0 } }"
            yield self.located.fault((*path, "expect"), text)
        else:
            for channel, expected in example.expect.items():
                yield from self._channel_faults((*path, "expect", channel), example, channel, expected)

    def _channel_faults(
        self, path: Path, example: ExampleTable, channel: str, expected: Mapping[str, float]
    ) -> Iterator[Fault]:
        channels = tuple(dict.fromkeys(name for name, _ in self.values))
        if self.complete and channel not in channels:
            yield self.located.fault(path, f'no [[value]] has the channel "{channel}"; {nearest(channel, channels)}')
            return
        for quantity, number in expected.items():
            text = self._mismatch(example, channel, quantity, number)
            if text:
                yield self.located.fault((*path, quantity), text)

    def _mismatch(self, example: ExampleTable, channel: str, quantity: str, expected: float) -> str:
        """Say in what the words don't mean ``expected``; empty where they do or it can't be told."""
        value = self.values.get((channel, quantity))
        if value is None:
            return self._unknown(channel, quantity)
        table, first = example.table or self.layout.table, example.at - self.layout.address_base
        image = {(table, first + offset): word for offset, word in enumerate(example.words)}
        for span in spans(value):
            for address in range(span.start, span.stop):
                if (value.table, address) not in image:
                    shown = address + self.layout.address_base
                    return f"needs {value.table} register {shown}, which is not among the example's words"
        return _difference(decode_value(value, image), expected, QUANTITIES[quantity].unit)

    def _unknown(self, channel: str, quantity: str) -> str:
        if quantity not in QUANTITIES:
            return f'no quantity is called "{quantity}"; {nearest(quantity, tuple(QUANTITIES))}'
        return f"no [[value]] gives {quantity} of {channel}" if self.complete else ""


def _difference(found: float | Implausible | None, expected: float, unit: str) -> str:
    if found is None:
        return 'the words hold the bits that "missing" names: no value'
    if isinstance(found, Implausible):
        return f"expected {expected:.9g} {unit}; {found.detail}"
    if math.isclose(found, expected, rel_tol=RELATIVE_TOLERANCE, abs_tol=ABSOLUTE_TOLERANCE):
        return ""
    return f"expected {expected:.9g} {unit}, but the words decode to {found:.9g} {unit}"
