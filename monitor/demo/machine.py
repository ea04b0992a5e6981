"""The generator: its governor and its voltage regulator, made of first-order lags; and a breaker's own warmth.

Invented, but inside what ISO 8528-5 lets a class G2 set do on a sudden full load: hertz down 10 % at most and back
within 5 s, volts down 20 % at most and back within 6 s (seen in a project's specification that quotes the class).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp

_PULL_SHARE = 0.15  # of nominal hertz, where the engine would go if full load came on and its fuel never followed
_GOVERNOR_S = 1.0
_FLYWHEEL_S = 0.4
_DROOP_SHARE = 0.04  # from full load to none, for a set that is not isochronous
_REGULATOR_S = 1.2
_CEILING = 1.3  # the most the regulator can ask of the field, against no-load volts
HOLDS = 1.1  # multiple of the rating that the demo's breakers carry for ever
WARM_S = 100.0


@dataclass(slots=True)
class Machine:
    """A generator's moving parts.

    Attributes:
        nominal_hertz: speed at full load, or at every load where isochronous [Hz].
        rated_watts: [W].
        set_volts: leg to neutral, what the regulator holds as the mean of the legs [V].
        droop: whether speed falls with load.
        taken_up_watts: what the engine's fuel rack has followed so far [W].
        field_volts: what the field would give at nominal speed [V]; 0 at the begin takes ``set_volts``.
        hertz: [Hz].

    """

    nominal_hertz: float
    rated_watts: float
    set_volts: float
    droop: bool = False
    taken_up_watts: float = 0.0
    field_volts: float = 0.0
    hertz: float = 0.0

    def __post_init__(self) -> None:
        """Begin at no load."""
        self.field_volts = self.field_volts or self.set_volts
        self.hertz = self.hertz or self._settled(0.0)

    def advance(self, watts: float, leg_volts: float, step_s: float) -> None:
        """Go on by ``step_s`` [s] at this load [W] and these mean leg volts [V].

        The engine's fuel follows the load with a lag; what it has not taken up yet pulls the speed down, as quickly
        as the flywheel lets it. The regulator works off the difference to its set volts with a lag, up to the
        field's ceiling.
        """
        self.taken_up_watts += _share(step_s, _GOVERNOR_S) * (watts - self.taken_up_watts)
        behind = (watts - self.taken_up_watts) / self.rated_watts
        pulled_to = self._settled(watts) - self.nominal_hertz * _PULL_SHARE * behind
        self.hertz += _share(step_s, _FLYWHEEL_S) * (pulled_to - self.hertz)
        self.field_volts += _share(step_s, _REGULATOR_S) * (self.set_volts - leg_volts)
        self.field_volts = min(max(self.field_volts, 0.0), _CEILING * self.set_volts)

    @property
    def emf(self) -> float:
        """Volts inside each winding [V]: in proportion to speed and field."""
        return self.field_volts * self.hertz / self.nominal_hertz

    def _settled(self, watts: float) -> float:
        slope = _DROOP_SHARE * (1 - watts / self.rated_watts) if self.droop else 0.0
        return self.nominal_hertz * (1 + slope)


@dataclass(slots=True)
class Thermal:
    """A breaker that opens by its own warmth.

    First-order thermal image (the cold curve of IEC 60255-149: t = tau ln(M^2 / (M^2 - H^2)) from M times the
    rating, H what it carries for ever). Invented time constant, quick so that an evening fits into minutes; it stays
    inside UL 489's gates, which set only the latest time: 100 % holds, 135 % opens within an hour (two above 50 A),
    200 % within 2 minutes (up to 30 A; longer above). No magnetic part: the scenario has no short circuits.

    Attributes:
        rated_amps: [A].
        warmth: square of the multiple it has warmed through to [1].
        closed: whether it is closed.

    """

    rated_amps: float
    warmth: float = 0.0
    closed: bool = True

    def advance(self, amps: float, step_s: float) -> None:
        """Carry ``amps`` [A] for ``step_s`` [s], and open where the warmth is too much."""
        self.warmth += _share(step_s, WARM_S) * ((amps / self.rated_amps) ** 2 - self.warmth)
        if self.warmth >= HOLDS**2:
            self.closed = False


def _share(step_s: float, time_constant_s: float) -> float:
    return 1 - exp(-step_s / time_constant_s)
