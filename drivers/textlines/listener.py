"""Listens for lines of text."""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

from drivers.clock import monotonic
from drivers.errors import Corrupt, Silent
from drivers.links.byte_stream import STALLED_S, empty
from drivers.listening.patience import Patience
from drivers.textlines.fields import fields_of
from drivers.textlines.lines import LONGEST, Lines

if TYPE_CHECKING:
    from drivers.bus.settings import BusSettings
    from drivers.fields.model import Fields
    from drivers.links.byte_stream import ByteStream

_LEAST_S = 2.0
"""No board is called silent sooner than this, however often it printed [s]."""


class TextListener:
    """Fulfils ``drivers.listening.listener.Listener`` for lines of text.

    Args:
        stream: the open stream.
        settings: its bus.
        fields: the fields that somebody wants; a line with none of them is passed over.
        check_needed: lines without a check are refused.

    """

    whole = False

    def __init__(
        self, stream: ByteStream, settings: BusSettings, fields: frozenset[str], *, check_needed: bool = False
    ) -> None:
        self._stream, self._where = stream, settings.where
        self._wanted, self._check_needed = fields, check_needed
        self._names = tuple(name.rpartition(".")[2].encode() for name in fields)
        self._garbled: Corrupt | None = None  # the last line that was neither whole nor surely ours
        self._lines = Lines()
        self._waiting: deque[bytes] = deque()
        now_s = monotonic()
        self._patience = Patience(min(settings.timeout_s, _LEAST_S), settings.timeout_s, now_s)
        self._looked_s = now_s
        self._other = 0  # lines without a wanted field since the last message

    def listen(self, wait_s: float) -> Fields | None:
        """Give the next message; see ``Listener``."""
        if not self._waiting:
            self._receive(wait_s)
        while self._waiting:
            fields = self._fields(self._waiting.popleft())
            if fields is not None:
                self._patience.heard(monotonic())
                self._other, self._garbled = 0, None
                return fields
        if self._patience.over(monotonic()):
            self._patience.restart(monotonic())
            garbled, self._garbled = self._garbled, None
            raise garbled or Silent(self._why_silent())
        return None

    def close(self) -> None:
        """Close the stream."""
        self._stream.close()

    def _receive(self, wait_s: float) -> None:
        stalled = monotonic() - self._looked_s > STALLED_S
        came = self._stream.read(wait_s)
        self._looked_s = monotonic()
        if stalled:
            empty(self._stream)
            self._lines.restart()
            return
        self._waiting.extend(self._lines.feed(came))
        if self._lines.thrown:
            self._lines.thrown = 0
            raise Corrupt(f"{self._where}: more than {LONGEST} bytes came without a line end; check the baud rate")

    def _fields(self, line: bytes) -> Fields | None:
        """Read one line; None where it has nothing that is wanted."""
        try:
            fields = fields_of(line.decode("utf-8"), check_needed=self._check_needed)
        except UnicodeDecodeError:
            raise Corrupt(f"{self._where}: what came is no text; check the baud rate, or the wire") from None
        except Corrupt as corrupt:
            told = Corrupt(f"{self._where}: {corrupt.detail}")
            if any(name in line for name in self._names):
                raise told from None
            self._garbled = told  # perhaps a message of the board's own; told where nothing better comes
            return None
        if fields is None or self._wanted.isdisjoint(fields):
            self._other += 1
            return None
        return fields

    def _why_silent(self) -> str:
        if self._other:
            wanted = ", ".join(sorted(self._wanted)[:6])
            return f"{self._where}: {self._other} lines came, none with a field of the map ({wanted})"
        return f"{self._where}: no line came for {self._patience.wait_s:.0f} s"
