"""What can go wrong between us and a meter, in two kinds, with fields and never text to parse.

``OtherSideSaid``: the meter answered, and the answer is a refusal. ``WeNoticed``: we saw that something
is missing or wrong. Exceptions of pyserial, minimalmodbus, pymodbus and the operating system are
translated into these where a link meets them, and nowhere else.
"""

from __future__ import annotations

from dataclasses import dataclass

from drivers.reading import Quality


@dataclass(eq=False)
class LinkError(Exception):
    """Abstract base.

    Attributes:
        detail: plain words for a person.

    """

    detail: str
    quality = Quality.CORRUPT

    def __str__(self) -> str:
        """Give the plain words."""
        return self.detail


class OtherSideSaid(LinkError):
    """The meter answered with a refusal."""


class WeNoticed(LinkError):
    """Something is missing or wrong on our side of the wire."""


@dataclass(eq=False)
class Refused(OtherSideSaid):
    """A Modbus exception reply.

    Attributes:
        code: the exception code of the reply (1 to 255), or 0 where the link can't tell it.

    """

    code: int = 0
    quality = Quality.REFUSED


class Silent(WeNoticed):
    """Nothing came in time: a late reply may still be under way."""

    quality = Quality.SILENT


@dataclass(eq=False)
class Corrupt(WeNoticed):
    """Bytes came that are no whole frame, or a frame that answers another question.

    Attributes:
        sender: unit number at the place where a frame has it, or None where fewer bytes came than a reply has.

    """

    sender: int | None = None
    quality = Quality.CORRUPT


class Suspect(WeNoticed):
    """A whole frame came that may answer an earlier question."""

    quality = Quality.SUSPECT


class LinkDown(WeNoticed):
    """The port or the connection itself is gone; reopen before the next read."""

    quality = Quality.SILENT


@dataclass(eq=False)
class PortProblem(Exception):
    """A port that can't be opened at all: missing, held by another process, no permission.

    Attributes:
        port: what was to be opened.
        reason: ``missing``, ``in-use``, ``no-permission``, ``unreachable`` or ``other``.
        detail: plain words for a person: what, where, what to do.

    """

    port: str
    reason: str
    detail: str

    def __str__(self) -> str:
        """Give the plain words."""
        return self.detail
