"""What leg volts show of a lost neutral, a lost leg or another service than planned.

Every function judges samples of one moment each and asks for ``NEEDED`` of them in a row: never from one sample. They
give what is shown, never a cause as a fact. The percentages are judgements to start from, the physics is Ohm's law.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import TYPE_CHECKING

from monitor.electrical.loads import LEG_TO_LEG, LEG_TO_NEUTRAL

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from monitor.show.model import System

NEEDED = 2  # samples in a row
_SUM_STEADY = 0.02  # of the base
_SPREAD = 0.05  # of the sum
_CRITICAL = 1.10  # of nominal
_SHIFT_WARN, _SHIFT_ALARM = 0.05, 0.10  # of nominal
_LEG_LOST, _LEG_GOOD = 0.5, (0.9, 1.1)  # of nominal
_RATIO_ERROR = 0.05
_IDLE_AMPS = 1.0
_GONE = 0.10  # of nominal: less is no service at all


@dataclass(frozen=True, slots=True)
class Sign:
    """What the last samples show.

    Attributes:
        code: ``lost-neutral``, ``lost-leg`` or ``wrong-service``.
        legs: the legs it shows on.
        value: the figure that shows it [V, or 1 for a ratio].
        limit: the limit it stands beyond, same unit.
        text: one sentence with the figures.
        critical: whether a leg is so high that equipment on it is at risk.

    """

    code: str
    legs: tuple[str, ...]
    value: float
    limit: float
    text: str
    critical: bool = False


@dataclass(frozen=True, slots=True)
class SplitSample:
    """Both legs of a split-phase point at one moment.

    Attributes:
        volts: L1 and L2 to neutral [V].
        amps: L1 and L2 [A], or None where they are not measured: then no spread is expected.

    """

    volts: tuple[float, float]
    amps: tuple[float, float] | None = None


def lost_neutral_split(
    samples: Sequence[SplitSample], base_sum: float = 240.0, spread_ohms: float = 0.0
) -> Sign | None:
    """Look for an open neutral on 120/240: the sum of the legs stays, their difference grows.

    With a whole neutral V1 - V2 = -(R_leg + 2 R_neutral)(I1 - I2); that spread is expected of a long one-sided run and
    is taken off first. Without a neutral the loads of the two legs are in series across the whole.

    Args:
        samples: oldest first; the last ``NEEDED`` count.
        base_sum: sum of both legs before, or nominal [V].
        spread_ohms: R_leg + 2 R_neutral of the run from the source as planned [ohm].

    """
    last = samples[-NEEDED:]
    if len(last) < NEEDED or not all(_split_shown(sample, base_sum, spread_ohms) for sample in last):
        return None
    first, second = last[-1].volts
    limit = _SPREAD * (first + second)
    critical = max(first, second) > _CRITICAL * LEG_TO_NEUTRAL["120/240"]
    text = (
        f"L1 {first:.1f} V and L2 {second:.1f} V: their sum stands, their difference is not explained by the load;"
        " the neutral may be open or failing"
    )
    return Sign("lost-neutral", ("L1", "L2"), abs(_unexplained(last[-1], spread_ohms)), limit, text, critical)


def star_shift(leg_volts: Sequence[float], line_volts: Sequence[float]) -> float:
    """Give how far the neutral stands from the middle of a three-phase system [V].

    shift^2 = mean(V_leg^2) - mean(V_line^2) / 3: exact for any position of the neutral, from the three leg-to-neutral
    and the three leg-to-leg volts of one moment.
    """
    return sqrt(max(0.0, _mean_square(leg_volts) - _mean_square(line_volts) / 3.0))


def lost_neutral_wye(
    samples: Sequence[tuple[Sequence[float], Sequence[float]]], nominal: float, *, alarm: bool = True
) -> Sign | None:
    """Look for an open neutral on a wye: the star point has moved. A balanced load hides it.

    Args:
        samples: (three leg-to-neutral, three leg-to-leg volts) [V], oldest first; the last ``NEEDED`` count.
        nominal: leg to neutral [V].
        alarm: False asks for the lower limit of a warning.

    """
    last = samples[-NEEDED:]
    limit = (_SHIFT_ALARM if alarm else _SHIFT_WARN) * nominal
    if len(last) < NEEDED or not all(star_shift(*sample) > limit for sample in last):
        return None
    legs, shift = last[-1][0], star_shift(*last[-1])
    shown = ", ".join(f"{volts:.1f}" for volts in legs)
    text = f"{shown} V to neutral: the neutral stands {shift:.1f} V off the middle; it may be open or failing"
    return Sign("lost-neutral", ("L1", "L2", "L3"), shift, limit, text, max(legs) > _CRITICAL * nominal)


def star_of_legs(leg_volts: Sequence[float]) -> tuple[float, float] | None:
    """Give a wye's leg-to-leg volts and the shift of its neutral from leg-to-neutral volts alone [V, V].

    Where the three legs stand evenly, the neutral's distances a, b, c to the corners of their triangle of side s obey
    3 (a^4 + b^4 + c^4 + s^4) = (a^2 + b^2 + c^2 + s^2)^2 (plane geometry of the equilateral triangle, from memory),
    solved here for s with the neutral inside or near the triangle. What comes out is worth something only where s is
    what it was before: a leg that sags by itself gives another s.

    Args:
        leg_volts: three, of one moment [V].

    Returns:
        s and the shift; None where no even triangle has such a point.

    """
    squares = [volts**2 for volts in leg_volts]
    total, fourth = sum(squares), sum(square**2 for square in squares)
    inside = 3.0 * (total**2 - 2.0 * fourth)
    if inside < 0:
        return None
    side = sqrt((total + sqrt(inside)) / 2.0)
    return side, star_shift(leg_volts, (side, side, side))


def lost_leg(samples: Sequence[Mapping[str, float]], nominal: float) -> Sign | None:
    """Look for a leg that is gone while the others stand. It needn't be at 0: leg-to-leg loads feed it back.

    Args:
        samples: volts to neutral by leg [V], only legs that were read; oldest first; the last ``NEEDED`` count.
        nominal: leg to neutral [V].

    """
    last = samples[-NEEDED:]
    if len(last) < NEEDED:
        return None
    low = [{leg for leg, volts in sample.items() if volts < _LEG_LOST * nominal} for sample in last]
    gone = set.intersection(*low)
    good_low, good_high = (limit * nominal for limit in _LEG_GOOD)
    others_stand = all(
        good_low <= volts <= good_high for sample in last for leg, volts in sample.items() if leg not in gone
    )
    if not gone or len(gone) == len(last[-1]) or not others_stand:
        return None
    legs = tuple(sorted(gone))
    figures = ", ".join(f"{leg} {last[-1][leg]:.1f} V" for leg in legs)
    text = f"{figures} while the other legs stand near {nominal:g} V: a leg may be lost upstream"
    return Sign("lost-leg", legs, min(last[-1][leg] for leg in legs), _LEG_LOST * nominal, text)


def wrong_service(
    system: System,
    leg_volts: Mapping[str, float],
    amps: Mapping[str, float],
    line_volts: Mapping[tuple[str, str], float] | None = None,
) -> tuple[Sign, ...]:
    """Compare the first volts of a source, before any load, with the plan's system.

    Args:
        system: as planned.
        leg_volts: leg to neutral, of the legs that were read [V]; legs without service (under 10 %) are not judged.
        amps: of the same legs [A]; a leg that carries more than an ampere is not judged.
        line_volts: leg to leg, where measured [V].

    Returns:
        Every departure; do not connect loads while there is one: the reading is outside the plan.

    """
    nominal = LEG_TO_NEUTRAL[system]
    idle = {leg: v for leg, v in leg_volts.items() if abs(amps.get(leg, 0.0)) <= _IDLE_AMPS and v >= _GONE * nominal}
    signs = [_off_plan(leg, volts, nominal) for leg, volts in idle.items()]
    for (first, second), volts in (line_volts or {}).items():
        if first in idle and second in idle:
            signs.append(_off_ratio(system, (first, second), volts, (idle[first] + idle[second]) / 2))
    return tuple(sign for sign in signs if sign is not None)


def _off_plan(leg: str, volts: float, nominal: float) -> Sign | None:
    low, high = (limit * nominal for limit in _LEG_GOOD)
    if low <= volts <= high:
        return None
    text = f"{leg} reads {volts:.1f} V without load where {nominal:g} V are planned: reading is outside the plan"
    return Sign("wrong-service", (leg,), volts, high if volts > high else low, text, volts > high)


def _off_ratio(system: System, legs: tuple[str, str], volts: float, to_neutral: float) -> Sign | None:
    expected = LEG_TO_LEG[system] / LEG_TO_NEUTRAL[system]
    ratio = volts / to_neutral
    if abs(ratio / expected - 1.0) <= _RATIO_ERROR:
        return None
    text = (
        f"{legs[0]} to {legs[1]} reads {volts:.1f} V, {ratio:.2f} times the volts to neutral, where {system} gives"
        f" {expected:.2f} times: reading is outside the plan"
    )
    if ratio < _GONE:
        text += "; both may hang on one hot, and then their neutral currents add"
    return Sign("wrong-service", legs, ratio, expected, text)


def _split_shown(sample: SplitSample, base_sum: float, spread_ohms: float) -> bool:
    sum_now = sum(sample.volts)
    steady = abs(sum_now - base_sum) <= _SUM_STEADY * base_sum
    return steady and abs(_unexplained(sample, spread_ohms)) > _SPREAD * sum_now


def _unexplained(sample: SplitSample, spread_ohms: float) -> float:
    """Difference of the legs that the plan's cable and the measured amps don't explain [V]."""
    expected = -spread_ohms * (sample.amps[0] - sample.amps[1]) if sample.amps else 0.0
    return sample.volts[0] - sample.volts[1] - expected


def _mean_square(values: Sequence[float]) -> float:
    return sum(value**2 for value in values) / len(values)
