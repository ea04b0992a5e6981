"""The report of a generator's demand, energy, hours at low load and fuel."""

from __future__ import annotations

from math import fsum
from typing import TYPE_CHECKING

from monitor.electrical.demand import Running
from monitor.electrical.fuel import carbon_dioxide, source_faults
from monitor.electrical.loads import LEG_TO_NEUTRAL
from monitor.review import parts
from monitor.review.markup import table, tag
from monitor.review.panel import Line, Mark, Panel
from monitor.review.past import found_between
from monitor.review.plots import plot
from monitor.review.series import of_minutes, of_values
from monitor.review.sheet import document, section
from monitor.review.source_power import RUNS, burnt, power, used
from monitor.review.times import moment, span
from monitor.review.wording import counted
from monitor.show.model import SOURCE_ID

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from xml.etree.ElementTree import Element

    from monitor.log.gaps import Gap
    from monitor.log.reader import LogReader
    from monitor.log.records import Note
    from monitor.review.parts import Origin
    from monitor.review.source_power import Burnt, Power, Used
    from monitor.show.model import Show
_LOW, _HIGH = f"{100 * Running.LOW:.0f} %", f"{100 * Running.HIGH:.0f} %"  # of the rating


def fuel_report(reader: LogReader, stretch: tuple[int, int], where: Origin) -> str:
    """Give the report over a stretch [ms, the log's clock] as one HTML document.

    Raises:
        LogProblem: the log can't be read.

    """
    show = where.then.show
    zone = show.timezone
    found = power(reader, show, *stretch)
    drawn = used(found, show.source.rated_kw)
    entries = reader.notes_between(*stretch)
    refuels = [note for note in entries if note.kind == "refuel"]
    estimate = burnt(found, refuels, show)
    gaps = [gap for gap in found_between(reader, *stretch, with_steps=False).gaps if gap.point.place == SOURCE_ID]
    short = _short(show, found, drawn, estimate, refuels)
    sections = [
        section("In short", tag("div", *(tag("p", line) for line in short), class_="short")),
        _figures(drawn, show),
        _legs(reader, found, show, stretch),
        _fuel(estimate, show, found),
        _refuels(estimate, refuels, zone),
        _plots(reader, found, show, stretch, refuels, gaps),
        parts.notes(entries, zone),
        parts.gaps(gaps, zone),
        parts.origin(where),
    ]
    under = f"{show.name}. {moment(stretch[0], zone)} to {moment(stretch[1], zone)}. {show.source.name}."
    return document("Power and fuel of the source", under, sections)


def _short(
    show: Show, found: Power, drawn: Used | None, estimate: Burnt | None, refuels: Sequence[Note]
) -> Iterable[str]:
    if refuels:
        litres = fsum(note.number or 0.0 for note in refuels)
        yield f"{litres:g} litres were added in {counted(len(refuels), 'refuel')}."
    if drawn is None:
        legs = ", ".join(found.missing)
        why = f"no meter measures {legs} of the source" if legs else "its meters give no watts in this time"
        yield f"The source's kilowatts are not known: {why}. Nothing is added up from circuits in their place."
        return
    whole = len(found.minutes) / 60
    yield (
        f"{drawn.kilowatt_hours:.1f} kWh were drawn in {_hours(drawn.hours)} with readings of every leg"
        f" (of {_hours(whole)} with any): {drawn.mean_kw:.1f} kW on average, {drawn.peak_kw:.1f} kW in the highest"
        f" minute, at {moment(drawn.peak_ms, show.timezone)}."
    )
    if drawn.low_hours is not None and show.source.rated_kw:
        yield (
            f"It ran {_hours(drawn.low_hours)} under {_LOW} of the rated {show.source.rated_kw:g} kW,"
            f" {_hours(drawn.high_hours)} over {_HIGH}."
        )
    if estimate is not None:
        factor = estimate.calibration.applied
        how = "an estimate" if estimate.calibration.estimate else f"calibrated by {estimate.calibration.fills} refuels"
        yield f"Fuel by the set's own points at that load: {factor * estimate.litres:.1f} litres ({how})."


def _figures(drawn: Used | None, show: Show) -> Element:
    if drawn is None:
        return section("Demand and energy", "Not known.")
    rated = show.source.rated_kw
    share = "" if not rated else f", {100 * drawn.peak_kw / rated:.0f} % of the rating"
    factor = drawn.load_factor
    rows = [
        ("energy", f"{drawn.kilowatt_hours:.1f} kWh"),
        ("mean while it ran", f"{drawn.mean_kw:.2f} kW"),
        ("highest minute", f"{drawn.peak_kw:.2f} kW{share}"),
        ("highest quarter-hour of the clock, wholly read", _demand(drawn, show)),
        ("load factor (mean / highest minute)", "not known" if factor is None else f"{factor:.2f}"),
        (f"time under {_LOW} of the rating", _hours(drawn.low_hours)),
        (f"time over {_HIGH} of the rating", _hours(drawn.high_hours)),
    ]
    said = (
        "From the minutes of the source's hot legs. A minute without watts on any leg counts neither as energy nor as"
        " time. Not a billing meter's figures."
    )
    return section("Demand and energy", said, table(("what", "how much"), rows))


def _legs(reader: LogReader, found: Power, show: Show, stretch: tuple[int, int]) -> Element:
    least = RUNS * LEG_TO_NEUTRAL[show.source.system]
    rows = []
    for point in found.points:
        running = [m for m in reader.minutes(point, *stretch) if m.volts is not None and m.volts[0] >= least]
        reaches = (_reach([getattr(minute, quantity) for minute in running]) for quantity in ("amps", "volts", "hertz"))
        rows.append((str(point), *reaches))
    said = f"Lowest and highest single readings, over whole minutes above {least:.0f} V; - is not measured."
    return (
        section("Legs of the source", said, table(("leg", "A", "V", "Hz"), rows))
        if rows
        else section("Legs of the source", "No leg of the source is measured.")
    )


def _reach(spans: Sequence[tuple[float, float, float] | None]) -> str:
    known = [span for span in spans if span is not None]
    return f"{min(s[0] for s in known):.1f} to {max(s[2] for s in known):.1f}" if known else "-"


def _demand(drawn: Used, show: Show) -> str:
    if drawn.demand_kw is None or drawn.demand_ms is None:
        return "none in this time"
    return f"{drawn.demand_kw:.2f} kW, from {moment(drawn.demand_ms, show.timezone)}"


def _hours(hours: float | None) -> str:
    return "not known: the show file gives no rated kW" if hours is None else span(hours * 3600)


def _fuel(estimate: Burnt | None, show: Show, found: Power) -> Element:
    if estimate is None or show.source.fuel is None:
        faults = source_faults(show.source)
        why = faults[0] if faults else "the show file gives no fuel points, or no rated kW"
        return section("Fuel", f"Not estimated: {why}.")
    calibration = estimate.calibration
    litres = calibration.applied * estimate.litres
    if not calibration.plausible:
        how = (
            f"Refuels differ from the points by a factor of {calibration.factor:.2f}, more than can be the set's:"
            " a wrong entry, a gap in the log, or another set. The points stand as they are."
        )
    elif calibration.estimate:
        how = "An estimate: charts of burn are good to about 20 %; two refuels to the same level calibrate it."
    else:
        how = f"Calibrated: {calibration.fills} refuels give {calibration.factor:.2f} times what the points give."
    rows = [
        ("burnt, by the set's points at the logged load", f"{estimate.litres:.1f} litres"),
        ("with refuels taken into account", f"{litres:.1f} litres"),
        ("carbon dioxide from the tailpipe only", f"{carbon_dioxide(show.source.fuel, litres):.0f} kg"),
    ]
    left = sum(1 for minute in found.minutes if minute.kilowatts is None)
    more = f" {left} minutes without kilowatts are not in it." if left else ""
    return section("Fuel", how + more, table(("what", "how much"), rows))


def _refuels(estimate: Burnt | None, refuels: list[Note], zone: str) -> Element:
    modelled = {id(note): since for note, since in estimate.fills} if estimate is not None else {}
    rows = []
    for note in refuels:
        since = modelled.get(id(note))
        litres = "-" if note.number is None else f"{note.number:g}"
        rows.append((moment(note.time_ms, zone), note.who, litres, "-" if since is None else f"{since:.1f}", note.text))
    if not rows:
        return section("Refuels", "None was entered in this time.")
    heads = ("when", "who", "litres added", "litres by the points since the one before", "note")
    return section("Refuels", table(heads, rows, figures=(2, 3)))


def _plots(
    reader: LogReader, found: Power, show: Show, stretch: tuple[int, int], refuels: list[Note], gaps: list[Gap]
) -> Element:
    rated = show.source.rated_kw
    lines = [Line(rated, f"rated {rated:g} kW"), Line(Running.LOW * rated, f"{_LOW} of it", "plan")] if rated else []
    panel = Panel(
        title="source: kilowatts, by minute",
        series=of_values((minute.begin_ms, minute.kilowatts) for minute in found.minutes),
        begin_ms=stretch[0],
        end_ms=stretch[1],
        timezone=show.timezone,
        lines=lines,
        marks=[Mark(note.time_ms, "refuel", "step") for note in refuels],
        from_zero=True,
    )
    pictures = [panel.svg()]
    for point in found.points:
        minutes = reader.minutes(point, *stretch)
        wanted = ("amps", "volts", "hertz") if point == found.points[0] else ("amps", "volts")
        pictures += [plot(show, point, q, of_minutes(minutes, q), stretch, gaps=gaps) for q in wanted]
    nominal = LEG_TO_NEUTRAL[show.source.system]
    said = (
        f"By minute; the band reaches from the lowest to the highest reading of each, nominal {nominal:g} V. Where"
        " nothing is drawn nothing was read."
    )
    return section("The source over the time", said, *pictures)
