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
        number = float(super().convert(value, param, ctx))
        if isnan(number):
            self.fail(f"{value!r} is no number.", param, ctx)
        return number
