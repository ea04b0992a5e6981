"""Parts that several reports have: alarms, steps, notes, gaps, and where the readings come from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from monitor.alarms.saying import became
from monitor.review.markup import table, tag
from monitor.review.sheet import section
from monitor.review.times import iso, moment, span
from monitor.review.wording import amount, load

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from xml.etree.ElementTree import Element

    from monitor.alarms.model import AlarmChange
    from monitor.incidents.model import FoundStep
    from monitor.log.gaps import Gap
    from monitor.log.records import Note
    from monitor.review.then import ShowThen
    from monitor.show.model import Meter, Show

_MOST = 400


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a report comes from.

    Attributes:
        log: the log's name.
        then: the show file in force.
        mapped: the same show with the register maps as they are found now; None where they are not at hand.
        wrote: version of legwatch that wrote the log last, or empty.
        made: version of legwatch that makes the report, or empty.
        made_ms: when the report is made [ms since 1970 UTC].

    """

    log: str
    then: ShowThen
    mapped: Show | None
    wrote: str
    made: str
    made_ms: int


def alarms(changes: Sequence[AlarmChange], zone: str, marked: dict[int, str] | None = None) -> Element:
    """Give every change of alarms, with who and when."""
    rows = [
        (
            (marked or {}).get(n, ""),
            moment(change.time_ms, zone),
            f"{change.alarm.code}, {change.alarm.where}",
            became(change),
            f"{change.alarm.who}{': ' + change.alarm.why if change.alarm.why else ''}",
            change.alarm.seen,
        )
        for n, change in enumerate(changes)
    ]
    heads = ("", "when", "alarm, place", "what became of it", "by", "what was seen")
    return section("Alarms, with who and when", *_bounded(heads, rows, "No alarm changed in this time."))


def steps(found: Sequence[FoundStep], zone: str, title: str, marked: dict[int, str] | None = None) -> Element:
    """Give loads that came on and went off."""
    rows = [
        ((marked or {}).get(n, ""), moment(one.time_ms, zone), one.circuit, amount(one), load(one), one.note)
        for n, one in enumerate(found)
    ]
    heads = ("", "when", "circuit", "change", "planned load it fits", "not shown")
    return section(title, *_bounded(heads, rows, "None was found in this time."))


def notes(entries: Iterable[Note], zone: str) -> Element:
    """Give what people entered."""
    rows = [
        (
            moment(note.time_ms, zone),
            note.who,
            note.kind if note.number is None else f"{note.kind}, {note.number:g} {note.quantity}",
            note.place,
            note.text,
        )
        for note in entries
    ]
    heads = ("when", "who", "kind", "about", "text")
    return section("What people entered", *_bounded(heads, rows, "Nothing was entered in this time."))


def gaps(found: Iterable[Gap], zone: str) -> Element:
    """Give the times without good readings."""
    rows = [
        (
            str(gap.point),
            moment(gap.begin_ms, zone),
            "no end in this log" if gap.end_ms is None else moment(gap.end_ms, zone),
            "" if gap.end_ms is None else span((gap.end_ms - gap.begin_ms) / 1000),
            ": ".join(filter(None, (gap.reason, gap.detail))),
        )
        for gap in found
    ]
    said = "What happened in these times is not known; the plots leave them open, and nothing is counted across them."
    heads = ("point", "from", "to", "length", "why")
    return section("Gaps in the readings", said if rows else None, *_bounded(heads, rows, "None in this time."))


def origin(where: Origin) -> Element:
    """Say which meters, maps, show file and software stand behind the figures."""
    then = where.then
    zone = then.show.timezone
    told = (
        (
            f"Log {where.log}, written by legwatch {where.wrote or 'of a version that the log does not name'};"
            f" report made by legwatch {where.made or '(version not known)'} at {iso(where.made_ms, zone)}."
        ),
        (
            f"Show file version {then.version.number} of this log, in force from {moment(then.version.from_ms, zone)},"
            f" SHA-256 {then.version.sha256}; its whole text is in the log."
        ),
        (
            f"Times are those of the log's clock in {zone}, with their offset from UTC. Between meters the order of"
            " what happened within one round of polling is not known."
        ),
        "Register maps and scales are those found now; the log holds the readings as they were decoded then."
        if where.mapped
        else "The register maps were not at hand when this report was made: scales are not listed.",
    )
    meters = (where.mapped or then.show).meters
    rows = [(f"{m.bus}, unit {m.unit}", _map(m), _scale(m), m.powered_from, _points(m)) for m in meters]
    heads = ("meter", "register map and its source", "scale factors", "powered from", "channels and points")
    return section("Where the readings come from", *told, table(heads, rows) if rows else None)


def _map(meter: Meter) -> str:
    known = meter.map or meter.fields
    return f"{meter.map_name}: {known.source}" if known is not None else meter.map_name or "none"


def _scale(meter: Meter) -> str:
    if meter.map is None:
        return "not listed"
    factors = dict.fromkeys(
        f"{value.quantity} x {value.scale:g}" + (" x 10^(register)" if value.scale_from is not None else "")
        for value in meter.map.values
    )
    return ", ".join(factors)


def _points(meter: Meter) -> str:
    return ", ".join(f"{channel}: {point}" for channel, point in meter.points)


def _bounded(heads: Sequence[str], rows: Sequence[Sequence[str]], none: str) -> tuple[Element, ...]:
    """Give a table of at most so many rows, and say what is left out."""
    if not rows:
        return (tag("p", none),)
    more = len(rows) - _MOST
    said = (tag("p", f"{more} more are in the log: `legwatch export`, or any SQLite tool, gives them."),)
    return (table(heads, rows[:_MOST]), *(said if more > 0 else ()))
