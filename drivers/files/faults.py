"""Faults of a file: file, line, key, what was found and what would do; always all of them together."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault of one file.

    Attributes:
        file: the file's name as the user gave it.
        line: from 1, or None where the fault has no place.
        key: dotted path of the key, counting tables of a list from 1: ``circuit[2].breaker.amps``; or empty.
        text: what was found and what would do.

    """

    file: str
    line: int | None
    key: str
    text: str

    def __str__(self) -> str:
        """Give one line for a person."""
        place = self.file if self.line is None else f"{self.file}:{self.line}"
        return f"{place}: {self.key}: {self.text}" if self.key else f"{place}: {self.text}"


class FileFaults(Exception):
    """A file that can't be used, with every fault found in it.

    Attributes:
        faults: at least one, in the order of their lines.

    """

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        self.faults = tuple(sorted(faults, key=lambda fault: (fault.file, fault.line or 0)))
        super().__init__("\n".join(map(str, self.faults)))
