"""The past, as screens may ask for it: from the log, a stretch at a time, never all of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol


@dataclass(frozen=True, slots=True)
class Sample:
    """One moment, or one minute, of a circuit or of the source; None is a gap, never bridged.

    Attributes:
        time_ms: when it began, on the log's clock.
        amps: lowest, mean, highest [A]; all the same for a single reading.
        volts: lowest, mean, highest [V].
        hertz: lowest, mean, highest [Hz].

    """

    time_ms: int
    amps: tuple[float, float, float] | None
    volts: tuple[float, float, float] | None
    hertz: tuple[float, float, float] | None = None


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the log: an event, an alarm's change or a note.

    Attributes:
        time_ms: on the log's clock.
        kind: ``event``, ``alarm`` or ``note``.
        where: the place it is about, or empty.
        who: or empty.
        text: one plain sentence.

    """

    time_ms: int
    kind: str
    where: str
    who: str
    text: str


@dataclass(frozen=True, slots=True)
class Place:
    """Room for a load at one circuit.

    Attributes:
        circuit: its id.
        fits: None where nothing could be checked.
        room_amps: least room on the way [A], or None.
        limited_by: which place limits, or None.
        not_checked: places without a live value or a rating.

    """

    circuit: str
    fits: bool | None
    room_amps: float | None
    limited_by: str | None
    not_checked: tuple[str, ...]


class History(Protocol):
    """What a feed can tell of the past and of room; may raise nothing and blocks for a fraction of a second at most."""

    def samples(self, circuit: str, begin_ms: int, end_ms: int) -> tuple[Sample, ...]:
        """Give a circuit's readings, or its minutes where the stretch is longer than 20 minutes; oldest first.

        For a circuit metered leg by leg, and for ``source``: the highest amps and lowest volts of its legs.
        """

    def entries(self, limit: int) -> tuple[Entry, ...]:
        """Give the newest lines of the log, at most ``limit``, newest first."""

    def room(self, watts: float, power_factor: float) -> tuple[Place, ...]:
        """Say for every circuit whether a load [W] fits now, at measured values, most room first."""
