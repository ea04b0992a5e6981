"""Which readings leave a gap in the log; pure.

A gap is a run of readings of one point that are not good, for one reason: it begins with the first of them and ends
with the first reading after them that is good or fails for another reason. Two more reasons stand for time without
any reading, from the last reading before to the first after:

- ``not-logging``: the logger did not run, or had no reading to keep for longer than ``hold_ms``;
- ``clock-step``: the computer's clock was set forward, so the log's time jumped (or the computer slept meanwhile).

No value and no energy is ever counted across a gap.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from drivers.reading import Quality
from monitor.log.timeline import STEP_MS

if TYPE_CHECKING:
    from monitor.engine.reading import Reading
    from monitor.show.model import Point

NOT_LOGGING = "not-logging"
CLOCK_STEP = "clock-step"


@dataclass(frozen=True, slots=True)
class Gap:
    """Time without good readings at one point.

    Attributes:
        point: where.
        begin_ms: on the log's clock.
        end_ms: on the log's clock; None while it lasts.
        reason: a ``Quality`` other than good, ``NOT_LOGGING`` or ``CLOCK_STEP``.
        detail: plain words.

    """

    point: Point
    begin_ms: int
    end_ms: int | None
    reason: str
    detail: str = ""

    def ended(self, end_ms: int) -> Gap:
        """Give the same gap with its end."""
        return Gap(self.point, self.begin_ms, end_ms, self.reason, self.detail)


@dataclass(frozen=True, slots=True)
class Trail:
    """What the last reading of a point leaves for the next one.

    Attributes:
        last_ms: its time on the log's clock.
        mono_s: its monotonic clock [s]; None where it was written by an earlier run of the logger.
        gap: the gap that lasts, or None.

    """

    last_ms: int
    mono_s: float | None
    gap: Gap | None = None


def follow(before: Trail | None, reading: Reading, hold_ms: int) -> tuple[Trail, list[Gap]]:
    """Give the point's new trail, and the gaps that began or ended with ``reading``.

    Args:
        before: the point's trail so far; None for its first reading.
        reading: the next one, later than ``before``.
        hold_ms: longest time from one good reading to the next that still counts as unbroken [ms].

    """
    changed: list[Gap] = []
    lasting = before.gap if before else None
    if before and (hole := _hole(before, reading, hold_ms)):
        if lasting:
            changed.append(lasting.ended(before.last_ms))
            lasting = None
        changed.append(hole)
    reason = None if reading.quality is Quality.GOOD else reading.quality.value
    if lasting and lasting.reason != reason:
        changed.append(lasting.ended(reading.time_ms))
        lasting = None
    if reason and not lasting:
        lasting = Gap(reading.point, reading.time_ms, None, reason, reading.detail)
        changed.append(lasting)
    return Trail(reading.time_ms, reading.mono_s, lasting), changed


def _hole(before: Trail, reading: Reading, hold_ms: int) -> Gap | None:
    """Give the time without any reading between the two, if there was such."""
    moved_ms = reading.time_ms - before.last_ms
    if before.mono_s is None:
        reason, detail = NOT_LOGGING, "the logger was not running"
    elif moved_ms - (reading.mono_s - before.mono_s) * 1000.0 > STEP_MS:
        reason, detail = CLOCK_STEP, f"the log's time jumped by {moved_ms / 1000:.0f} s between two readings"
    elif moved_ms > hold_ms and before.gap is None:
        reason, detail = NOT_LOGGING, f"no reading was kept for {moved_ms / 1000:.0f} s"
    else:
        return None
    return Gap(reading.point, before.last_ms, reading.time_ms, reason, detail)
