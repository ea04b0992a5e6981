"""Incidents as lines of text: all of them in short, or one with everything."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.alarms.saying import became
from monitor.review.against_plan import before
from monitor.review.past import BEFORE_MS, places_of, steps_before, window
from monitor.review.times import clock, day, moment, offset, span
from monitor.review.wording import NOT_FACT, SPEAKS, WHAT, amount, last_on, load, names_of, places, signed, sure

if TYPE_CHECKING:
    from collections.abc import Iterator

    from monitor.incidents.model import Incident
    from monitor.log.gaps import Gap
    from monitor.log.reader import LogReader
    from monitor.review.against_plan import PlanRow
    from monitor.review.past import Found
    from monitor.review.then import Glance
    from monitor.show.model import Show

MOST_CIRCUITS = 12
MOST_LINES = 30


def list_lines(found: Found, counted: tuple[int, int], glance: Glance) -> Iterator[str]:
    """Give a few lines an incident, then what is to be known of the whole.

    Args:
        found: incidents and gaps.
        counted: steps, and those of them that came on and fit no planned load.
        glance: at the show.

    """
    zone = glance.timezone
    if not found.incidents:
        yield "No incident was found."
    for incident in found.incidents:
        yield f"{incident.number:>3}  {moment(incident.begin_ms, zone)}  {places(incident.points, glance.names)}"
        yield f"     {WHAT[incident.kind]}: {sure(incident.confidence)} ({incident.kind})"
        yield f"     last load on: {last_on(incident)}"
    yield ""
    yield f"Loads on and off: {counted[0]}; {counted[1]} came on that fit no planned load."
    yield _gaps(found.gaps)
    yield NOT_FACT


def _gaps(gaps: tuple[Gap, ...]) -> str:
    if not gaps:
        return "Gaps in the readings: none."
    over = [(gap.end_ms - gap.begin_ms) / 1000 for gap in gaps if gap.end_ms is not None]
    lasting = len(gaps) - len(over)
    longest = f", the longest {span(max(over))}" if over else ""
    more = f", {lasting} without an end" if lasting else ""
    return f"Gaps in the readings: {len(gaps)}{longest}{more}; what happened in them is not known."


def detail_lines(reader: LogReader, incident: Incident, show: Show) -> Iterator[str]:
    """Give everything that is known of one incident."""
    zone = show.timezone
    yield f"Incident {incident.number}: the readings fit best that {WHAT[incident.kind]}"
    yield f"  where       {places(incident.points, names_of(show))}"
    yield f"  when        {when(incident, zone)}"
    yield f"  taken for   {incident.kind}: {sure(incident.confidence)} ({incident.confidence:.2f})"
    others = ", ".join(f"{one.kind} ({one.confidence:.2f})" for one in incident.alternatives)
    yield f"  or          {others or 'no other kind fits the readings better than weakly'}"
    yield f"  last on     {last_on(incident)}"
    yield from _section("What the readings show", [f"{SPEAKS[e.speaks]}: {e.text}" for e in incident.evidence])
    yield from _section("What this log can't show", list(incident.not_shown))
    yield from _section(f"Last loads on and off, from {span(BEFORE_MS / 1000)} before", _steps(reader, incident, show))
    yield from _section("Alarms around it", _alarms(reader, incident, show))
    yield from _section("Just before it, against the plan", _plan(reader, incident, show))
    yield from _section("Gaps around it: nothing is known of", _gap_lines(reader, incident, show))
    yield ""
    yield NOT_FACT


def when(incident: Incident, zone: str) -> str:
    """Say between which readings it began, and when it was over."""
    first_ms, begin_ms = incident.earliest_ms, incident.begin_ms
    begun = moment(begin_ms, zone)
    if first_ms < begin_ms and day(first_ms, zone) == day(begin_ms, zone):
        tenths = clock(first_ms, zone) == clock(begin_ms, zone)
        first, last = (clock(time_ms, zone, tenths=tenths) for time_ms in (first_ms, begin_ms))
        begun = f"{day(begin_ms, zone)}, after {first} and by {last} {offset(begin_ms, zone)}"
    elif first_ms < begin_ms:
        begun = f"after {moment(first_ms, zone)} and by {begun}"
    if incident.end_ms is None:
        return f"{begun}; no end is shown"
    lasted = span((incident.end_ms - begin_ms) / 1000)
    same_day = day(incident.end_ms, zone) == day(begin_ms, zone)
    over = clock(incident.end_ms, zone) if same_day else moment(incident.end_ms, zone)
    return f"{begun}; over by {over}, after {lasted}"


def _section(title: str, lines: list[str]) -> Iterator[str]:
    yield ""
    yield title
    for line in lines or ["nothing in this log"]:
        yield f"  {line}"


def _steps(reader: LogReader, incident: Incident, show: Show) -> list[str]:
    return [
        f"{clock(found.time_ms, show.timezone)}  {found.circuit}  {amount(found)}: {load(found)}"
        + (f" ({found.note})" if found.note else "")
        for found in steps_before(reader, incident, show)
    ]


def _alarms(reader: LogReader, incident: Incident, show: Show) -> list[str]:
    changes = reader.alarm_changes(*window(incident))
    lines = []
    for change in changes:
        alarm = change.alarm
        by = f", by {alarm.who}" if alarm.who else ""
        lines.append(
            f"{clock(change.time_ms, show.timezone)}  {alarm.code} {alarm.where}: {became(change)}{by}. {alarm.seen}"
        )
    more = len(lines) - MOST_LINES
    return [*lines[:MOST_LINES], f"and {more} changes more: `legwatch alarms --history`"] if more > 0 else lines


def _plan(reader: LogReader, incident: Incident, show: Show) -> list[str]:
    wanted = set(places_of(incident, show))
    circuits = [circuit for circuit in show.circuits if circuit.id in wanted]
    rows = before(reader, show, circuits[:MOST_CIRCUITS], incident.begin_ms)
    more = len(circuits) - len(rows)
    return [plan_line(row) for row in rows] + ([f"and {more} circuits more"] if more else [])


def plan_line(row: PlanRow) -> str:
    """Say what a circuit carried, was planned to carry and is rated for."""
    rating = f"breaker {row.circuit.breaker.amps:g} A"
    planned = "nothing is planned" if row.planned_amps is None else f"{row.planned_amps:.1f} A planned"
    carried = "not measured" if row.amps is None else f"{row.amps:.1f} A"
    volts = "" if row.volts is None else f" at {row.volts:.1f} V"
    over = row.over_plan_amps
    difference = "" if over is None else f" ({signed(over)} A against the plan)"
    return f"{row.circuit.id}: {carried}{volts}, {planned}{difference}, {rating}"


def _gap_lines(reader: LogReader, incident: Incident, show: Show) -> list[str]:
    begin_ms, end_ms = window(incident)
    zone = show.timezone
    together: dict[str, list[str]] = {}  # points of one meter share their gaps: said once
    for gap in reader.gaps():
        if gap.begin_ms < end_ms and (gap.end_ms is None or gap.end_ms > begin_ms):
            until = "no end" if gap.end_ms is None else clock(gap.end_ms, zone)
            why = ": ".join(filter(None, (gap.reason, gap.detail)))
            together.setdefault(f"from {clock(gap.begin_ms, zone)} to {until}: {why}", []).append(str(gap.point))
    return [f"{', '.join(points)} {said}" for said, points in together.items()]
