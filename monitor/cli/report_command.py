"""``legwatch report``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from drivers.clock import now
from drivers.files.faults import FileFaults
from monitor.cautions import SHORT
from monitor.cli.errors import fail, guarded
from monitor.cli.review_command import incident_of
from monitor.cli.stretch import refuse_log, stretch, stretch_options
from monitor.log.reader import LogReader
from monitor.log.software import software_version
from monitor.places import data
from monitor.review.fuel_report import fuel_report
from monitor.review.incident_report import incident_report
from monitor.review.parts import Origin
from monitor.review.shift_report import shift_report
from monitor.review.then import glance_at, show_at
from monitor.show.loading import load_show_text

if TYPE_CHECKING:
    from monitor.show.model import Show

_MINUTE_MS = 60_000  # shift and fuel are told by whole minutes


@click.command(epilog=SHORT)
@click.argument("log_file", metavar="LOG", type=click.Path(path_type=Path))
@click.option("--incident", "number", type=click.IntRange(min=1), help="Of this incident: see `legwatch review LOG`.")
@click.option("--shift", is_flag=True, help="Of everything from --since to --until.")
@click.option("--fuel", is_flag=True, help="Of demand, energy, hours at low load and fuel from --since to --until.")
@stretch_options
@click.option(
    "-o", "--output", type=click.Path(path_type=Path), help="The file to write. Default: beside LOG, named after both."
)
@guarded
def command(  # noqa: PLR0913 - one parameter an option
    log_file: Path,
    number: int | None,
    since: str | None,
    until: str | None,
    output: Path | None,
    *,
    shift: bool,
    fuel: bool,
) -> None:
    """Write one HTML file about LOG that others can open anywhere, offline, and print.

    It says in plain words what the readings show and what they can't, with plots, the raw rows around an incident,
    alarms with who and when, the plan beside what was measured, gaps as gaps, and where the readings come from.

    Exit code: 0 done; 2 used wrongly, LOG can't be read or the file can't be written.
    """
    if (number is not None) + shift + fuel != 1:
        fail("legwatch: say which report: one of --incident N, --shift and --fuel")
    if output is not None:
        refuse_log(output, log_file)
    with LogReader(log_file) as reader:
        if number is not None:
            incident = incident_of(reader, number, log_file)
            origin = _origin(reader, log_file, incident.begin_ms)
            name, text = f"incident-{number}", incident_report(reader, incident, origin)
        else:
            reach = reader.reach()
            if reach is None:
                fail(f"legwatch: {log_file} holds nothing to report on yet")
            begin_ms, end_ms = stretch(since, until, glance_at(reader, str(log_file)).timezone)
            begin_ms, end_ms = max(begin_ms, reach[0]) // _MINUTE_MS * _MINUTE_MS, min(end_ms, reach[1] + 1)
            if end_ms <= begin_ms:
                fail(f"legwatch: {log_file} holds nothing from --since to --until")
            origin = _origin(reader, log_file, end_ms)
            made = shift_report if shift else fuel_report
            name, text = "shift" if shift else "fuel", made(reader, (begin_ms, end_ms), origin)
    path = output or log_file.with_name(f"{log_file.stem}-{name}.html")
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        fail(f"legwatch: {path} can't be written: {error.strerror}; name another file with -o")
    click.echo(f"{path}: {len(text.encode()) / 1024:.0f} KiB")


def _origin(reader: LogReader, log_file: Path, time_ms: int) -> Origin:
    then = show_at(reader, time_ms, str(log_file))
    return Origin(
        log=log_file.name,
        then=then,
        mapped=_mapped(then.version.text, log_file),
        wrote=reader.writer_software(),
        made=software_version(),
        made_ms=now().wall_ms,
    )


def _mapped(text: str, log_file: Path) -> Show | None:
    """Give the show with the register maps as they are now, beside the log or legwatch's own; None: not at hand."""
    try:
        return load_show_text(text, log_file.name, (log_file.resolve().parent, data("config/meters")))
    except FileFaults:
        return None
