"""``legwatch run``."""

from __future__ import annotations

from pathlib import Path

import click

from monitor.cautions import SHORT
from monitor.cli.errors import FOUND_WRONG, fail, guarded
from monitor.cli.outputs import outputs
from monitor.cli.prose import say
from monitor.cli.screen import open_dashboard, refuse_poor_terminal
from monitor.cli.session import default_log, tell_fuel
from monitor.recorder.recorder import Recorder
from monitor.show.loading import load_show


@click.command(epilog=SHORT)
@click.argument("show_file", metavar="SHOW", type=click.Path(path_type=Path))
@click.option(
    "--log", "log_file", type=click.Path(path_type=Path), help="The log. Default: beside SHOW, as NAME.sqlite."
)
@click.option(
    "--on-alarm", "program", type=click.Path(path_type=Path), help="Run this program on every change of an alarm."
)
@guarded
def command(show_file: Path, log_file: Path | None, program: Path | None) -> None:
    """Poll every meter of SHOW, write every reading to the log, and open the dashboard.

    Closing the dashboard ends the logging too. To log for days, use `legwatch log` and attach screens with
    `legwatch watch`.
    """
    refuse_poor_terminal(f"legwatch log {show_file}")
    show = load_show(show_file)
    tell_fuel(show)
    path = log_file or default_log(show_file)
    tell = outputs(program, lambda text: recorder.note_event("program-failed", text), show.timezone, stream=False)
    with Recorder(show, path, tell=tell) as recorder:
        open_dashboard(recorder, "quit and stop logging")
    say(f"Logging has ended. The log is {path}: `legwatch review {path}` tells what happened.")
    if recorder.not_kept:
        fail(f"legwatch: {recorder.not_kept} readings could not be kept in {path}", FOUND_WRONG)
