"""The questions about what the channels of one meter measure."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from monitor.setup.places import circuit_questions, feeding, legs_of, tap_question
from monitor.setup.readers import ID, maybe
from monitor.setup.talk import NOTHING, Question
from monitor.show.model import NEUTRAL, SOURCE_ID

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from monitor.setup.draft import ShowDraft
    from monitor.setup.talk import Talk

Row = dict[str, Any]


def ask_points(talk: Talk, draft: ShowDraft, read: Row, known: Row, live: Callable[[], Row]) -> dict[str, str]:
    """Ask what each channel measures; circuits that are not there yet are asked for.

    Args:
        talk: asks.
        draft: takes new circuits.
        read: what the meter gave (``Wire.read``).
        known: the meter's table, where the show has it already.
        live: reads the meter now.

    """
    before: Mapping[str, str] = known.get("points", {})
    taken = {
        point: f"{meter.get('bus')} unit {meter.get('unit', 1)}"
        for meter in draft.tables("meter")
        if meter != known
        for point in meter.get("points", {}).values()
    }
    if read["problem"]:
        talk.tell(f"  {read['problem']}")
    talk.tell("  What does each channel measure? A circuit's id (new ones too), box1/L1, source/L1; Enter: nothing")
    if before:
        talk.tell(f'  "{NOTHING}" for nothing where something stands in brackets')
    points: dict[str, str] = {}
    for one in read["channels"]:
        channel = str(one["channel"])
        used = {**taken, **dict.fromkeys(points.values(), "this meter")}
        usual = before.get(channel, "")
        asked = Question(
            f"{channel}, which read {one['reads']}",
            default=usual,
            choices=((NOTHING if usual else "", "nothing"), *((p, p) for p in _free(draft, used))),
            channel=channel,
            live=live,
        )
        point = talk.ask(asked, maybe(_point(draft, used)))
        if point is None:
            continue
        points[channel] = point
        place, slash, _ = point.partition("/")
        if place != SOURCE_ID and not draft.find("feeder", id=place) and not draft.find("circuit", id=place):
            circuit_questions(talk, draft, place, by_leg=bool(slash))
        elif draft.find("circuit", id=place) and place not in _places((*used, *before.values())):
            tap_question(talk, draft, place)
    return points


def _places(points: Iterable[str]) -> set[str]:
    return {point.partition("/")[0] for point in points}


def _free(draft: ShowDraft, used: Mapping[str, str]) -> list[str]:
    """Name the points that are there and not measured yet, circuits first."""
    places = [*(str(one["id"]) for one in draft.tables("circuit") if "id" in one), *feeding(draft)]
    points = (point for place in places for point in (place, *(f"{place}/{leg}" for leg in legs_of(draft, place))))
    return [point for point in points if not point_fault(draft, point, used)]


def _point(draft: ShowDraft, taken: Mapping[str, str]) -> Callable[[str], str]:
    def read(text: str) -> str:
        fault = point_fault(draft, text, taken)
        if fault:
            raise ValueError(fault)
        return text

    return read


def point_fault(draft: ShowDraft, point: str, taken: Mapping[str, str]) -> str:
    """Say what is wrong with a point as typed, or nothing; a circuit that is not there yet is no fault."""
    place, slash, leg = point.partition("/")
    if not ID.fullmatch(place):
        return "type a circuit's id, or a place and its leg as in box1/L1 or source/L1"
    if point in taken:
        return f"{point} is measured by {taken[point]} already"
    whole = place != SOURCE_ID and draft.find("feeder", id=place) is None
    legs = legs_of(draft, place)
    if not whole and not slash and len(legs) > 1:
        return f"{place} has {len(legs)} legs: type {' or '.join(f'{place}/{one}' for one in legs)}"
    if whole and any(place == one.partition("/")[0] for one in taken if (not slash) != ("/" not in one)):
        return f"{place} is measured both as a whole and by leg then: keep one of the two"
    if slash and leg not in legs and (whole or leg != NEUTRAL):
        return f"{place} has no {leg}: it has {', '.join(legs)}"
    return ""
