"""``legwatch demo``."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

import click

from monitor.cautions import SHORT
from monitor.cli.errors import FOUND_WRONG, fail, guarded
from monitor.cli.numbers import Number
from monitor.cli.prose import say
from monitor.cli.screen import open_dashboard, refuse_poor_terminal
from monitor.cli.session import PERIOD_S, ChangesOnly, Ending, print_snapshots
from monitor.demo.stage import Stage
from monitor.recorder.recorder import Recorder
from monitor.show.loading import load_show


@click.command(epilog=SHORT)
@click.option(
    "--speed",
    type=Number(min=0.1, max=60),
    default=1.0,
    help="Run the scenario this much faster; breakers too: `review` then finds no standard that fits.",
)
@click.option("--headless", is_flag=True, help="No screen: print what begins and ends to be wrong.")
@click.option("--json", "as_json", is_flag=True, help="With --headless: print one JSON object a second.")
@click.option("--seconds", type=Number(min=0, min_open=True), help="With --headless: end after this many seconds.")
@click.option(
    "--log", "log_file", type=click.Path(path_type=Path), help="Keep the log here; without it, it is thrown away."
)
@guarded
def command(speed: float, seconds: float | None, log_file: Path | None, *, headless: bool, as_json: bool) -> None:
    """Show the whole thing without hardware: virtual meters, the real logger, the real dashboard.

    The meters of an invented set speak Modbus over a pseudo-terminal and over TCP on this machine. In the first three
    minutes lights come on, a heater that nobody planned overloads a circuit, its breaker opens, and a meter falls
    silent. All figures are invented.
    """
    if not headless:
        refuse_poor_terminal("legwatch demo --headless")
    with TemporaryDirectory(prefix="legwatch-") as folder, Stage(speed=speed) as stage:
        show = load_show(stage.show_path)
        with Recorder(show, log_file or Path(folder) / "demo.sqlite") as recorder:
            if not headless:
                open_dashboard(recorder, "quit and end the demo")
            elif as_json:
                print_snapshots(recorder, Ending(), seconds, as_json=True)
            else:
                click.echo(f"virtual meters of {show.name}; Ctrl-C ends", err=True)
                Ending().every(PERIOD_S, seconds, ChangesOnly(recorder))
    if not headless:
        say(_ended(log_file))
    if recorder.not_kept:
        fail(f"legwatch: {recorder.not_kept} readings could not be kept", FOUND_WRONG)


def _ended(log: Path | None) -> str:
    if log is None:
        return (
            "The demo has ended and its log is thrown away: `legwatch demo --log FILE` keeps it for `legwatch review`."
        )
    return f"The demo has ended. Its log is {log}: `legwatch review {log}` tells what happened."
