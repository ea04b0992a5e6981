"""What one screen's session knows besides its Snapshots: who sits there, and whether the bell is muted."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Mute:
    """The bell kept quiet on one screen.

    Attributes:
        until_ms: on the log's clock [ms].
        who: muted it.

    """

    until_ms: int
    who: str


@dataclass(frozen=True, slots=True)
class Session:
    """One screen's session at one moment.

    Attributes:
        who: the name that stands on requests; empty until it was asked for.
        mute: who keeps the bell quiet until when, or None where it rings.
        can_ask: whether anything can be asked of the logger from here.

    """

    who: str = ""
    mute: Mute | None = None
    can_ask: bool = True
