"""Bytes to whole lines: what came before the first line end, and what is too long, is never part of a line."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

LONGEST = 4_096
"""Bytes of one line; more is no line (a judgement: a line of forty channels has about two thousand)."""
_ENDS = re.compile(rb"[\r\n]+")


@dataclass(slots=True)
class Lines:
    """Cuts a stream of bytes at its line ends (CR, LF or both).

    Attributes:
        thrown: bytes thrown away of lines that were too long, since last asked.

    """

    thrown: int = 0
    _rest: bytearray = field(default_factory=bytearray)
    _in_step: bool = False  # a line end came, so that what follows is a line's beginning

    def feed(self, came: bytes) -> list[bytes]:
        """Take bytes and give the lines that they complete, without their ends."""
        self._rest += came
        *whole, rest = _ENDS.split(bytes(self._rest))
        self._rest = bytearray(rest)
        if whole and not self._in_step:
            del whole[0]
            self._in_step = True
        if len(self._rest) > LONGEST:
            self.thrown += len(self._rest)
            self._rest.clear()
            self._in_step = False
        return [line for line in whole if line]

    def restart(self) -> None:
        """Forget everything: the stream was interrupted."""
        self._rest.clear()
        self._in_step = False
