"""What a test of a fault measured, carried in pytest's report; ``tests/bench/fault_table.py`` prints the table."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Self

if TYPE_CHECKING:
    from collections.abc import Callable

KEY = "fault"


@dataclass(frozen=True, slots=True)
class Measured:
    """One row of the table.

    Attributes:
        fault: what goes wrong.
        how: how it was injected.
        times: how often it was tried.
        lost: how many were lost.
        of: of how many.
        what: was counted.
        recovered_s: the longest time until things went on [s]; None where nothing has to.

    """

    fault: str
    how: str
    times: int
    lost: int
    of: int
    what: str
    recovered_s: float | None = None

    def keep(self, record_property: Callable[[str, object], None]) -> None:
        """Put it into the report of the running test."""
        record_property(KEY, json.dumps(asdict(self)))

    @classmethod
    def kept(cls, text: str) -> Self:
        """Give what was put there."""
        return cls(**json.loads(text))

    def also(self, other: Measured) -> Measured:
        """Give the row of both, of one fault injected in one way."""
        within = [s for s in (self.recovered_s, other.recovered_s) if s is not None]
        times, lost, of = self.times + other.times, self.lost + other.lost, self.of + other.of
        return Measured(self.fault, self.how, times, lost, of, self.what, max(within, default=None))

    def row(self) -> str:
        """Give the row in Markdown."""
        within = "" if self.recovered_s is None else f"{self.recovered_s:.1f} s"
        return f"| {self.fault} | {self.how} | {self.times:,} | {self.lost:,} of {self.of:,} {self.what} | {within} |"
