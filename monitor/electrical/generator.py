"""The source's load: kilowatts, kilovolt-amperes, percent of its ratings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from monitor.electrical.legs import planned_legs
from monitor.electrical.loads import LEG_TO_NEUTRAL, planned_power
from monitor.show.model import SOURCE_ID

if TYPE_CHECKING:
    from collections.abc import Mapping

    from monitor.show.model import Show, Source


@dataclass(frozen=True, slots=True)
class SourceLoad:
    """What a source gives.

    Attributes:
        kilowatts: [kW].
        kilovolt_amperes: [kVA]; planned: of the watts and vars together; measured: the sum of the legs' volts times
            amps, which is the upper bound of that.
        percent_kw: of rated kW [%]; None where there is none.
        percent_kva: of rated kVA [%]; None where there is none.
        percent_leg: the highest leg's amps in percent of ``leg_rating``; None where there is none.

    """

    kilowatts: float
    kilovolt_amperes: float
    percent_kw: float | None
    percent_kva: float | None
    percent_leg: float | None

    @property
    def percent(self) -> float | None:
        """The higher of the percents of rated kW and kVA; None where neither is known."""
        return max((p for p in (self.percent_kw, self.percent_kva) if p is not None), default=None)


def leg_rating(source: Source) -> float | None:
    """Give what one leg of a source can carry [A]: as the show says, else its kVA shared evenly over the legs."""
    if source.amps_per_leg is not None or source.rated_kva is None:
        return source.amps_per_leg
    return source.rated_kva * 1000 / (len(source.legs) * LEG_TO_NEUTRAL[source.system])


def planned_load(show: Show) -> SourceLoad:
    """Give what a show's source is planned to give: watts and vars of every circuit together, and its highest leg.

    The losses of the cables, a few percent, are not in it.
    """
    power = sum(map(planned_power, show.circuits), 0j)
    highest = max(map(abs, planned_legs(show, SOURCE_ID).values()))
    return _load(show.source, power.real / 1000, abs(power) / 1000, highest)


def measured_load(source: Source, legs: Mapping[str, tuple[float, float, float | None]]) -> SourceLoad | None:
    """Give a source's load from its meters.

    Args:
        source: its ratings.
        legs: volts to neutral [V], amps [A] and watts [W] (None where not measured) of each leg.

    Returns:
        None unless every leg of the system is there with its watts: a part is never shown as the whole.

    """
    rows = [legs.get(leg) for leg in source.legs]
    whole = [(row[0], row[1], row[2]) for row in rows if row is not None and row[2] is not None]
    if len(whole) < len(rows):
        return None
    kilowatts = sum(watts for _, _, watts in whole if watts is not None) / 1000
    kilovolt_amperes = sum(volts * amps for volts, amps, _ in whole) / 1000
    return _load(source, kilowatts, kilovolt_amperes, max(amps for _, amps, _ in whole))


def _load(source: Source, kilowatts: float, kilovolt_amperes: float, highest: float) -> SourceLoad:
    return SourceLoad(
        kilowatts,
        kilovolt_amperes,
        _percent(kilowatts, source.rated_kw),
        _percent(kilovolt_amperes, source.rated_kva),
        _percent(highest, leg_rating(source)),
    )


def _percent(value: float, rating: float | None) -> float | None:
    return None if not rating else 100.0 * value / rating
