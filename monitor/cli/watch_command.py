"""``legwatch watch``."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from monitor.cautions import SHORT
from monitor.cli.errors import guarded
from monitor.cli.numbers import Number
from monitor.cli.screen import open_dashboard, refuse_poor_terminal
from monitor.cli.session import Ending, print_snapshots, write
from monitor.cli.web_edge import serve_web
from monitor.recorder.attached import AttachedFeed


@click.command(epilog=SHORT)
@click.argument("log_file", metavar="LOG", type=click.Path(path_type=Path))
@click.option("--plain", is_flag=True, help="Print plain lines once a second instead of a screen.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object a line once a second instead of a screen.")
@click.option("--once", is_flag=True, help="With --plain or --json: print once and end.")
@click.option("--seconds", type=Number(min=0, min_open=True), help="With --plain or --json: end after this.")
@click.option("--web", is_flag=True, help="Serve the same screens to browsers; prints the address.")
@click.option("--port", type=click.IntRange(0, 65535), default=8000, help="With --web; 0: any free one. [8000]")
@click.option("--host", default="127.0.0.1", help="With --web: the address to listen on. [127.0.0.1]")
@guarded
def command(log_file: Path, **asked: Any) -> None:
    """Open the dashboard on a log that another process writes. Any number can watch at once.

    A screen can acknowledge and shelve alarms and write notes, with a name; everything else it only reads.

    A log whose logger has ended is shown as it was left, with the age of everything.

    With --web each browser gets a screen of its own. Only this computer can connect, unless --host names another
    address: then a token is made and printed once, and every page asks for it. Nothing is fetched from the internet.
    """
    as_json, once = asked["as_json"], asked["once"]
    printed = asked["plain"] or as_json or once
    if asked["web"] and printed:
        raise click.UsageError("--web serves a screen: leave out --plain, --json and --once.")
    if not (printed or asked["web"]):
        refuse_poor_terminal(f"legwatch watch {log_file} --plain")
    feed = AttachedFeed(log_file)
    if asked["web"]:
        serve_web(log_file, f"legwatch: {feed.show.name}", asked["host"], asked["port"])
    elif once:
        write(feed.snapshot(), as_json=as_json)
    elif printed:
        print_snapshots(feed, Ending(), asked["seconds"], as_json=as_json)
    else:
        open_dashboard(feed)
