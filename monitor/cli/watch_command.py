"""``legwatch watch``."""

from __future__ import annotations

from pathlib import Path

import click

from monitor.cautions import SHORT
from monitor.cli.errors import guarded
from monitor.cli.numbers import Number
from monitor.cli.screen import open_dashboard, refuse_poor_terminal
from monitor.cli.session import Ending, print_snapshots, write
from monitor.recorder.attached import AttachedFeed


@click.command(epilog=SHORT)
@click.argument("log_file", metavar="LOG", type=click.Path(path_type=Path))
@click.option("--plain", is_flag=True, help="Print plain lines once a second instead of a screen.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object a line once a second instead of a screen.")
@click.option("--once", is_flag=True, help="With --plain or --json: print once and end.")
@click.option("--seconds", type=Number(min=0, min_open=True), help="With --plain or --json: end after this.")
@guarded
def command(log_file: Path, seconds: float | None, *, plain: bool, as_json: bool, once: bool) -> None:
    """Open the dashboard on a log that another process writes. Any number can watch at once.

    A screen can acknowledge and shelve alarms and write notes, with a name; everything else it only reads.

    A log whose logger has ended is shown as it was left, with the age of everything.
    """
    if once and not (plain or as_json):
        plain = True
    if not (plain or as_json):
        refuse_poor_terminal(f"legwatch watch {log_file} --plain")
    feed = AttachedFeed(log_file)
    if once:
        write(feed.snapshot(), as_json=as_json)
    elif plain or as_json:
        print_snapshots(feed, Ending(), seconds, as_json=as_json)
    else:
        open_dashboard(feed)
