"""Registers as text: every encoding in every word order, side by side."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

from drivers.probe.ways import Way, orders_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from drivers.maps.model import Table

    Registers = Mapping[int, int]

_WIDE = 16  # characters of one number


def dump_lines(tables: Mapping[Table, Registers], encodings: Sequence[str]) -> Iterator[str]:
    """Give a block of lines for each table and encoding."""
    for table, registers in tables.items():
        if not registers:
            yield f"{table} registers: the meter gives none of these"
            continue
        for encoding in encodings:
            orders = orders_of(encoding)
            yield f"{table} registers as {encoding}"
            yield f"{'register':>8}  {'hex':<6}" + "".join(f"{order:>{_WIDE}}" for order in orders)
            for address, word in registers.items():
                cells = (_cell(Way(address, encoding, order).value(registers)) for order in orders)
                yield f"{address:>8}  0x{word:04X}" + "".join(f"{cell:>{_WIDE}}" for cell in cells)
            yield ""


def dump_json(tables: Mapping[Table, Registers]) -> dict[str, object]:
    """Give the raw registers by table and address."""
    return {table.value: {str(address): word for address, word in found.items()} for table, found in tables.items()}


def _cell(value: float | None) -> str:
    if value is None or not isfinite(value):
        return "-"
    text = str(int(value)) if float(value).is_integer() and abs(value) < 1e12 else f"{value:.6g}"  # noqa: PLR2004
    return text if len(text) < _WIDE else f"{value:.5g}"
