"""Tells loads that cycle by themselves (a kettle's thermostat, a compressor) from those that people switch.

The same load, or one of the same size, that was on three times with like times on and like times off between, cycles.
People switch things off and on too, but seldom three times at an even pace.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field

_TIMES = 3
_LIKE_ON, _LIKE_OFF, _STILL = 1.5, 1.7, 2.5  # longest to shortest (judgements)
_SLACK_S = 4.0  # of a time read from samples
_LONGEST_S = 3600.0  # of one time on or off
_SAME_SIZE = 0.08
_MOST = 16


@dataclass(slots=True)
class _Cycle:
    """One load: its names (none: not planned) and size, when it last changed, its last times on and off."""

    names: tuple[str, ...]
    size: float
    last_s: float | None = None
    last_on: bool = False
    ons: deque[float] = field(default_factory=lambda: deque(maxlen=_TIMES))
    offs: deque[float] = field(default_factory=lambda: deque(maxlen=_TIMES - 1))
    first_s: float = 0.0
    since_s: float | None = None


class Cycles:
    """The loads of one circuit that came and went lately."""

    __slots__ = ("_known",)

    def __init__(self) -> None:
        self._known: list[_Cycle] = []

    def add(self, names: tuple[str, ...], size: float, time_s: float, *, on: bool, gap: bool) -> float | None:
        """Take a step; give since when that load has been cycling [s], or None.

        Args:
            names: planned loads, or none.
            size: of the step, in any one unit.
            time_s: of the step [s].
            on: or off.
            gap: its moment is not known: what was measured of its pace so far counts no more.

        """
        cycle = self._find(names, size)
        passed = None if cycle.last_s is None else time_s - cycle.last_s
        if gap or passed is None or cycle.last_on == on or passed > _LONGEST_S:
            cycle.ons.clear()
            cycle.offs.clear()
            cycle.since_s, cycle.first_s = None, time_s
        else:
            (cycle.offs if on else cycle.ons).append(passed)
        cycle.last_s, cycle.last_on = (None if gap else time_s), on
        cycle.since_s = _since(cycle)
        return cycle.since_s

    def _find(self, names: tuple[str, ...], size: float) -> _Cycle:
        for cycle in self._known:
            if cycle.names == names and (names or abs(cycle.size - size) < _SAME_SIZE * size):
                self._known.remove(cycle)
                break
        else:
            cycle = _Cycle(names, size)
        self._known.append(cycle)
        del self._known[:-_MOST]
        return cycle


def _since(cycle: _Cycle) -> float | None:
    if len(cycle.ons) < _TIMES or len(cycle.offs) < _TIMES - 1:
        return None
    if cycle.since_s is not None:
        return cycle.since_s if _like(cycle.ons, _STILL) and _like(cycle.offs, _STILL) else None
    return cycle.first_s if _like(cycle.ons, _LIKE_ON) and _like(cycle.offs, _LIKE_OFF) else None


def _like(times: deque[float], ratio: float) -> bool:
    return max(times) <= ratio * min(times) + _SLACK_S
