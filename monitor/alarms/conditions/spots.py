"""A circuit, a place's metered legs or one of them: when it had power last, when that went, what it carried."""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

from monitor.alarms.conditions.known import highest, highest_amps
from monitor.alarms.conditions.tracks import GONE, POWERED

if TYPE_CHECKING:
    from collections.abc import Sequence

    from monitor.alarms.conditions.tracks import Track

TOGETHER_MS = 4000  # what goes within this time may have one cause: meters are read one after another
REMEMBERED_MS = 600_000  # how long volts and amps of before a silence still count as "before"
LAST_SAMPLES = 2  # of amps before the volts went: a meter's volts and amps needn't be of one instant


class Spot:
    """A circuit, a place's metered legs, or one of them: when it had power last, and what it carried.

    Args:
        label: for people.
        tracks: its points.
        least_amps: less counts as no load [A].

    """

    def __init__(self, label: str, tracks: Sequence[Track], least_amps: float) -> None:
        self.label = label
        self.tracks = tracks
        self.least_amps = least_amps
        self.powered = False
        self.known = False
        self.live_ms: int | None = None
        self.gone_ms: int | None = None
        self.down_ms: int | None = None
        self.amps: deque[float | None] = deque(maxlen=LAST_SAMPLES)
        self.volts = 0.0

    def look(self, time_ms: int) -> None:
        """Take one moment."""
        most = highest([track.volts for track in self.tracks])
        self.known = most is not None
        if most is None:
            return
        nominal = self.tracks[0].nominal
        self.volts = most
        self.powered = most >= POWERED * nominal
        if self.powered:
            self.live_ms, self.gone_ms, self.down_ms = time_ms, None, None
            if self.tracks[0].new:
                self.amps.append(highest_amps(self.tracks))
        elif self.live_ms is not None:
            at_ms = time_ms if time_ms - self.live_ms <= REMEMBERED_MS else 0
            self.down_ms = at_ms if self.down_ms is None else self.down_ms
            if most < GONE * nominal and self.gone_ms is None:
                self.gone_ms = at_ms

    @property
    def speaks(self) -> bool:
        """Whether its volts are read and were seen standing once: before that, nothing tells whether they went."""
        return self.known and self.live_ms is not None

    @property
    def loaded(self) -> bool:
        """Whether it carried load before it went; where its amps aren't measured, it may have."""
        return any(amps is None or amps >= self.least_amps for amps in self.amps)

    @property
    def before(self) -> str:
        """Say what it carried before."""
        known = [amps for amps in self.amps if amps is not None]
        return f"{max(known):.1f} A before" if known else "its amps are not measured"

    def went(self, time_ms: int) -> bool:
        """Say whether its volts went within the last ``TOGETHER_MS``, to nothing."""
        return self.gone_ms is not None and time_ms - self.gone_ms <= TOGETHER_MS

    def sank(self, time_ms: int) -> bool:
        """Say whether its volts went within that time, perhaps not to nothing: other legs may feed back."""
        return self.down_ms is not None and time_ms - self.down_ms <= TOGETHER_MS
