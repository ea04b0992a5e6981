"""Legs out of balance at the source, and neutrals over their rating."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.alarms.conditions.watch import Watch
from monitor.show.model import SOURCE_ID

if TYPE_CHECKING:
    from monitor.alarms.conditions.known import Known
    from monitor.alarms.conditions.layout import Layout
    from monitor.alarms.model import Observation

_HALF = 0.5  # of the rating: below it nobody needs to move anything
_PLAN_SLACK = 5.0  # percent
_OVER_PLAN = 1.05  # of what the plan puts on a leg: volts move it by as much


class Unbalance:
    """How far apart the source's legs are, in percent of the highest, where that asks for a move.

    It does while they carry half of the source's rating or more together, and the highest carries more than the plan
    puts on it or is near its rating. Planned loads of other legs that are off for now ask for nothing.
    """

    def __init__(self, layout: Layout, known: Known) -> None:
        source = layout.places[SOURCE_ID]
        self._watch: Watch | None = None
        if len(source.legs) > 1 and len(source.own) == len(source.legs) and source.rated_amps:
            limit = layout.show.setting("legs_unbalanced_percent")
            planned = _spread(list(source.planned_amps.values())) + _PLAN_SLACK if layout.planned else 0.0
            self._watch = Watch("legs-unbalanced", SOURCE_ID, max(limit, planned))
        self._tracks = [(leg, known.tracks[point]) for leg, point in source.own.items()]
        rated = source.rated_amps or 0.0
        near = rated * layout.show.setting("continuous_percent") / 100
        self._half = _HALF * rated * len(source.legs)
        self._asks = {
            leg: min(near, _OVER_PLAN * source.planned_amps[leg]) if layout.planned else 0.0 for leg in source.legs
        }

    def observe(self, out: list[Observation]) -> None:
        """Give the observation; 0 where the spread asks for nothing."""
        watch = self._watch
        if watch is None:
            return
        amps = {leg: track.settled_amps for leg, track in self._tracks}
        known = {leg: a for leg, a in amps.items() if a is not None}
        if len(known) < len(amps):
            out.append(watch.unknown)
            return
        highest = max(known, key=lambda leg: known[leg])
        asks = sum(known.values()) >= self._half and known[highest] >= self._asks[highest]
        value = _spread(list(known.values())) if asks else 0.0
        seen = ""
        if value > 0.95 * watch.limit:
            legs = ", ".join(f"{leg} {a:.0f} A" for leg, a in known.items())
            seen = f"the source carries {legs}: {value:.0f} % from highest to lowest; limit {watch.limit:.0f} %"
        out.append(watch.at(value, seen))


class Neutrals:
    """Amps of metered neutrals that have a rating."""

    def __init__(self, layout: Layout, known: Known) -> None:
        part = layout.show.setting("neutral_percent") / 100
        self._watched = [
            (place, known.tracks[place.neutral], Watch("neutral-over", str(place.neutral), part * place.neutral_amps))
            for place in layout.places.values()
            if place.neutral is not None and place.neutral_amps is not None
        ]

    def observe(self, out: list[Observation]) -> None:
        """Give the observations."""
        for place, track, watch in self._watched:
            amps = track.settled_amps
            if amps is None:
                out.append(watch.unknown)
                continue
            seen = ""
            if amps > 0.95 * watch.limit:
                seen = (
                    f"the neutral of {place.label} carries {amps:.1f} A; limit {watch.limit:.1f} A,"
                    f" rated {place.neutral_amps:g} A"
                )
            out.append(watch.at(amps, seen))


def _spread(amps: list[float]) -> float:
    highest = max(amps)
    return 100 * (highest - min(amps)) / highest if highest > 0 else 0.0
