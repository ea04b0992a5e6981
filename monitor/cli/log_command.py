"""``legwatch log``."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from drivers.clock import now
from drivers.reading import Quality
from monitor.cautions import SHORT
from monitor.cli.errors import FOUND_WRONG, fail, guarded
from monitor.cli.numbers import Number
from monitor.cli.outputs import outputs
from monitor.cli.prose import counted, say
from monitor.cli.session import PERIOD_S, ChangesOnly, Ending, default_log, print_snapshots, tell_fuel
from monitor.log.writer import LogWriter
from monitor.recorder.notify import ServiceManager
from monitor.recorder.polling import PointNames, poll_each_once
from monitor.recorder.recorder import Recorder
from monitor.review.times import iso
from monitor.show.loading import load_show

if TYPE_CHECKING:
    from drivers.reading import MeterPoll
    from monitor.engine.reading import Reading
    from monitor.show.model import Show


@click.command(epilog=SHORT)
@click.argument("show_file", metavar="SHOW", type=click.Path(path_type=Path))
@click.option(
    "--log", "log_file", type=click.Path(path_type=Path), help="The log. Default: beside SHOW, as NAME.sqlite."
)
@click.option("--seconds", type=Number(min=0, min_open=True), help="End after this many seconds.")
@click.option("--once", is_flag=True, help="Poll each meter once, print, end. Writes no log unless --log names one.")
@click.option("--events", is_flag=True, help="Print events and alarm changes as JSON, one a line, and nothing else.")
@click.option(
    "--on-alarm", "program", type=click.Path(path_type=Path), help="Run this program on every change of an alarm."
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON: with --once one object, else one object a second.")
@guarded
def command(  # noqa: PLR0913 - one parameter an option
    show_file: Path,
    log_file: Path | None,
    seconds: float | None,
    program: Path | None,
    *,
    once: bool,
    events: bool,
    as_json: bool,
) -> None:
    """Poll every meter of SHOW and write every reading to the log, without a screen.

    Made for a service: prints what begins and ends to be wrong, ends on Ctrl-C or SIGTERM with everything written.
    Attach screens with `legwatch watch LOG`.

    --on-alarm runs a program of yours as PROGRAM STATE PRIORITY CODE WHERE TIME SENTENCE, without a shell, for 10 s at
    most.

    Exit code: 0 done; 1 with --once when a reading is not good, else when readings could not be kept; 2 used wrongly.
    """
    show = load_show(show_file)
    if once:
        _once(show, log_file, as_json=as_json)
        return
    tell_fuel(show)
    path = log_file or default_log(show_file)
    ending = Ending()
    tell = outputs(program, lambda text: recorder.note_event("program-failed", text), show.timezone, stream=events)
    manager = ServiceManager.of_environment()
    with Recorder(show, path, tell=tell, beat=manager.cycle) as recorder:
        if events:
            ending.every(PERIOD_S, seconds, lambda: None)
        elif as_json:
            print_snapshots(recorder, ending, seconds, as_json=True)
        else:
            click.echo(f"logging {counted(len(show.points()), 'point')} of {show.name} to {path}; Ctrl-C ends")
            ending.every(PERIOD_S, seconds, ChangesOnly(recorder))
        manager.stopping()
    if recorder.not_kept:
        fail(f"legwatch: {counted(recorder.not_kept, 'reading')} could not be kept in {path}", FOUND_WRONG)


def _once(show: Show, log_file: Path | None, *, as_json: bool) -> None:
    polls = sorted(poll_each_once(show), key=lambda poll: poll.at.mono_s)
    names = PointNames(show)
    if log_file is None:
        readings = [reading for poll in polls for reading in names.readings(poll, poll.at.wall_ms)]
    else:
        readings = _kept(show, log_file, polls, names)
    if as_json:
        click.echo(json.dumps({"readings": [_row(reading, show.timezone) for reading in readings]}, indent=1))
    else:
        _table(readings)
    if any(reading.quality is not Quality.GOOD for reading in readings):
        raise SystemExit(FOUND_WRONG)


def _kept(show: Show, log_file: Path, polls: list[MeterPoll], names: PointNames) -> list[Reading]:
    """Write the polls to a log, stamped with its clock, and give what was written."""
    at = now()
    with LogWriter.open(log_file, show, at) as writer:
        readings = [r for poll in polls for r in names.readings(poll, writer.timeline.stamp(poll.at)[0])]
        writer.write_cycle(readings, (), at)
    return readings


def _row(reading: Reading, timezone: str) -> dict[str, str | float | None]:
    values = reading.values
    return {
        "time": iso(reading.time_ms, timezone),
        "point": str(reading.point),
        "volts": values.volts,
        "amps": values.amps,
        "hertz": values.hertz,
        "watts": values.watts,
        "quality": reading.quality.value,
        "detail": reading.detail,
    }


def _table(readings: list[Reading]) -> None:
    """Print a line a point, then once for each what it was that is not good."""
    click.echo(f"{'point':<12}{'volts':>8}{'amps':>8}{'hertz':>8}{'watts':>9}  quality")
    reasons: dict[str, list[str]] = {}
    for reading in readings:
        v = reading.values
        figures = f"{_figure(v.volts, 1):>8}{_figure(v.amps, 2):>8}{_figure(v.hertz, 2):>8}{_figure(v.watts, 0):>9}"
        click.echo(f"{reading.point!s:<12}{figures}  {reading.quality}")
        if reading.detail:
            reasons.setdefault(reading.detail, []).append(str(reading.point))
    for detail, points in reasons.items():
        say(f"{', '.join(points)}: {detail}", indent="  ")


def _figure(value: float | None, decimals: int) -> str:
    return "-" if value is None else f"{value:.{decimals}f}"
