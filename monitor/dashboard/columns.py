"""Which figures a line has room for, and where: the same places for every line of one width."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from monitor.dashboard import words
from monitor.dashboard.faults import BADGE_WIDTH

if TYPE_CHECKING:
    from monitor.engine.snapshot import Snapshot

_PLAN_FROM, _LEGS_FROM, _ALL_FROM, _FINE_FROM = 58, 68, 78, 104  # widths in cells from which more figures have room
_MOST_ID = (8, 12)  # cells, without and with much room
_LEAST_NAME, _MOST_NAME, _LEAST_BAR, _MOST_BAR = 4, 22, 6, 60
_BAR_SHARE = 0.6  # of what name and bar share


@dataclass(frozen=True, slots=True)
class Columns:
    """Widths in cells; 0 where there is no room for the figure. One blank stands between two figures.

    Attributes:
        width: of the whole line.
        id: of the circuit's id.
        name: of its name.
        legs: of its legs.
        amps: of its amps.
        bar: of the bar.
        rated: of the rating.
        percent: of the percent of the rating.
        volts: of volts.
        hertz: of hertz.
        watts: of watts.
        plan: of the difference from plan.
        age: of the age.
        digits: after the point of volts; hertz have one more.

    """

    width: int
    id: int
    name: int = 0
    legs: int = 0
    amps: int = 5
    bar: int = 0
    rated: int = 3
    percent: int = 0
    volts: int = 3
    hertz: int = 0
    watts: int = 0
    plan: int = 0
    age: int = 0
    digits: int = 0

    @property
    def before_bar(self) -> int:
        """Cells from the line's start to the bar."""
        return BADGE_WIDTH + 1 + _spaced(self.id, self.name, self.legs, self.amps)


def columns(snapshot: Snapshot, width: int) -> Columns:
    """Lay out the lines of a show at a width: a phone's 45 cells hold name, amps, bar, rating and volts."""
    ids = [2, *(len(circuit.id) for circuit in snapshot.circuits)]
    legs = [2, *(len(words.legs(circuit.legs)) for circuit in snapshot.circuits)]
    found = Columns(width=width, id=min(max(ids), _MOST_ID[width >= _FINE_FROM]))
    if width >= _PLAN_FROM:
        found = replace(found, plan=5, age=5)
    if width >= _LEGS_FROM:
        found = replace(found, legs=max(legs))
    if width >= _ALL_FROM:
        found = replace(found, hertz=4, watts=5)
    if width >= _FINE_FROM:
        found = replace(found, percent=5, volts=5, hertz=5, digits=1)
    return _shared(found)


def _shared(found: Columns) -> Columns:
    """Share what the figures leave between name and bar."""
    figures = (found.rated, found.percent, found.volts, found.hertz, found.watts, found.plan, found.age)
    left = (
        found.width - found.before_bar - _spaced(*figures) - 1
    )  # a blank behind the name; the bar's is the last one's
    bar = min(max(int(left * _BAR_SHARE), left - _MOST_NAME), _MOST_BAR)
    bar = max(bar // 3 * 3, _LEAST_BAR)  # in thirds: the rating then stands on a cell's edge
    return replace(found, name=max(left - bar, _LEAST_NAME), bar=bar)


def _spaced(*widths: int) -> int:
    return sum(width + 1 for width in widths if width)
