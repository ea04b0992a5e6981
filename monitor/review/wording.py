"""What is said of incidents and steps in plain words: what is shown, how sure, and never a cause as fact."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, TypeAlias

from monitor.incidents.model import Kind
from monitor.show.model import SOURCE_ID

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from monitor.incidents.model import FoundStep, Incident
    from monitor.show.model import Point, Show

    Names: TypeAlias = Mapping[str, str]

WHAT: Mapping[Kind, str] = MappingProxyType(
    {
        Kind.OVERLOAD_TRIP: "a circuit opened after more load than its rating",
        Kind.FAULT_TRIP: "a circuit opened at once, as after a short circuit",
        Kind.OPENED_CAUSE_NOT_SHOWN: "a circuit opened; the cause is not shown",
        Kind.UPSTREAM_LOSS: "several places lost their supply together: something opened above them",
        Kind.SOURCE_STOPPED: "the source stopped",
        Kind.SOURCE_OVERLOAD: "hertz and volts gave way while the source was near its rating",
        Kind.FUEL_OR_GOVERNOR: "hertz moved without a load to explain it: fuel, air or governor",
        Kind.OVERVOLTAGE: "volts were above what loads are made for",
        Kind.UNDERVOLTAGE_SOURCE: "volts were low from the source on",
        Kind.UNDERVOLTAGE_RUN: "volts were low at the end of a run, not at its begin",
        Kind.LOST_NEUTRAL: "the legs moved apart as they do without a neutral",
        Kind.LOST_LEG: "one leg went away, the others stayed",
        Kind.RESISTANCE_RISE: "the resistance of a run or of a joint in it rose",
        Kind.WRONG_SERVICE: "the volts are those of another service than the show file names",
        Kind.METER_SILENT: "a meter gave no readings",
    }
)
_SURE = ((0.85, "very likely"), (0.65, "likely"), (0.4, "possible"), (0.0, "weakly supported"))
SPEAKS: Mapping[str, str] = MappingProxyType({"for": "for it", "against": "against it", "beside": "beside it"})
NOT_FACT = (
    "What an incident is taken for is what the readings fit best, not a finding of cause: a qualified person decides."
)


def sure(confidence: float) -> str:
    """Give a confidence, 0 to 1, as a word."""
    return next(word for least, word in _SURE if confidence >= least)


def names_of(show: Show) -> Names:
    """Give the names of a show's places by their ids."""
    named = {SOURCE_ID: show.source.name}
    named |= {circuit.id: circuit.name for circuit in show.circuits}
    return named | {feeder.id: feeder.name for feeder in show.feeders}


def places(points: Iterable[Point], names: Names) -> str:
    """Name where an incident is, the first place with its name; the rest counted where they are many."""
    named = list(dict.fromkeys(points))
    if not named:
        return "the whole set"
    first = place(named[0], names)
    rest = [str(point) for point in named[1:]]
    if not rest:
        return first
    most = 6
    more = ", ".join(rest[:most]) + (f" and {len(rest) - most} more" if len(rest) > most else "")
    return f"{first}; with it {more}"


def place(point: Point, names: Names) -> str:
    """Name a point, with the place's name where it has one beside its id."""
    name = names.get(point.place, "")
    return f"{point} ({name})" if name and name != point.place else str(point)


def last_on(incident: Incident) -> str:
    """Say what came on last before an incident, and whether it was planned."""
    if not incident.last_on:
        return "not known from this log"
    planned = {True: "in the plan", False: "not in the plan", None: "whether it was planned is not known"}
    return f"{incident.last_on}, {planned[incident.last_on_planned]}"


def amount(found: FoundStep) -> str:
    """Say how large a step is, with its sign; on is positive."""
    step = found.step
    parts = [] if step.watts is None else [f"{step.watts:+.0f} W"]
    parts += [] if step.amps is None else [f"{step.amps:+.1f} A"]
    return ", ".join(parts) or "size not measured"


def signed(difference: float) -> str:
    """Write a difference with its sign, none on a nought."""
    text = f"{difference:+.1f}"
    return text if text.strip("+-0.") else "0.0"


def match(found: FoundStep) -> str | None:
    """Name the planned loads a step is taken for; None where nobody planned it."""
    return " + ".join(dict.fromkeys(found.step.match)) or None


def load(found: FoundStep) -> str:
    """Say which load a step may be, and how it came."""
    pieces = found.step.match
    counted = [f"{pieces.count(name)} x {name}" if pieces.count(name) > 1 else name for name in dict.fromkeys(pieces)]
    behaviour = "" if found.step.behaviour == "steady" else f", {found.step.behaviour}"
    return (" and ".join(counted) or "no planned load of that size") + behaviour


def counted(number: int, word: str) -> str:
    """Give ``1 alarm`` or ``2 alarms``."""
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def plain(text: str) -> str:
    """Give a text that somebody wrote without characters that could steer a terminal or a page."""
    return "".join(sign if sign.isprintable() else " " for sign in text)
