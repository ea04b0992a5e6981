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


class Unbalance:
    """How far apart the source's legs are, in percent of the highest, while they carry half of its rating or more."""

    def __init__(self, layout: Layout, known: Known) -> None:
        source = layout.places[SOURCE_ID]
        self._watch: Watch | None = None
        if len(source.legs) > 1 and len(source.own) == len(source.legs) and source.rated_amps:
            limit = layout.show.setting("legs_unbalanced_percent")
            planned = _spread(list(source.planned_amps.values())) + _PLAN_SLACK if layout.planned else 0.0
            self._watch = Watch("legs-unbalanced", SOURCE_ID, max(limit, planned))
        self._tracks = [(leg, known.tracks[point]) for leg, point in source.own.items()]
        self._half = _HALF * (source.rated_amps or 0.0) * len(source.legs)

    def observe(self, out: list[Observation]) -> None:
        """Give the observation; 0 below half load, where the spread asks for nothing."""
        watch = self._watch
        if watch is None:
            return
        amps = [track.settled_amps for _, track in self._tracks]
        known = [a for a in amps if a is not None]
        if len(known) < len(amps):
            out.append(watch.unknown)
            return
        value = _spread(known) if sum(known) >= self._half else 0.0
        seen = ""
        if value > 0.95 * watch.limit:
            legs = ", ".join(f"{leg} {a:.0f} A" for (leg, _), a in zip(self._tracks, known, strict=True))
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
