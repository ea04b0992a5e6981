"""The report of a shift: what every circuit carried, what happened, who saw to it."""

from __future__ import annotations

from dataclasses import dataclass
from math import fsum
from typing import TYPE_CHECKING

from monitor.electrical.headroom import continuous_limit
from monitor.electrical.loads import planned_amps
from monitor.review import parts
from monitor.review.markup import table, tag
from monitor.review.panel import Mark
from monitor.review.past import found_between, metered
from monitor.review.plots import plot
from monitor.review.series import of_minutes
from monitor.review.sheet import document, section
from monitor.review.source_power import power, used
from monitor.review.times import moment
from monitor.review.wording import NOT_FACT, WHAT, counted, last_on, names_of, places, sure
from monitor.show.model import NEUTRAL, SOURCE_ID

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from xml.etree.ElementTree import Element

    from monitor.incidents.model import Incident
    from monitor.log.reader import LogReader
    from monitor.log.records import Minute
    from monitor.review.parts import Origin
    from monitor.review.past import Found
    from monitor.show.model import Circuit, Show

MOST_SLOTS = 720  # of a plot: minutes up to half a day, more of them put together for longer


@dataclass(frozen=True, slots=True)
class Carried:
    """What one circuit carried over a shift; None is "not measured".

    Attributes:
        circuit: as in the show.
        readings: good ones, of the leg with most.
        mean_amps: over all readings, highest leg [A].
        highest_amps: single reading, any leg [A].
        over_minutes: minutes with a reading above the rating, of the leg with most.
        lowest_volts: single reading, any leg; of a circuit that was off it is near zero [V].
        highest_volts: single reading, any leg [V].
        kilowatt_hours: all legs [kWh].

    """

    circuit: Circuit
    readings: int
    mean_amps: float | None
    highest_amps: float | None
    over_minutes: int
    lowest_volts: float | None
    highest_volts: float | None
    kilowatt_hours: float | None


def carried(circuit: Circuit, legs: Sequence[Sequence[Minute]], over_minutes: int) -> Carried:
    """Add up one circuit's minutes (or slots of them), a list a metered leg."""
    amps = [[(slot.amps, slot.samples) for slot in leg if slot.amps is not None and slot.samples] for leg in legs]
    volts = [slot.volts for leg in legs for slot in leg if slot.volts is not None]
    energy = [slot.watt_hours for leg in legs for slot in leg if slot.watt_hours is not None]
    means = [fsum(span[1] * n for span, n in leg) / sum(n for _, n in leg) for leg in amps if leg]
    return Carried(
        circuit=circuit,
        readings=max((sum(slot.samples for slot in leg) for leg in legs), default=0),
        mean_amps=max(means, default=None),
        highest_amps=max((span[2] for leg in amps for span, _ in leg), default=None),
        over_minutes=over_minutes,
        lowest_volts=min((low for low, _, _ in volts), default=None),
        highest_volts=max((high for _, _, high in volts), default=None),
        kilowatt_hours=fsum(energy) / 1000 if energy else None,
    )


def shift_report(reader: LogReader, stretch: tuple[int, int], where: Origin) -> str:
    """Give the report over a stretch [ms, the log's clock] as one HTML document.

    Raises:
        LogProblem: the log can't be read.

    """
    show = where.then.show
    zone = show.timezone
    found = found_between(reader, *stretch)
    each = max(1, -(-(stretch[1] - stretch[0]) // 60_000 // MOST_SLOTS))
    slots = reader.slots(*stretch, each)
    rows = _carried(reader, show, stretch, slots)
    changes = reader.alarm_changes(*stretch)
    unplanned = [step for step in found.steps if step.step.kind == "on" and not step.step.match]
    drawn = used(power(reader, show, *stretch), show.source.rated_kw)
    energy = "not known" if drawn is None else f"{drawn.kilowatt_hours:.1f} kWh"
    raised = sum(change.before == "normal" for change in changes)
    short = (
        (
            f"{counted(len(found.incidents), 'incident')}; {counted(raised, 'alarm')} raised;"
            f" {counted(len(unplanned), 'load')} came on and fit no planned load. Energy of the source: {energy}."
        ),
        _busiest(rows),
        NOT_FACT,
    )
    sections = [
        section("In short", tag("div", *(tag("p", line) for line in short), class_="short")),
        _incidents(found.incidents, show),
        _circuits(rows, show),
        _plots(slots, each, found, show, stretch),
        parts.alarms(changes, zone),
        parts.steps(unplanned, zone, "Loads that came on and fit no planned load"),
        parts.notes(reader.notes_between(*stretch), zone),
        parts.gaps(found.gaps, zone),
        parts.origin(where),
    ]
    under = f"{show.name}. {moment(stretch[0], zone)} to {moment(stretch[1], zone)}."
    return document("Report of a shift", under, sections)


def _carried(
    reader: LogReader, show: Show, stretch: tuple[int, int], slots: Mapping[str, list[Minute]]
) -> list[Carried]:
    points = {c.id: [str(point) for point in metered(show, (c.id,))] for c in show.circuits}
    above = reader.minutes_above(*stretch, {name: c.breaker.amps for c in show.circuits for name in points[c.id]})
    over = {place: max((above.get(name, 0) for name in names), default=0) for place, names in points.items()}
    return [carried(c, [slots.get(name, []) for name in points[c.id]], over[c.id]) for c in show.circuits]


def _busiest(rows: Iterable[Carried]) -> str:
    loaded = [(row.highest_amps / row.circuit.breaker.amps, row) for row in rows if row.highest_amps is not None]
    if not loaded:
        return "No circuit was measured."
    share, row = max(loaded, key=lambda one: one[0])
    return (
        f"Nearest to its rating, or furthest above it: {row.circuit.id}, {row.highest_amps:.1f} A in one reading on a"
        f" {row.circuit.breaker.amps:g} A breaker ({100 * share:.0f} %)."
    )


def _incidents(incidents: Sequence[Incident], show: Show) -> Element:
    rows = [
        (
            str(one.number),
            moment(one.begin_ms, show.timezone),
            places(one.points, names_of(show)),
            f"{WHAT[one.kind]}: {sure(one.confidence)}",
            last_on(one),
        )
        for one in incidents
    ]
    heads = ("N", "when", "where", "what the readings fit best", "last load on")
    return section("Incidents", table(heads, rows) if rows else "None was found in this time.")


def _circuits(carried_by: Iterable[Carried], show: Show) -> Element:
    rows = []
    for one in carried_by:
        circuit = one.circuit
        limit = continuous_limit(circuit.breaker, show.setting("continuous_percent", circuit))
        rows.append(
            (
                f"{circuit.id} {circuit.name if circuit.name != circuit.id else ''}".rstrip(),
                f"{planned_amps(circuit, show.source.system):.1f}" if circuit.load else "-",
                _figure(one.mean_amps),
                _figure(one.highest_amps),
                f"{limit:g}",
                f"{circuit.breaker.amps:g}",
                str(one.over_minutes) if one.readings else "-",
                _figure(one.lowest_volts),
                _figure(one.highest_volts),
                _figure(one.kilowatt_hours),
                str(one.readings),
            )
        )
    heads = (
        "circuit", "A planned", "A mean", "A highest", "A continuous limit", "A breaker", "min with a reading above",
        "V lowest", "V highest", "kWh", "readings",
    )  # fmt: skip
    said = "- is not measured, or nothing planned. Lowest volts of a circuit that opened or was off are near zero."
    return section("Circuits: plan against measured", said, table(heads, rows, figures=range(1, 11)))


def _figure(value: float | None) -> str:
    return "-" if value is None else f"{value:.1f}"


def _plots(slots: Mapping[str, list[Minute]], each: int, found: Found, show: Show, stretch: tuple[int, int]) -> Element:
    marks = [Mark(one.begin_ms, f"N{one.number}", "incident") for one in found.incidents]
    pictures: list[Element] = []
    source = metered(show, (SOURCE_ID,))
    for point in source:
        wanted = ("amps", "volts", "hertz") if point == source[0] else ("amps", "volts")
        for quantity in wanted if point.leg != NEUTRAL else ("amps",):
            series = of_minutes(slots.get(str(point), ()), quantity, each)
            pictures.append(plot(show, point, quantity, series, stretch, marks=marks, gaps=found.gaps))
    for circuit in show.circuits:
        for point in metered(show, (circuit.id,)):
            series = of_minutes(slots.get(str(point), ()), "amps", each)
            pictures.append(plot(show, point, "amps", series, stretch, marks=marks, gaps=found.gaps))
    said = (
        "The line is the mean, the band reaches from the lowest to the highest reading. N: an incident."
        " Dashes: a limit or rating. Dots: the plan. Hatched and open: no readings."
    )
    return section("Over the time", said, *pictures)
