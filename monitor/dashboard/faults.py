"""What is wrong, as a mark and a word for each place, and which figure of the place it concerns."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple

from monitor.alarms.model import Priority
from monitor.dashboard.needs import asks
from monitor.dashboard.pieces import Piece, Tone

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from monitor.engine.snapshot import AlarmView

BADGE_WIDTH = 7
ABOVE, BELOW, OTHER = "▲", "▼", "■"


class _Sign(NamedTuple):
    """How a rule's alarm is marked.

    Attributes:
        mark: on which side of its limit it is, or neither.
        word: at most ``BADGE_WIDTH`` less one cells.
        figure: the figure on the line of its place that it concerns.

    """

    mark: str
    word: str
    figure: str = ""


SIGNS: Mapping[str, _Sign] = MappingProxyType(
    {
        "near-rating": _Sign(ABOVE, "near", "amps"),
        "above-rating": _Sign(ABOVE, "amps", "amps"),
        "far-above-rating": _Sign(ABOVE, "amps", "amps"),
        "heat-past-late": _Sign(ABOVE, "heat"),
        "over-plan": _Sign(ABOVE, "plan", "plan"),
        "volts-low": _Sign(BELOW, "volts", "volts"),
        "volts-high": _Sign(ABOVE, "volts", "volts"),
        "volts-far-low": _Sign(BELOW, "volts", "volts"),
        "hertz-low": _Sign(BELOW, "hertz", "hertz"),
        "hertz-high": _Sign(ABOVE, "hertz", "hertz"),
        "source-kw": _Sign(ABOVE, "kW", "kW"),
        "source-kva": _Sign(ABOVE, "kVA", "kVA"),
        "source-low-load": _Sign(BELOW, "load", "kW"),
        "fuel-reserve": _Sign(BELOW, "fuel"),
        "fuel-time": _Sign(BELOW, "fuel"),
        "legs-unbalanced": _Sign(OTHER, "legs"),
        "neutral-over": _Sign(ABOVE, "amps", "amps"),
        "lost-neutral": _Sign(OTHER, "N lost", "volts"),
        "lost-leg": _Sign(OTHER, "L lost", "volts"),
        "wrong-service": _Sign(OTHER, "supply", "volts"),
        "circuit-opened": _Sign(OTHER, "opened", "amps"),
        "feeder-lost": _Sign(OTHER, "lost", "volts"),
        "source-lost": _Sign(OTHER, "lost", "volts"),
        "meter-silent": _Sign(OTHER, "silent"),
        "value-implausible": _Sign(OTHER, "value"),
        "run-resistance": _Sign(ABOVE, "run", "volts"),
        "log-not-written": _Sign(OTHER, "log"),
        "clock-stepped": _Sign(OTHER, "clock"),
    }
)
GONE = frozenset({"circuit-opened", "feeder-lost", "source-lost"})  # said first: an alarm of amps is of before
_RANK = (Priority.URGENT, Priority.HIGH, Priority.LOW)
_TONES = MappingProxyType(
    {
        Priority.URGENT: (Tone.URGENT, Tone.URGENT_FILL, Tone.URGENT_BADGE),
        Priority.HIGH: (Tone.HIGH, Tone.HIGH_FILL, Tone.HIGH_BADGE),
        Priority.LOW: (Tone.LOW, Tone.LOW_FILL, Tone.LOW_BADGE),
    }
)


def badge(alarm: AlarmView) -> Piece:
    """Give mark and word in ``BADGE_WIDTH`` cells, in capitals where it is urgent; quieter once acknowledged."""
    sign = _sign(alarm.code)
    said = f"{sign.mark}{sign.word.upper() if alarm.weight is Priority.URGENT else sign.word}"
    tone = _TONES[alarm.weight][2 if asks(alarm) else 0]
    return Piece(said[:BADGE_WIDTH].ljust(BADGE_WIDTH), tone)


class Faults:
    """What is wrong, by the point that ``AlarmView.where`` names."""

    def __init__(self, wrongs: Iterable[AlarmView]) -> None:
        self._by_point: dict[str, list[AlarmView]] = {}
        for wrong in wrongs:
            self._by_point.setdefault(wrong.where, []).append(wrong)

    def badge(self, *points: str) -> Piece:
        """Give the badge of a loss, else of the most urgent thing at these points; blank where nothing is wrong."""
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

    def _weight(self, topic: str, points: Iterable[str]) -> Priority | None:
        return next((wrong.weight for wrong in self._at(points) if _sign(wrong.code).figure == topic), None)

    def _at(self, points: Iterable[str]) -> list[AlarmView]:
        wrongs = [wrong for point in points for wrong in self._by_point.get(point, ())]
        return sorted(wrongs, key=lambda wrong: (wrong.code not in GONE, _RANK.index(wrong.weight), not asks(wrong)))


def _sign(code: str) -> _Sign:
    """Give a rule's sign; a rule of a newer log that is not known here is named by its last word."""
    return SIGNS.get(code) or _Sign(OTHER, code.rpartition("-")[2])
