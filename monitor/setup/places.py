"""The questions about the show, its source, its boxes and its circuits."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from monitor.setup.readers import (
    burn,
    burn_words,
    cable,
    cable_words,
    curve,
    figure,
    filled,
    identifier,
    maybe,
    number,
    one_of,
    some_of,
    zone,
)
from monitor.setup.talk import NOTHING, Question
from monitor.show.model import SOURCE_ID, SYSTEM_LEGS

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

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
_CABLE_AS: Mapping[str, str] = {"north-america": "12 awg 50 ft", "europe": "2.5 mm2 15 m"}
_TANK = number(1, 100_000, "litres")
_AMPS = number(0.1, 10_000, "amps")
_WATTS = number(1, 1_000_000, "watts")
_PAIR = 2


def show_part(talk: Talk, draft: ShowDraft, here: str) -> None:
    """Ask for the show's name, region and time zone (``here``: that of this place), or keep what is there."""
    known = draft.table("show")
    talk.tell("\nThe show")
    if known.get("name") and talk.yes(f'Keep it: "{known["name"]}", {known.get("region")}, {known.get("timezone")}?'):
        return
    name = talk.ask("Name of the show", filled, known.get("name"))
    regions = [("north-america", "north-america"), ("europe", "europe: 230 V a leg, IEC breakers")]
    region = talk.choose("Region", regions, 2 if known.get("region") == "europe" else 1)
    timezone = talk.ask("Time zone", zone, known.get("timezone", here))
    draft.set("show", {"name": name, "region": region, "timezone": timezone})


def source_part(talk: Talk, draft: ShowDraft) -> None:
    """Ask for the source, or keep what is there."""
    known = draft.table("source")
    talk.tell("\nThe source")
    if known.get("system") and talk.yes(f"Keep it: {known.get('kind')}, {known['system']}?"):
        return
    kinds = [("generator", "a generator"), ("house", "a house tie-in")]
    kind = talk.choose("Kind", kinds, 2 if known.get("kind") == "house" else 1)
    systems = SYSTEMS.get(str(draft.table("show").get("region")), SYSTEMS["north-america"])
    names = [name for name, _ in systems]
    there = known.get("system")
    system = talk.choose("Voltage system", systems, names.index(there) + 1 if there in names else 1)
    values: dict[str, Any] = {"kind": kind, "system": system}
    if kind == "generator":
        rated = figure(known, "rated_kw") or None
        values["rated_kw"] = talk.ask("Rated kW, from its nameplate", number(0.1, 10_000, "kilowatts"), rated)
        kva = figure(known, "rated_kva")
        words = f"Rated kVA ({_none(kva)}: not known)"
        values["rated_kva"] = talk.ask(words, maybe(number(values["rated_kw"], 10_000, "kVA")), kva)
    amps, legs = figure(known, "amps_per_leg"), " or ".join(SYSTEM_LEGS[system])
    words = f"Amps that one leg ({legs}) may carry ({_none(amps)}: not known)"
    values["amps_per_leg"] = talk.ask(words, maybe(_AMPS), amps)
    if kind == "generator":
        values["fuel"] = _fuel(talk, known.get("fuel", {}))
    engine = {} if kind == "generator" else dict.fromkeys(("governor", "performance_class", "fuel", "rated_kva"))
    draft.set("source", {**engine, **values})


def _fuel(talk: Talk, known: Mapping[str, Any]) -> dict[str, Any] | None:
    """Ask for the fuel, or skip it: without it the hours left are not told."""
    points = talk.ask(
        f"Litres per hour at 25, 50, 75 and 100 % of rated kW, as in 2.3 3.4 4.9 6.1 ({_none(known)}: not known)",
        maybe(burn),
        burn_words(known.get("litres_per_hour", {})),
    )
    if points is None:
        return None
    tank = figure(known, "tank_litres") or None
    litres = talk.ask("Litres that its tank holds, from its nameplate", _TANK, tank)
    kinds = [("diesel", "diesel"), ("petrol", "petrol")]
    kind = talk.choose("Fuel", kinds, 2 if known.get("kind") == "petrol" else 1)
    return {**known, "kind": kind, "tank_litres": litres, "litres_per_hour": points}


def boxes_part(talk: Talk, draft: ShowDraft) -> None:
    """Ask for boxes and feeders until there are no more."""
    talk.tell("\nBoxes between the source and the circuits, nearest to the source first")
    _tell_known(talk, "known", [str(box["id"]) for box in draft.tables("feeder") if "id" in box])
    while (box := talk.ask("Id of a box (Enter: no more)", maybe(identifier))) is not None:
        _box(talk, draft, box)


def _box(talk: Talk, draft: ShowDraft, box: str) -> None:
    known = draft.find("feeder", id=box) or {}
    feeds = [name for name in feeding(draft) if name != box]
    name = talk.ask(f"{box}: its name", filled, known.get("name", box))
    fed_from = _fed_from(talk, f"{box}: fed from", feeds, known.get("fed_from", SOURCE_ID))
    amps = talk.ask(
        f"{box}: amps of the breaker before it ({_none(known.get('breaker'))}: none)", maybe(_AMPS), _amps(known)
    )
    legs = legs_of(draft, fed_from)
    breaker = None if amps is None else {**known.get("breaker", {"poles": len(legs)}), "amps": amps}
    length = _cable(talk, draft, box, known)
    draft.put("feeder", {"id": box}, {"name": name, "fed_from": fed_from, "breaker": breaker, "cable": length})


def circuits_part(talk: Talk, draft: ShowDraft) -> None:
    """Ask for circuits to add or change until there are no more."""
    talk.tell("\nCircuits: those without a meter, and those to change")
    _tell_known(talk, "known", [str(one["id"]) for one in draft.tables("circuit") if "id" in one])
    while (circuit := talk.ask("Id of a circuit (Enter: no more)", maybe(identifier))) is not None:
        circuit_questions(talk, draft, circuit)


def circuit_questions(talk: Talk, draft: ShowDraft, circuit: str, *, by_leg: bool | None = None) -> None:
    """Ask for one circuit's name, feed, legs, breaker, cable and plan.

    Args:
        talk: asks.
        draft: takes the circuit.
        circuit: its id.
        by_leg: whether the meter that is being set up measures it leg by leg; None where none is.

    """
    known = draft.find("circuit", id=circuit) or {}
    name = talk.ask(f"{circuit}: its name", filled, known.get("name", circuit))
    feeds = feeding(draft)
    fed_from = _fed_from(talk, f"{circuit}: fed from ({', '.join(feeds)})", feeds, known.get("fed_from", feeds[-1]))
    legs = legs_of(draft, fed_from)
    usual = tuple(known.get("legs") or (legs if by_leg else legs[:1]))
    chosen = legs if len(legs) == 1 else _legs(talk, circuit, legs, usual)
    values: dict[str, Any] = {"name": name, "fed_from": fed_from, "legs": list(chosen)}
    values["breaker"] = _breaker(talk, draft, circuit, known, len(chosen))
    values["cable"] = _cable(talk, draft, circuit, known)
    if by_leg is not None or circuit in measured(draft):
        values["volts_tap"] = _tap(talk, circuit, known)
    if loads := _loads(talk, circuit, known):
        values["load"] = loads
    draft.put("circuit", {"id": circuit}, values)


def _fed_from(talk: Talk, words: str, feeds: list[str], usual: str) -> str:
    return talk.ask(Question(words, default=usual, choices=_as_they_are(feeds)), one_of(feeds))


def _legs(talk: Talk, circuit: str, legs: tuple[str, ...], usual: tuple[str, ...]) -> tuple[str, ...]:
    pairs = [f"{one},{two}" for n, one in enumerate(legs) for two in legs[n + 1 :]]
    offers = [*legs, *pairs, *([",".join(legs)] if len(legs) > _PAIR else [])]
    words = f"{circuit}: its leg or legs ({', '.join(legs)})"
    return talk.ask(Question(words, default=",".join(usual), choices=_as_they_are(offers)), some_of(legs))


def _breaker(talk: Talk, draft: ShowDraft, circuit: str, known: Mapping[str, Any], poles: int) -> dict[str, Any]:
    region = str(draft.table("show").get("region"))
    rated = talk.ask(f"{circuit}: amps of its breaker", _AMPS, _amps(known) or _USUAL_AMPS.get(region))
    breaker: dict[str, Any] = {**known.get("breaker", {}), "amps": rated}
    if poles > 1:
        breaker.setdefault("poles", poles)
    if region == "europe" and breaker.get("standard", "IEC 60898-1") == "IEC 60898-1":
        words = f"{circuit}: class of its breaker (B, C or D)"
        asked = Question(words, default=breaker.get("class", "C"), choices=_as_they_are("BCD"))
        breaker["class"] = talk.ask(asked, curve)
    return breaker


def _cable(talk: Talk, draft: ShowDraft, place: str, known: Mapping[str, Any]) -> dict[str, Any] | None:
    """Ask for the cable to a place, or skip it: without it the volts lost on the way are not reckoned."""
    there: Mapping[str, Any] = known.get("cable", {})
    example = _CABLE_AS.get(str(draft.table("show").get("region")), "12 awg 50 ft")
    words = f"{place}: cable to it, as in {example} ({_none(there)}: not known)"
    answer = talk.ask(words, maybe(cable), cable_words(there))
    return None if answer is None else {**{key: there[key] for key in ("parallel", "amps") if key in there}, **answer}


def tap_question(talk: Talk, draft: ShowDraft, circuit: str) -> None:
    """Ask where a meter that a circuit had none of takes its volts."""
    known = draft.find("circuit", id=circuit) or {}
    draft.put("circuit", {"id": circuit}, {"volts_tap": _tap(talk, circuit, known)})


def _tap(talk: Talk, circuit: str, known: Mapping[str, Any]) -> str | None:
    """Ask where the volts are taken; the usual way is left out of a new circuit's table."""
    sides = [("load", "behind it: they go when it opens"), ("line", "before it: they stay when it opens")]
    words = f"{circuit}: seen from the source, where does the meter take its volts at the circuit's breaker"
    tap = talk.choose(words, sides, 2 if known.get("volts_tap") == "line" else 1)
    return tap if tap == "line" or "volts_tap" in known else None


def _loads(talk: Talk, circuit: str, known: Mapping[str, Any]) -> list[dict[str, Any]]:
    loads = [dict(load) for load in known.get("load", [])]
    if loads:
        _tell_known(talk, "planned", [f"{load.get('name')} {load.get('watts')} W" for load in loads])
    while (watts := talk.ask(f"{circuit}: watts of a planned load (Enter: no more)", maybe(_WATTS))) is not None:
        loads.append({"name": talk.ask("  what is it", filled, "Load"), "watts": watts})
    return loads


def powered_from(talk: Talk, draft: ShowDraft, meter: str, known: Mapping[str, Any]) -> str | None:
    """Ask what powers a meter itself; the usual way is left out of a new meter's table."""
    places = [*feeding(draft), *(str(one["id"]) for one in draft.tables("circuit") if "id" in one)]
    words = f"{meter}: what powers the meter itself (source, or the box or circuit with which it goes dark)"
    usual = known.get("powered_from", SOURCE_ID)
    place = talk.ask(Question(words, default=usual, choices=_as_they_are(places)), one_of(places))
    return None if place == SOURCE_ID and "powered_from" not in known else place


def measured(draft: ShowDraft) -> set[str]:
    """Name the places that meters measure."""
    return {str(point).partition("/")[0] for meter in draft.tables("meter") for point in meter["points"].values()}


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


def _tell_known(talk: Talk, word: str, names: list[str]) -> None:
    if names:
        talk.tell(f"  {word}: {', '.join(names)}")


def _amps(known: Mapping[str, Any]) -> str:
    return figure(known.get("breaker", {}), "amps")


def _none(known: object) -> str:
    """Say what to type for nothing: Enter would take what is known."""
    return f'"{NOTHING}"' if known else "Enter"


def _as_they_are(names: Iterable[str]) -> tuple[tuple[str, str], ...]:
    return tuple((name, name) for name in names)
