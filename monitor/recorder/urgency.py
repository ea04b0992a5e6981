"""Which meters a bus should read first while it can't keep up: those whose circuits are close to a limit."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from monitor.show.model import Show


class Urgency:
    """Knows which meter reads which place.

    Args:
        show: with its meters.

    """

    def __init__(self, show: Show) -> None:
        self._meters: dict[str, set[tuple[str, int]]] = {}
        for meter in show.meters:
            for _, point in meter.points:
                for name in {point.place, str(point)}:
                    self._meters.setdefault(name, set()).add((meter.bus, meter.unit))
        self._none: dict[str, frozenset[int]] = {meter.bus: frozenset() for meter in show.meters}

    def units(self, places: Iterable[str]) -> Mapping[str, frozenset[int]]:
        """Give the units to be read first, for every bus, none where there is no hurry.

        Args:
            places: circuits, feeders and points that are close to a limit, or that an alarm speaks of.

        """
        found = dict(self._none)
        for place in places:
            for bus, unit in self._meters.get(place, ()):
                found[bus] |= {unit}
        return found
