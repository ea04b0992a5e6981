"""What the demo's meters show: the truth of a moment with the small errors of real meters."""

from __future__ import annotations

from random import Random
from types import MappingProxyType
from typing import TYPE_CHECKING

from drivers.reading import Values

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from monitor.demo.observed import Electrical, State
    from monitor.show.model import Point

# Standing errors and flutter, invented: about those of a meter of class 0.5 with its transformers.
_VOLTS_GAIN, _AMPS_GAIN = 0.001, 0.003
_VOLTS_FLUTTER, _AMPS_FLUTTER, _HERTZ_FLUTTER = 0.0004, 0.001, 0.008
_LEAST_AMPS = 0.02  # below, a meter shows none
_LEAST_VOLTS = 10.0  # below, a meter counts no hertz


class Metering:
    """Every measured point of a show; each has its own standing error.

    Args:
        points: where meters measure.
        seed: of the errors.

    """

    def __init__(self, points: Sequence[Point], seed: int) -> None:
        self._random = Random(seed)  # noqa: S311 - a repeatable flutter, no secret
        spread = self._random.gauss
        self._gains = {point: (1 + spread(0, _VOLTS_GAIN), 1 + spread(0, _AMPS_GAIN)) for point in points}
        self._watt_hours = dict.fromkeys(points, 0.0)

    def measure(self, state: State, step_s: float) -> Mapping[Point, Values]:
        """Give what every point shows for one step of ``step_s`` [s]."""
        hertz = state.hertz + self._random.gauss(0, _HERTZ_FLUTTER)
        return MappingProxyType({point: self._values(point, state.at[point], hertz, step_s) for point in self._gains})

    def _values(self, point: Point, true: Electrical, hertz: float, step_s: float) -> Values:
        volts_gain, amps_gain = self._gains[point]
        volts_gain *= 1 + self._random.gauss(0, _VOLTS_FLUTTER)
        amps_gain *= 1 + self._random.gauss(0, _AMPS_FLUTTER)
        if true.amps * amps_gain < _LEAST_AMPS:
            amps_gain = 0.0
        volts, amps, watts = true.volts * volts_gain, true.amps * amps_gain, true.watts * volts_gain * amps_gain
        self._watt_hours[point] += watts * step_s / 3600
        apparent = volts * amps
        return Values(
            volts=volts,
            amps=amps,
            hertz=hertz if volts >= _LEAST_VOLTS else None,
            watts=watts,
            volt_amperes=apparent,
            vars=true.vars * volts_gain * amps_gain,
            power_factor=watts / apparent if apparent > 0 else None,
            watt_hours=max(self._watt_hours[point], 0.0),
        )
