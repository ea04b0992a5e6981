"""``legwatch review``."""

from __future__ import annotations

import json
from pathlib import Path

import click

from monitor.cautions import SHORT
from monitor.cli.errors import fail, guarded
from monitor.cli.prose import say
from monitor.cli.stretch import stretch, stretch_options
from monitor.incidents.model import Incident, Kind
from monitor.log.reader import LogReader
from monitor.review.as_json import found_data
from monitor.review.past import Found, found_between, steps_before, window
from monitor.review.telling import detail_lines, list_lines
from monitor.review.then import glance_at, show_at
from monitor.review.wording import plain


@click.command(epilog=SHORT)
@click.argument("log_file", metavar="LOG", type=click.Path(path_type=Path))
@click.argument("number", metavar="[N]", type=click.IntRange(min=1), required=False)
@stretch_options
@click.option(
    "--kind",
    "kinds",
    multiple=True,
    type=click.Choice([kind.value for kind in Kind]),
    help="Only this kind; may be given more than once.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object: incidents, steps and gaps.")
@guarded
def command(
    log_file: Path, number: int | None, since: str | None, until: str | None, kinds: tuple[str, ...], *, as_json: bool
) -> None:
    """List the incidents in LOG, or tell everything that is known of incident N.

    Each incident says what the readings fit best and how sure that is, what speaks for and against it, what else it
    may have been, what this log can't show, which load came on last and whether it was planned. None of it is a
    finding of cause.

    Exit code: 0 done, with incidents or without; 2 used wrongly, or LOG can't be read.
    """
    with LogReader(log_file) as reader:
        glance = glance_at(reader, str(log_file))
        if number is not None:
            incident = incident_of(reader, number, log_file)
            show = show_at(reader, incident.begin_ms, str(log_file)).show
            gaps = found_between(reader, *window(incident), with_steps=False).gaps
            found = Found((incident,), steps_before(reader, incident, show), gaps)
            lines = [] if as_json else list(detail_lines(reader, incident, show))
        else:
            chosen = stretch(since, until, glance.timezone)
            found = found_between(reader, *chosen, kinds, with_steps=as_json)
            lines = [] if as_json else list(list_lines(found, reader.count_steps(*chosen), glance))
    if as_json:
        click.echo(json.dumps(found_data(found, glance.timezone), indent=1, ensure_ascii=False))
        return
    click.echo(f"{plain(glance.name)}\n")
    for line in lines:
        say(plain(line), indent=" " * (len(line) - len(line.lstrip()) + 2))
    click.echo(f"\n{SHORT}")


def incident_of(reader: LogReader, number: int, log_file: Path) -> Incident:
    """Give the incident of a number, or leave with what there is."""
    incidents = reader.incidents()
    found = next((incident for incident in incidents if incident.number == number), None)
    if found is None:
        numbers = sorted(incident.number for incident in incidents)
        there = f"it has {numbers[0]} to {numbers[-1]}" if numbers else "it has none"
        fail(f"legwatch: {log_file} has no incident {number}: {there}; `legwatch review {log_file}` lists them")
    return found
