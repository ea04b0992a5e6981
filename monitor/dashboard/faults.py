"""What is wrong, as a mark and a word for each place, and which figure of the place it concerns."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from monitor.dashboard.pieces import Piece, Tone
from monitor.engine.snapshot import Weight

if TYPE_CHECKING:
    from collections.abc import Iterable

    from monitor.engine.snapshot import AlarmView

BADGE_WIDTH = 7
ABOVE, BELOW, OTHER = "▲", "▼", "■"

_WORDS = MappingProxyType(
    {
        "above-rating": (ABOVE, "amps"),
        "above-continuous": (ABOVE, "amps"),
        "source-above-rating": (ABOVE, "kW"),
        "over-plan": (ABOVE, "plan"),
        "volts-high": (ABOVE, "volts"),
        "volts-low": (BELOW, "volts"),
        "volts-gone": (BELOW, "volts"),
        "meter-silent": (OTHER, "silent"),
        "value-implausible": (OTHER, "value"),
        "watts-negative": (OTHER, "watts"),
    }
)
_RANK = (Weight.URGENT, Weight.HIGH, Weight.LOW)
_TONES = MappingProxyType(
    {
        Weight.URGENT: (Tone.URGENT, Tone.URGENT_FILL, Tone.URGENT_BADGE),
        Weight.HIGH: (Tone.HIGH, Tone.HIGH_FILL, Tone.HIGH_BADGE),
        Weight.LOW: (Tone.LOW, Tone.LOW_FILL, Tone.LOW_BADGE),
    }
)


def badge(wrong: AlarmView) -> Piece:
    """Give mark and word in ``BADGE_WIDTH`` cells, in capitals where it is urgent."""
    mark, word = _mark_and_word(wrong.code)
    said = f"{mark}{word.upper() if wrong.weight is Weight.URGENT else word}"
    return Piece(said[:BADGE_WIDTH].ljust(BADGE_WIDTH), _TONES[wrong.weight][2])


class Faults:
    """What is wrong, by the point that ``AlarmView.where`` names."""

    def __init__(self, wrongs: Iterable[AlarmView]) -> None:
        self._by_point: dict[str, list[AlarmView]] = {}
        for wrong in wrongs:
            self._by_point.setdefault(wrong.where, []).append(wrong)

    def badge(self, *points: str) -> Piece:
        """Give the badge of the most urgent thing at any of these points, blank where nothing is wrong."""
        wrongs = self._at(points)
        return badge(wrongs[0]) if wrongs else Piece(" " * BADGE_WIDTH)

    def tone(self, topic: str, otherwise: Tone, *points: str) -> Tone:
        """Give the tone of one figure: ``amps``, ``volts``, ``hertz``, ``watts``, ``plan`` or ``kW``."""
        weight = self._weight(topic, points)
        return otherwise if weight is None else _TONES[weight][0]

    def fill(self, *points: str) -> Tone:
        """Give the tone of the bar of amps."""
        weight = self._weight("amps", points)
        return Tone.FILL if weight is None else _TONES[weight][1]

    def _weight(self, topic: str, points: Iterable[str]) -> Weight | None:
        return next((wrong.weight for wrong in self._at(points) if _mark_and_word(wrong.code)[1] == topic), None)

    def _at(self, points: Iterable[str]) -> list[AlarmView]:
        wrongs = [wrong for point in points for wrong in self._by_point.get(point, ())]
        return sorted(wrongs, key=lambda wrong: _RANK.index(wrong.weight))


def _mark_and_word(code: str) -> tuple[str, str]:
    found = _WORDS.get(code) or _WORDS.get(code.removeprefix("leg-"))
    return found or (OTHER, "meter" if code.startswith("meter-") else code.rpartition("-")[2])
