"""The questions about the show, its source, its boxes and its circuits."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from monitor.show.model import NEUTRAL, SOURCE_ID, SYSTEM_LEGS

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from monitor.setup.draft import ShowDraft
    from monitor.setup.talk import Talk
    from monitor.show.model import System

SYSTEMS: Mapping[str, tuple[tuple[System, str], ...]] = {
    "north-america": (
        ("120/240", "120/240: two hots and a neutral, 240 V between the hots"),
        ("208Y/120", "208Y/120: three hots and a neutral, 208 V between the hots"),
    ),
    "europe": (
        ("400Y/230", "400Y/230: three legs and a neutral, 400 V between the legs"),
        ("230", "230: one leg and a neutral"),
    ),
}
_USUAL_AMPS = {"north-america": "20", "europe": "16"}
_ID = re.compile(r"[A-Za-z0-9_.-]+")
_PAIR = 2


def number(low: float, high: float, what: str) -> Callable[[str], float]:
    """Make a reader of numbers with a unit that may be left out."""

    def read(text: str) -> float:
        found = re.fullmatch(r"(\d+(?:[.,]\d+)?)\s*[A-Za-z]*", text)
        value = float(found[1].replace(",", ".")) if found else -1.0
        if not low <= value <= high:
            raise ValueError(f"type {what} as a number from {low:g} to {high:g}")
        return int(value) if value.is_integer() else value

    return read


def maybe(read: Callable[[str], Any]) -> Callable[[str], Any]:
    """Let a reader take nothing, which gives None."""
    return lambda text: read(text) if text else None


def show_part(talk: Talk, draft: ShowDraft, zone: str) -> None:
    """Ask for the show's name, region and zone, or keep what is there."""
    known = draft.table("show")
    talk.tell("\nThe show")
    if known.get("name") and talk.yes(f'Keep it: "{known["name"]}", {known.get("region")}, {known.get("timezone")}?'):
        return
    name = talk.ask("Name of the show", _filled, known.get("name"))
    regions = [("north-america", "north-america"), ("europe", "europe: 230 V a leg, IEC breakers")]
    region = talk.choose("Region", regions, 2 if known.get("region") == "europe" else 1)
    timezone = talk.ask("Time zone", _zone, known.get("timezone", zone))
    draft.set("show", {"name": name, "region": region, "timezone": timezone})


def source_part(talk: Talk, draft: ShowDraft) -> None:
    """Ask for the source, or keep what is there."""
    known = draft.table("source")
    talk.tell("\nThe source")
    if known.get("system") and talk.yes(f"Keep it: {known.get('kind')}, {known['system']}?"):
        return
    kind = talk.choose("Kind", [("generator", "a generator"), ("house", "a house tie-in")])
    systems = SYSTEMS.get(str(draft.table("show").get("region")), SYSTEMS["north-america"])
    system = talk.choose("Voltage system", systems)
    values: dict[str, Any] = {"kind": kind, "system": system}
    if kind == "generator":
        values["rated_kw"] = talk.ask("Rated kW, from its nameplate", number(0.1, 10_000, "kilowatts"), None)
        values["rated_kva"] = talk.ask("Rated kVA (Enter: not known)", maybe(number(values["rated_kw"], 10_000, "kVA")))
    legs = " or ".join(SYSTEM_LEGS[system])
    amps = maybe(number(1, 10_000, "amps"))
    values["amps_per_leg"] = talk.ask(f"Amps that one leg ({legs}) may carry (Enter: not known)", amps)
    engine = {} if kind == "generator" else dict.fromkeys(("governor", "performance_class", "fuel", "rated_kva"))
    draft.set("source", {**engine, **values})


def boxes_part(talk: Talk, draft: ShowDraft) -> None:
    """Ask for boxes and feeders until there are no more."""
    talk.tell("\nBoxes between the source and the circuits, nearest to the source first")
    _tell_known(talk, "known", [str(box["id"]) for box in draft.tables("feeder") if "id" in box])
    while (box := talk.ask("Id of a box (Enter: no more)", maybe(_id))) is not None:
        _box(talk, draft, box)


def _box(talk: Talk, draft: ShowDraft, box: str) -> None:
    known = draft.find("feeder", id=box) or {}
    feeds = [name for name in feeding(draft) if name != box]
    name = talk.ask(f"{box}: its name", _filled, known.get("name", box))
    fed_from = talk.ask(f"{box}: fed from", _one_of(feeds), known.get("fed_from", SOURCE_ID))
    amps = talk.ask(
        f"{box}: amps of the breaker before it (Enter: none)", maybe(number(1, 10_000, "amps")), _amps(known)
    )
    legs = legs_of(draft, fed_from)
    breaker = None if amps is None else {**known.get("breaker", {"poles": len(legs)}), "amps": amps}
    draft.put("feeder", {"id": box}, {"name": name, "fed_from": fed_from, "breaker": breaker})


def circuits_part(talk: Talk, draft: ShowDraft) -> None:
    """Ask for circuits to add or change until there are no more."""
    talk.tell("\nCircuits: those without a meter, and those to change")
    _tell_known(talk, "known", [str(one["id"]) for one in draft.tables("circuit") if "id" in one])
    while (circuit := talk.ask("Id of a circuit (Enter: no more)", maybe(_id))) is not None:
        circuit_questions(talk, draft, circuit)


def circuit_questions(talk: Talk, draft: ShowDraft, circuit: str, *, by_leg: bool = False) -> None:
    """Ask for one circuit's name, feed, legs, breaker and plan; ``by_leg``: it will have more legs than one."""
    known = draft.find("circuit", id=circuit) or {}
    region = str(draft.table("show").get("region"))
    name = talk.ask(f"{circuit}: its name", _filled, known.get("name", circuit))
    feeds = feeding(draft)
    fed_from = talk.ask(f"{circuit}: fed from ({', '.join(feeds)})", _one_of(feeds), known.get("fed_from", feeds[-1]))
    legs = legs_of(draft, fed_from)
    usual = ",".join(known.get("legs") or (legs if by_leg else legs[:1]))
    chosen = legs if len(legs) == 1 else talk.ask(f"{circuit}: its leg or legs ({', '.join(legs)})", _legs(legs), usual)
    rated = talk.ask(
        f"{circuit}: amps of its breaker", number(1, 10_000, "amps"), _amps(known) or _USUAL_AMPS.get(region)
    )
    breaker: dict[str, Any] = {**known.get("breaker", {}), "amps": rated}
    if len(chosen) > 1:
        breaker.setdefault("poles", len(chosen))
    if region == "europe" and breaker.get("standard", "IEC 60898-1") == "IEC 60898-1":
        breaker["class"] = talk.ask(f"{circuit}: class of its breaker (B, C or D)", _class, breaker.get("class", "C"))
    values: dict[str, Any] = {"name": name, "fed_from": fed_from, "legs": list(chosen), "breaker": breaker}
    loads = [dict(load) for load in known.get("load", [])]
    if loads:
        _tell_known(talk, "planned", [f"{load.get('name')} {load.get('watts')} W" for load in loads])
    while (watts := talk.ask(f"{circuit}: watts of a planned load (Enter: no more)", maybe(_watts))) is not None:
        loads.append({"name": talk.ask("  what is it", _filled, "Load"), "watts": watts})
    if loads:
        values["load"] = loads
    draft.put("circuit", {"id": circuit}, values)


def feeding(draft: ShowDraft) -> list[str]:
    """Name what can feed a circuit: the source and the boxes."""
    return [SOURCE_ID, *(str(box["id"]) for box in draft.tables("feeder") if "id" in box)]


def legs_of(draft: ShowDraft, place: str) -> tuple[str, ...]:
    """Give the legs of a place; those of what feeds it where it names none."""
    seen: set[str] = set()
    while place != SOURCE_ID and place not in seen:
        seen.add(place)
        table = draft.find("feeder", id=place) or draft.find("circuit", id=place) or {}
        if table.get("legs"):
            return tuple(map(str, table["legs"]))
        place = str(table.get("fed_from", SOURCE_ID))
    system = draft.table("source").get("system")
    return SYSTEM_LEGS.get(system, ("L1",)) if isinstance(system, str) else ("L1",)


def point_fault(draft: ShowDraft, point: str, taken: Mapping[str, str]) -> str:
    """Say what is wrong with a point as typed, or nothing; a circuit that is not there yet is no fault."""
    place, slash, leg = point.partition("/")
    if not _ID.fullmatch(place):
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


def _tell_known(talk: Talk, word: str, names: list[str]) -> None:
    if names:
        talk.tell(f"  {word}: {', '.join(names)}")


def _amps(known: Mapping[str, Any]) -> str:
    amps = known.get("breaker", {}).get("amps")
    return "" if amps is None else f"{amps:g}"


def _filled(text: str) -> str:
    if not text.strip() or not text.isprintable():
        raise ValueError("type a name")
    return text.strip()


def _id(text: str) -> str:
    if not _ID.fullmatch(text):
        raise ValueError('use letters, digits, "_", "." and "-" only, without spaces')
    if text == SOURCE_ID:
        raise ValueError("the source is there already; type another id")
    return text


def _zone(text: str) -> str:
    try:
        ZoneInfo(text)
    except (KeyError, ValueError, OSError):
        raise ValueError(f'no time zone is called "{text}"; write it like America/Halifax or Europe/Vienna') from None
    return text


def _one_of(names: list[str]) -> Callable[[str], str]:
    def read(text: str) -> str:
        if text not in names:
            raise ValueError(f"type one of {', '.join(names)}")
        return text

    return read


def _legs(legs: tuple[str, ...]) -> Callable[[str], tuple[str, ...]]:
    def read(text: str) -> tuple[str, ...]:
        chosen = tuple(part.strip().upper() for part in re.split(r"[,+ ]+", text) if part.strip())
        if not chosen or len(set(chosen)) != len(chosen) or not set(chosen) <= set(legs):
            raise ValueError(f"type {' or '.join(legs)}, or several with commas between")
        return chosen

    return read


def _class(text: str) -> str:
    if text.upper() not in ("B", "C", "D"):
        raise ValueError("type B, C or D: it stands before the amps on the breaker")
    return text.upper()


_watts = number(1, 1_000_000, "watts")
