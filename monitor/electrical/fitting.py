"""What one round of readings shows of how a meter is fitted: current transformers, voltage taps, scales.

Watts are volts times amps times the cosine of the angle between them. A transformer that sits the wrong way round
adds 180 degrees to that angle, one on another leg of a wye than its volts 120 either way (``LEG_DEGREES`` of
``monitor.electrical.legs``); a resistive load then reads -1, -0.5 or, turned and on another leg, +0.5 of volts times
amps: cos 180, cos 120, cos 60. Several mistakes fit most readings, so each is named as one that may be.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from math import acos, degrees, sqrt
from typing import TYPE_CHECKING

from monitor.electrical.loads import LEG_TO_LEG, LEG_TO_NEUTRAL, nominal_volts

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from monitor.show.model import System

LEAST_AMPS, LEAST_PART = 0.5, 0.02
"""Below half an ampere, or 2 % of the breaker, a transformer's own error is too large to judge it (a judgement)."""
_LAGS, _LEADS = 53.0, -26.0
"""Loads of a set lie between power factor 0.6 lagging and 0.9 leading [degrees] (a judgement)."""
_LOW, _NONE = 0.6, 0.02
_OVER = 1.05
_NEAR = 0.06
_WHOLE_A, _FINE_A = 1.0, 0.05
"""What a current may be rounded by [A]: some meters send whole amperes only."""
_GOOD = (0.9, 1.1)  # of nominal
_GONE = 0.10
_WYE = ("208Y/120", "400Y/230")
_FACTORS: Mapping[float, str] = {
    1000.0: "a thousand times: kilo against the plain unit",
    100.0: "a hundred times: two decimal places",
    10.0: "ten times: one decimal place",
    3.0: "three times: three conductors or turns through one transformer, or three phases summed",
    2.0: "twice: two conductors or turns through one transformer, or another ratio in its menu",
    sqrt(3.0): "1.73 times: leg-to-leg volts against leg-to-neutral volts",
}
_SERVICES: Mapping[float, str] = {
    100.0: "between leg and neutral on a 100 V supply",
    120.0: "between leg and neutral on 120/240 and 208Y/120",
    208.0: "between two legs of 208Y/120",
    230.0: "between leg and neutral on 400Y/230",
    240.0: "between the two legs of 120/240",
    277.0: "between leg and neutral on 480Y/277",
    347.0: "between leg and neutral on 600Y/347",
    400.0: "between two legs of 400Y/230",
    480.0: "between two legs of 480Y/277",
    600.0: "between two legs of 600Y/347",
}
"""Volts by where they are met. Sources: nominal voltages of ANSI C84.1 and IEC 60038; from memory."""
_HOW = (
    "have the load switched off and the power off and locked off before anything is touched, then a qualified person"
    " compares: the way the transformer faces, the conductor in it, the leg its meter's volts come from"
)


@dataclass(frozen=True, slots=True)
class Clue:
    """Something that does not fit.

    Attributes:
        code: ``transformer-turned``, ``transformer-leg``, ``power-factor-low``, ``watts-scale`` or ``watts-none``.
        text: what is read, and what it may mean; without the place.
        do: what to do.
        certain: False where a sound meter with an odd load reads the same.

    """

    code: str
    text: str
    do: str
    certain: bool = True


def enough(amps: float, rated_amps: float | None) -> bool:
    """Say whether a current is large enough to judge its transformer by [A, A]."""
    return abs(amps) >= max(LEAST_AMPS, LEAST_PART * (rated_amps or 0.0))


def transformer_clue(system: System, hots: int, volts: float, amps: float, watts: float) -> Clue | None:
    """Judge volts, amps and watts of one channel against each other.

    Args:
        system: of the show.
        hots: 1 where its volts are leg to neutral, 2 where they are leg to leg.
        volts: [V], above 0.
        amps: [A], above 0; see ``enough``.
        watts: [W]; negative where power seems to flow back.

    """
    apparent = volts * abs(amps)
    factor = watts / apparent
    read = f"reads {watts:.0f} W at {volts:.1f} V and {abs(amps):.2f} A"
    if abs(watts) > _OVER * volts * (abs(amps) + _coarse(amps)):
        times = _named(abs(factor))
        return Clue("watts-scale", f"{read}: more than volts times amps ({apparent:.0f} VA){times}", _scales())
    if abs(factor) < _NONE:
        return _nearly_none(read, factor)
    if factor >= _LOW:
        return None
    shown = f"{read}, a power factor of {factor:.2f}"
    causes = _causes(system, hots, factor)
    if factor > 0:
        also = f"; or {' or '.join(words for _, words in causes)}" if causes else ""
        text = f"{shown}: low for lights and heaters; electronics without correction and idle motors read so{also}"
        return Clue("power-factor-low", text, "switch on a heater or a lamp alone and check again", certain=False)
    names = " or ".join(words for _, words in causes) or "volts and current may not belong together"
    code = causes[0][0] if causes else "transformer-leg"
    return Clue(code, f"{shown}: power would flow back towards the source; {names}", _HOW)


def exchanged(legs: Mapping[str, Clue]) -> str:
    """Say that transformers of one meter may be exchanged with each other, or nothing.

    Args:
        legs: the clue of each point of the meter that has one, by the leg that it measures.

    """
    on_others = sorted(leg for leg, clue in legs.items() if clue.code == "transformer-leg")
    if len(on_others) < 2:  # noqa: PLR2004 - a pair
        return ""
    return f"the transformers on {' and '.join(on_others)} may be exchanged with each other"


def volts_clue(system: System, legs: Sequence[str], volts: float) -> str:
    """Say what volts far off their nominal may be: where such volts are met, or nothing where they are near it [V]."""
    nominal = nominal_volts(system, legs)
    if _GOOD[0] <= volts / nominal <= _GOOD[1]:
        return ""
    if volts < _GONE * nominal:
        return f"{volts:.1f} V: an open breaker or tap fuse, a loose tap wire or a supply that is off reads so"
    ours = {LEG_TO_NEUTRAL[system]: "leg to neutral", LEG_TO_LEG.get(system, 0.0): "leg to leg"}
    here = [words for level, words in ours.items() if level and abs(volts / level - 1.0) <= _NEAR]
    told = (
        [f"this system has such volts {here[0]}: the tap may be between other conductors than planned"] if here else []
    )
    met = [words for level, words in _SERVICES.items() if abs(volts / level - 1.0) <= _NEAR and system not in words]
    if met:
        told.append(f"such volts are met {' and '.join(met)}: the supply may be another than planned")
    return f"{volts:.1f} V: {'; or '.join(told)}" if told else ""


def scale_clue(shown: float, by_hand: float) -> str:
    """Say which usual factor lies between what a meter shows and what an instrument shows, or nothing."""
    if not shown or not by_hand:
        return ""
    times = max(abs(shown / by_hand), abs(by_hand / shown))
    return _named(times).removeprefix(", about ")


def _causes(system: System, hots: int, factor: float) -> list[tuple[str, str]]:
    """Give the mistakes that leave an ordinary load behind, the one with the angle nearest to 0 first."""
    mistakes = {180.0: ("transformer-turned", "its transformer may sit the wrong way round")}
    if system in _WYE and hots == 1:
        leg = ("transformer-leg", "its transformer may sit on another leg than its volts")
        both = ("transformer-leg", "its transformer may sit turned and on another leg than its volts")
        mistakes |= {120.0: leg, -120.0: leg, 60.0: both, -60.0: both}
    elif system == "120/240" and hots == 1:
        mistakes[180.0] = (
            "transformer-turned",
            "its transformer may sit the wrong way round or on the other leg",
        )
    angle = degrees(acos(min(1.0, max(-1.0, factor))))
    found: list[tuple[float, tuple[str, str]]] = []
    for sign, (turn, words) in product((1.0, -1.0), mistakes.items()):
        load = (sign * angle - turn + 180.0) % 360.0 - 180.0
        if _LEADS <= load <= _LAGS:
            found.append((abs(load), words))
    return list(dict.fromkeys(words for _, words in sorted(found)))


def _coarse(amps: float) -> float:
    return _WHOLE_A if float(amps).is_integer() else _FINE_A


def _nearly_none(read: str, factor: float) -> Clue:
    if _LOW * 0.001 <= abs(factor) <= _OVER * 0.001:
        return Clue("watts-scale", f"{read}: a thousandth of volts times amps; its watts may be kilowatts", _scales())
    text = f"{read}: next to none of volts times amps; its watts may lack the volts, or stand in another register"
    return Clue("watts-none", text, _scales(), certain=False)


def _named(times: float) -> str:
    name = next((words for level, words in _FACTORS.items() if abs(times / level - 1.0) <= _NEAR), "")
    return f", about {name}" if name else f", {times:.2f} times"


def _scales() -> str:
    return (
        "compare volts, amps and watts with a handheld instrument (check --handheld), then look at the map's scale and"
        " at the transformer's ratio in the meter's menu"
    )
