"""What hangs on the circuits: how much current each kind of load draws at which volts.

Phasors are complex and effective (rms); a lagging current has a negative angle against its volts.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import acos, exp, inf, tan
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from monitor.show.model import Load

TUNGSTEN_CURRENT_EXPONENT = 0.53
"""I ~ V^0.53, hence W ~ V^1.53: published exponents (SPIE Field Guide FG11, page 21, on tungsten lamps)."""
COLD_FILAMENT_MULTIPLE = 14.0
"""Current of a cold filament against a hot one: seen as about 14 times for large lamps, 10 to 15 elsewhere."""
_FILAMENT_S = 0.06  # seen: 100 W settles in about 0.05 s, a 500 W lamp is not quite there at 1 s; taken as one decay
_LOWEST_SHARE = 0.7  # of nominal volts: below, an electronic supply draws like a resistance (invented)
_START_POWER_FACTOR = 0.4  # of a motor that does not turn yet (from memory)
_START_S = 1.0  # decay of a start: 0.3 to 3 s is usual (from memory)
_ANY_START = 6.0  # multiple for a motor that names none; 5 to 8 is usual (from memory)


@dataclass(frozen=True, slots=True)
class Appliance:
    """One load, or several of a kind switched together.

    Attributes:
        load: what it is; ``load.watts`` is of one piece at ``nominal_volts``.
        nominal_volts: volts it is made for [V].

    """

    load: Load
    nominal_volts: float

    @property
    def apparent(self) -> complex:
        """P + jQ at nominal volts [W, var]: Q = P tan(acos pf)."""
        watts = self.load.watts * self.load.count
        return complex(watts, watts * tan(acos(self.load.power_factor)))

    def current(self, volts: complex, on_s: float = inf, step_s: float = 0.0) -> complex:
        """Give the current at ``volts`` [A].

        Args:
            volts: across the load [V].
            on_s: how long it has had power [s].
            step_s: mean over this time from ``on_s`` on [s].

        """
        if volts == 0:
            return 0j
        kind = self.load.kind
        if kind == "tungsten":
            cold = decayed(_FILAMENT_S, on_s, step_s)
            return self._tungsten(volts) * (1 + (COLD_FILAMENT_MULTIPLE - 1) * cold)
        if kind == "motor":
            return self._motor(volts, decayed(_START_S, on_s, step_s))
        return self._electronic(volts) if kind == "electronic" else self._resistive(volts)

    def _resistive(self, volts: complex) -> complex:
        return self.apparent.conjugate() / self.nominal_volts**2 * volts

    def _electronic(self, volts: complex) -> complex:
        """Draw constant power: I = (S / V)*, as long as the volts are there."""
        lowest = _LOWEST_SHARE * self.nominal_volts
        if abs(volts) < lowest:
            return self.apparent.conjugate() / lowest**2 * volts
        return (self.apparent / volts).conjugate()

    def _tungsten(self, volts: complex) -> complex:
        share = abs(volts) / self.nominal_volts
        size: float = abs(self.apparent) / self.nominal_volts * share**TUNGSTEN_CURRENT_EXPONENT
        return size * volts / abs(volts)

    def _motor(self, volts: complex, starting: float) -> complex:
        """Draw constant power when turning, like an impedance of low power factor while it stands."""
        multiple = self.load.start_multiple or _ANY_START
        standing = complex(1, -tan(acos(_START_POWER_FACTOR))) * _START_POWER_FACTOR
        start = multiple * abs(self.apparent) / self.nominal_volts**2 * standing * volts
        return (1 - starting) * self._electronic(volts) + starting * start


def decayed(time_constant_s: float, age_s: float, step_s: float) -> float:
    """Give the mean of exp(-t / time constant) from ``age_s`` on over ``step_s``; 1 at the very begin."""
    at_begin = exp(-age_s / time_constant_s)
    if step_s <= 0:
        return at_begin
    share = step_s / time_constant_s
    return at_begin * (1 - exp(-share)) / share
