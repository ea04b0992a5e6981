"""What a log holds around a stretch of time or an incident, put together for whoever tells it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from monitor.electrical.legs import circuits_under
from monitor.show.model import SOURCE_ID, Point

if TYPE_CHECKING:
    from collections.abc import Iterable

    from monitor.incidents.model import FoundStep, Incident
    from monitor.log.gaps import Gap
    from monitor.log.reader import LogReader
    from monitor.show.model import Show

BEFORE_MS = 600_000
AFTER_MS = 120_000
LONGEST_MS = 1_200_000  # shown second by second; what lasts longer is shown by its begin


@dataclass(frozen=True, slots=True)
class Found:
    """What was found in a stretch of a log.

    Attributes:
        incidents: by their begin.
        steps: by time.
        gaps: that touch it, by their begin.

    """

    incidents: tuple[Incident, ...]
    steps: tuple[FoundStep, ...]
    gaps: tuple[Gap, ...]


def found_between(
    reader: LogReader, begin_ms: int, end_ms: int, kinds: Iterable[str] = (), *, with_steps: bool = True
) -> Found:
    """Give what was found from ``begin_ms`` to before ``end_ms`` [ms, the log's clock].

    An incident that began before it and ended in it is of it too; ``kinds`` keeps only those kinds. Two weeks
    hold many steps: without ``with_steps`` none is read.
    """
    wanted = frozenset(kinds)
    incidents = [
        one
        for one in reader.incidents(0, end_ms)
        if (one.begin_ms >= begin_ms or (one.end_ms is not None and one.end_ms > begin_ms))
        and (not wanted or one.kind.value in wanted)
    ]
    gaps = [gap for gap in reader.gaps() if gap.begin_ms < end_ms and (gap.end_ms is None or gap.end_ms > begin_ms)]
    steps = reader.steps(begin_ms, end_ms) if with_steps else ()
    return Found(tuple(incidents), tuple(steps), tuple(gaps))


def window(incident: Incident) -> tuple[int, int]:
    """Give the stretch around an incident that is looked at second by second: (begin, end) [ms, the log's clock]."""
    over_ms = incident.begin_ms if incident.end_ms is None else incident.end_ms
    end_ms = min(max(over_ms, incident.begin_ms) + AFTER_MS, incident.begin_ms + LONGEST_MS)
    return max(incident.earliest_ms, incident.begin_ms - LONGEST_MS) - BEFORE_MS, end_ms


def places_of(incident: Incident, show: Show) -> tuple[str, ...]:
    """Give the ids of the places an incident is about, and of the circuits they feed."""
    ids = list(dict.fromkeys(point.place for point in incident.points)) or [SOURCE_ID]
    feeding = [place for place in ids if place == SOURCE_ID or any(f.id == place for f in show.feeders)]
    below = [circuit.id for place in feeding for circuit in circuits_under(show, place)]
    return tuple(dict.fromkeys((*ids, *below)))


def metered(show: Show, places: Iterable[str]) -> tuple[Point, ...]:
    """Give the measured points of places, place by place, in the show's order within one."""
    points = show.points()
    return tuple(point for place in places for point in points if point.place == place)


def steps_before(reader: LogReader, incident: Incident, show: Show, most: int = 12) -> tuple[FoundStep, ...]:
    """Give the last steps at the places of an incident within the stretch before it and in its first seconds."""
    begin_ms, _ = window(incident)
    places = frozenset(places_of(incident, show))
    steps = [step for step in reader.steps(begin_ms, incident.begin_ms + 5_000) if step.circuit in places]
    return tuple(steps[-most:])
