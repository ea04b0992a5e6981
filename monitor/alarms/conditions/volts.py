"""Volts against the region's limits: at metered legs and circuits, and where several of them speak for a place.

What several speak for is low by the *highest* of them, high by the lowest: where even that one is beyond the limit all
of them are, and they are told as one. So both legs of a source that is set low are one alarm, and a box without a
meter is one where all its circuits are low.

Low volts are the run's where a metered place further up stands within the limits and more of what is missing is lost
between the two than is missing there already: then ``volts-far-low`` speaks, and ``volts-low`` leaves it to that.
"""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING

from monitor.alarms.conditions.nodes import SPEAKERS, Builder, Node
from monitor.electrical.supply import source_or_run

if TYPE_CHECKING:
    from collections.abc import Sequence

    from monitor.alarms.conditions.known import Known
    from monitor.alarms.conditions.layout import Layout
    from monitor.alarms.conditions.tracks import Track
    from monitor.alarms.model import Observation

_MARGIN = 1.01  # sentences are made within 1 % of a limit


class Volts:
    """Low, high and far-end volts."""

    def __init__(self, layout: Layout, known: Known) -> None:
        self._nodes = list(Builder(layout, known).nodes())
        self._delays = tuple(layout.show.setting(f"volts_{side}_on_seconds") for side in ("low", "high"))

    def observe(self, known: Known, out: list[Observation]) -> None:
        """Give the observations of every node."""
        low_s, high_s = self._delays  # count too: what is shorter than they are needs no ride
        ride = (_samples(known.ride_low_s - low_s), _samples(known.ride_high_s - high_s))
        for node in self._nodes:
            if node.branches:
                low, high = _together(node, ride)
            elif (volts := node.tracks[0].serving_volts) is None or ride == (1, 1):
                low = high = volts
            else:
                low, high = _ridden(node.tracks, ride)
            _low(node, low, out)
            _high(node, high, out)


def _samples(seconds: float) -> int:
    """Give how many samples, one a second, outlast a time [s]; one where there is none."""
    return max(0, ceil(seconds + 1)) + 1 if seconds > -1 else 1


def _ridden(tracks: Sequence[Track], ride: tuple[int, int]) -> tuple[float, float]:
    """Give the highest and lowest volts [V] of the last samples, as many as may ride through now."""
    recent = [list(track.recent_volts) for track in tracks]
    return max(max(volts[-ride[0] :]) for volts in recent), min(min(volts[-ride[1] :]) for volts in recent)


def _together(node: Node, ride: tuple[int, int]) -> tuple[float | None, float | None]:
    """Give the highest and lowest volts of those that speak for a place [V]; None from too few."""
    speaking, branches, settled = [], set(), []
    for track, branch in zip(node.tracks, node.branches, strict=True):
        volts = track.serving_volts
        if volts is not None:
            speaking.append(track)
            branches.add(branch)
            settled.append(volts)
    if len(branches) < SPEAKERS:
        return None, None
    return (max(settled), min(settled)) if ride == (1, 1) else _ridden(speaking, ride)


def _high(node: Node, volts: float | None, out: list[Observation]) -> None:
    watch = node.high
    if volts is None:
        out.append(watch.unknown)
    elif volts * _MARGIN < watch.limit:
        out.append(watch.at(volts))
    else:
        least = " at least" if node.branches else ""
        seen = f"{node.whom}{least} {volts:.1f} V; limit {watch.limit:.1f} V, nominal {node.nominal:.0f} V"
        out.append(watch.at(volts, seen))


def _low(node: Node, volts: float | None, out: list[Observation]) -> None:
    watch, far = node.low, node.far
    if volts is None:
        out += (watch.unknown, far.unknown) if far else (watch.unknown,)
    elif volts > watch.limit * _MARGIN:
        out += (watch.at(volts), far.at(volts)) if far else (watch.at(volts),)
    else:
        _beyond(node, volts, out)


def _beyond(node: Node, volts: float, out: list[Observation]) -> None:
    """Tell of volts that are low, or nearly so: the source's or the run's."""
    watch, far = node.low, node.far
    reads = f"{node.whom}{' at most' if node.branches else ''} {volts:.1f} V"
    plain = watch.at(volts, f"{reads}; limit {watch.limit:.1f} V, nominal {node.nominal:.0f} V")
    if far is None:
        out.append(plain)
        return
    upper = node.upper(watch.limit)
    shares = source_or_run(volts, upper[1], node.nominal) if upper else None
    if volts >= watch.limit:
        out += (plain, far.at(volts))
    elif upper is None or shares is None or shares.larger != "run":
        out += (plain, far.unknown)
    else:
        there = f"while {upper[0]} stands at {upper[1]:.1f} V"
        out += (watch.unknown, far.at(volts, f"{reads}, {there}; limit {watch.limit:.1f} V"))
