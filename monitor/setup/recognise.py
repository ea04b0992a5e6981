"""How likely a map is the right one for a meter, by what it reads there now. Pure."""

from __future__ import annotations

from typing import TYPE_CHECKING

from drivers.reading import Quality
from monitor.electrical.loads import LEG_TO_LEG, LEG_TO_NEUTRAL

if TYPE_CHECKING:
    from collections.abc import Sequence

    from drivers.reading import ChannelReading
    from monitor.show.model import System

_VOLTS, _HERTZ, _NOMINAL_HERTZ = 0.12, 0.04, (50.0, 60.0)
_POWER = 0.05


def likeness(channels: Sequence[ChannelReading], system: System) -> float:
    """Give how much of what a map reads looks like that system, 0 (nothing) to 1 (everything).

    Volts near those of the system, hertz near 50 or 60, watts no more than volts times amps speak for a map; a number
    that can't be speaks against it. Zeroes say nothing: a meter on a bench reads zero everywhere.

    Args:
        channels: as the map decodes them.
        system: of the show.

    """
    points = [point for channel in channels for point in _points(channel, system)]
    return sum(points) / len(points) if points else 0.0


def _points(channel: ChannelReading, system: System) -> list[float]:
    values = channel.values
    if channel.quality is not Quality.GOOD:
        return [0.0]
    nominals = (LEG_TO_NEUTRAL[system], *((LEG_TO_LEG[system],) if system in LEG_TO_LEG else ()))
    points: list[float] = []
    if values.volts:
        points.append(float(any(abs(values.volts / level - 1.0) <= _VOLTS for level in nominals)))
    elif values.volts == 0:
        points.append(0.5)
    if values.hertz:
        points.append(float(any(abs(values.hertz / level - 1.0) <= _HERTZ for level in _NOMINAL_HERTZ)))
    if values.watts and values.volts and values.amps:
        points.append(float(abs(values.watts) <= (1.0 + _POWER) * values.volts * abs(values.amps)))
    return points or [0.0]
