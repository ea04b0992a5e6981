"""Numbers on the command line."""

from __future__ import annotations

from math import isnan
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from click import Context, Parameter


class Number(click.FloatRange):
    """A number within a range; "nan", which no comparison with the range refuses, is refused too."""

    def convert(self, value: Any, param: Parameter | None, ctx: Context | None) -> float:
        """Read ``value``."""
        if isinstance(value, str) and "," in value:
            self.fail(f"{value!r}: write a decimal point, as 20.5, and nothing between thousands.", param, ctx)
        number = float(super().convert(value, param, ctx))
        if isnan(number):
            self.fail(f"{value!r} is no number.", param, ctx)
        return number


class Numbers(click.ParamType[tuple[int, ...]]):
    """Whole numbers as ``1-16,50``: the order is kept, each counts once."""

    name = "numbers"

    def __init__(self, low: int, high: int) -> None:
        self._low, self._high = low, high

    def convert(self, value: Any, param: Parameter | None, ctx: Context | None) -> tuple[int, ...]:
        """Read ``value``."""
        if isinstance(value, tuple):
            return value
        found: list[int] = []
        for part in str(value).split(","):
            first, _, last = part.strip().partition("-")
            if not first.isdigit() or not (last or first).isdigit():
                self.fail(f"{value!r}: write numbers and ranges with commas between, as 1-16,50.", param, ctx)
            begin, end = int(first), int(last or first)
            if not self._low <= begin <= end <= self._high:
                self.fail(f"{part!r} must rise and lie from {self._low} to {self._high}.", param, ctx)
            found += range(begin, end + 1)
        return tuple(dict.fromkeys(found))


class Percent(click.ParamType[float]):
    """A part as ``1%`` or ``0.01``; gives the part."""

    name = "percent"

    def convert(self, value: Any, param: Parameter | None, ctx: Context | None) -> float:
        """Read ``value``."""
        text = str(value).strip()
        try:
            part = float(text.removesuffix("%")) / (100 if text.endswith("%") else 1)
        except ValueError:
            part = -1.0
        if not 0 < part < 1:
            self.fail(f"{value!r}: write a part between 0 and 100 %, as 1%.", param, ctx)
        return part
