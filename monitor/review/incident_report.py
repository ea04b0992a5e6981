"""The report of one incident: what is shown, what is not, and the readings themselves."""

from __future__ import annotations

from itertools import chain
from typing import TYPE_CHECKING

from monitor.review import parts
from monitor.review.against_plan import before
from monitor.review.markup import listing, table, tag
from monitor.review.panel import Mark
from monitor.review.past import found_between, metered, places_of, steps_before, window
from monitor.review.plots import plot
from monitor.review.series import of_minutes, of_readings
from monitor.review.sheet import document, section
from monitor.review.telling import MOST_CIRCUITS, when
from monitor.review.times import iso, moment
from monitor.review.wording import NOT_FACT, WHAT, last_on, names_of, place, places, signed, sure
from monitor.show.model import NEUTRAL, SOURCE_ID

if TYPE_CHECKING:
    from collections.abc import Sequence
    from xml.etree.ElementTree import Element

    from monitor.alarms.model import AlarmChange
    from monitor.engine.reading import Reading
    from monitor.incidents.model import FoundStep, Incident
    from monitor.log.gaps import Gap
    from monitor.log.reader import LogReader
    from monitor.review.parts import Origin
    from monitor.show.model import Point, Show

_MOST_POINTS, _MOST_BESIDE = 6, 3
_ROWS_BEFORE_MS, _ROWS_AFTER_MS = 20_000, 20_000


def incident_report(reader: LogReader, incident: Incident, where: Origin) -> str:
    """Give the report as one HTML document.

    Raises:
        LogProblem: the log can't be read.

    """
    show = where.then.show
    begin_ms, end_ms = window(incident)
    steps = steps_before(reader, incident, show)
    changes = reader.alarm_changes(begin_ms, end_ms)
    gaps = found_between(reader, begin_ms, end_ms, with_steps=False).gaps
    step_marks = {n: f"S{n + 1}" for n in range(len(steps))}
    alarm_marks = {n: f"A{n + 1}" for n in range(len(changes))}
    sections = [
        _short(incident, show),
        _evidence(incident),
        section(
            "What this log can't show", listing(incident.not_shown) if incident.not_shown else "Nothing is listed."
        ),
        _plots(reader, incident, show, steps, changes, gaps),
        parts.steps(steps, show.timezone, "Last loads on and off before it", step_marks),
        parts.alarms(changes, show.timezone, alarm_marks),
        _plan(reader, incident, show),
        parts.notes(reader.notes_between(begin_ms, end_ms), show.timezone),
        parts.gaps(gaps, show.timezone),
        _rows(reader, incident, show),
        parts.origin(where),
    ]
    where_it_is = place(incident.points[0], names_of(show)) if incident.points else show.name
    title = f"Incident {incident.number} at {where_it_is}"
    return document(title, f"{show.name}. {moment(incident.begin_ms, show.timezone)}.", sections)


def _short(incident: Incident, show: Show) -> Element:
    others = ", ".join(f"{one.kind} ({WHAT[one.kind]}; {one.confidence:.2f})" for one in incident.alternatives)
    children = [
        tag("p", f"Where: {places(incident.points, names_of(show))}."),
        tag("p", f"When: {when(incident, show.timezone)}."),
        tag(
            "p",
            f"What the readings fit best: {WHAT[incident.kind]} ({incident.kind}). How sure that is:"
            f" {sure(incident.confidence)} ({incident.confidence:.2f} of 1).",
        ),
        tag("p", f"It may also have been: {others}." if others else "No other kind fits the readings as well."),
        tag("p", f"The load that came on last before it: {last_on(incident)}."),
        tag("p", NOT_FACT),
    ]
    return section("In short", tag("div", *children, class_="short"))


def _evidence(incident: Incident) -> Element:
    titles = (("for", "Speaks for it"), ("against", "Speaks against it"), ("beside", "Stands beside it"))
    children: list[Element] = []
    for speaks, title in titles:
        texts = [one.text for one in incident.evidence if one.speaks == speaks]
        children += [tag("p", tag("b", title)), listing(texts or ["nothing in this log"])]
    return section("What the readings show", *children)


def _shown_points(incident: Incident, show: Show) -> tuple[list[Point], list[Point]]:
    """Give the points the incident is about, and some beside it: others on the same box, and the source."""
    about = list(metered(show, places_of(incident, show)))
    fed_from = {c.fed_from for c in show.circuits if c.id in {point.place for point in about}}
    siblings = [c.id for c in show.circuits if c.fed_from in fed_from]
    beside = [point for point in metered(show, siblings) if point not in about][:_MOST_BESIDE]
    source = [point for point in metered(show, (SOURCE_ID,)) if point not in about][:_MOST_BESIDE]
    return about[:_MOST_POINTS], [*beside, *source]


def _plots(
    reader: LogReader,
    incident: Incident,
    show: Show,
    steps: Sequence[FoundStep],
    changes: Sequence[AlarmChange],
    gaps: Sequence[Gap],
) -> Element:
    stretch = _read_stretch(reader, incident)
    about, beside = _shown_points(incident, show)
    moments = [Mark(incident.begin_ms, f"N{incident.number}", "incident")]
    alarms = [Mark(change.time_ms, f"A{n}", "alarm") for n, change in enumerate(changes, 1)]
    pictures: list[Element] = []
    hertz_done = False
    for point in chain(about, beside):
        own = [Mark(s.time_ms, f"S{n}", "step") for n, s in enumerate(steps, 1) if s.circuit == point.place]
        readings = reader.readings_between(point, *stretch)
        for quantity in _quantities(point, whole=point in about or point.place == SOURCE_ID):
            marks = [*moments, *(alarms if not pictures else ()), *(own if quantity == "amps" else ())]
            series = of_readings(readings, quantity)
            pictures.append(plot(show, point, quantity, series, stretch, marks=marks, gaps=gaps))
        if not hertz_done and any(r.values.hertz is not None for r in readings):
            hertz_done = True
            series = of_readings(readings, "hertz")
            pictures.append(plot(show, point, "hertz", series, stretch, marks=moments, gaps=gaps))
    said = (
        "Thick upright line: the first reading that shows it. S: a load on or off, A: an alarm, as listed below."
        " Dashes: a limit or rating. Dots: the plan. Hatched and open: no readings."
    )
    missing = "" if about else "No meter measures at this place itself. "
    more = len(metered(show, places_of(incident, show))) - len(about)
    left = f" {more} more points are in the log." if more > 0 else ""
    return section("The readings around it", missing + said + left, *pictures, *_whole(reader, incident, show, about))


def _read_stretch(reader: LogReader, incident: Incident) -> tuple[int, int]:
    """Give the window, without what lies before the log's first reading or after its last."""
    begin_ms, end_ms = window(incident)
    first_ms, last_ms = reader.first_time_ms(), reader.last_time_ms()
    if first_ms is None or last_ms is None or not first_ms < incident.begin_ms <= last_ms:
        return begin_ms, end_ms
    return max(begin_ms, first_ms), min(end_ms, last_ms + 1)


def _quantities(point: Point, *, whole: bool) -> tuple[str, ...]:
    """Give what is drawn of a point: a neutral's volts say nothing."""
    return ("amps",) if point.leg == NEUTRAL else ("amps", "volts") if whole else ("volts",)


def _whole(reader: LogReader, incident: Incident, show: Show, about: Sequence[Point]) -> list[Element]:
    """Draw what lasted longer than is shown second by second: all of it by minute."""
    end_ms = incident.end_ms
    if end_ms is None or end_ms <= window(incident)[1] or not about:
        return []
    length_ms = end_ms - incident.begin_ms
    stretch = (incident.begin_ms - length_ms // 4, end_ms + length_ms // 4)
    minutes = reader.minutes(about[0], *stretch)
    marks = [Mark(incident.begin_ms, "begin", "incident"), Mark(end_ms, "end", "incident")]
    return [
        tag("p", "The whole of it, by minute: the line is the mean, the band reaches from lowest to highest."),
        *(plot(show, about[0], q, of_minutes(minutes, q), stretch, marks=marks) for q in ("amps", "volts")),
    ]


def _plan(reader: LogReader, incident: Incident, show: Show) -> Element:
    wanted = set(places_of(incident, show))
    circuits = [circuit for circuit in show.circuits if circuit.id in wanted]
    rows = [
        (
            row.circuit.id,
            row.circuit.name if row.circuit.name != row.circuit.id else "",
            _figure(row.amps),
            _figure(row.planned_amps),
            "-" if row.over_plan_amps is None else signed(row.over_plan_amps),
            f"{row.continuous_amps:g}",
            f"{row.circuit.breaker.amps:g}, {row.circuit.breaker.standard} {row.circuit.breaker.curve}".rstrip(),
            _figure(row.volts),
        )
        for row in before(reader, show, circuits[:MOST_CIRCUITS], incident.begin_ms)
    ]
    heads = ("circuit", "name", "A measured", "A planned", "difference", "A continuous limit", "breaker", "V measured")
    said = "Measured: the median of the ten samples that end 2 s before it; - is not measured, or nothing planned."
    more = len(circuits) - len(rows)
    left = f" {more} more circuits hang below it." if more > 0 else ""
    return section("Plan against measured, just before it", said + left, table(heads, rows, figures=(2, 3, 4, 5, 7)))


def _figure(value: float | None) -> str:
    return "-" if value is None else f"{value:.1f}"


def _rows(reader: LogReader, incident: Incident, show: Show) -> Element:
    stretches = _around(incident)
    about, beside = _shown_points(incident, show)
    readings = [
        reading
        for point in (*about, *beside)
        for stretch in stretches
        for reading in reader.readings_between(point, *stretch)
    ]
    readings.sort(key=lambda reading: reading.time_ms)
    body = table(
        ("time", "point", "volts", "amps", "hertz", "watts", "quality"),
        [_row(reading, show.timezone) for reading in readings],
        figures=(2, 3, 4, 5),
    )
    body.set("class", "rows")
    told = (f"{moment(begin, show.timezone)} to {moment(end, show.timezone)}" for begin, end in stretches)
    said = (
        f"Every reading of the points above from {' and from '.join(told)}, as logged; an empty cell was not measured."
    )
    return section("The raw rows around it", said, body)


def _around(incident: Incident) -> list[tuple[int, int]]:
    """Give the stretches whose rows are shown: round its begin, and round the last reading before where that is far."""
    begin_ms, earliest_ms = incident.begin_ms, incident.earliest_ms
    if begin_ms - earliest_ms <= _ROWS_BEFORE_MS + _ROWS_AFTER_MS:
        return [(earliest_ms - _ROWS_BEFORE_MS, begin_ms + _ROWS_AFTER_MS)]
    return [(at_ms - _ROWS_BEFORE_MS, at_ms + _ROWS_AFTER_MS) for at_ms in (earliest_ms, begin_ms)]


def _row(reading: Reading, zone: str) -> tuple[str, ...]:
    v = reading.values
    cells = ("" if value is None else f"{value:.6g}" for value in (v.volts, v.amps, v.hertz, v.watts))
    return (
        iso(reading.time_ms, zone),
        str(reading.point),
        *cells,
        ": ".join(filter(None, (reading.quality.value, reading.detail))),
    )
