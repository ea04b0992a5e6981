"""``legwatch note``."""

from __future__ import annotations

from pathlib import Path

import click

from monitor.cautions import SHORT
from monitor.cli.asking import enter, make
from monitor.cli.errors import guarded


@click.command(epilog=SHORT)
@click.argument("log_file", metavar="LOG", type=click.Path(path_type=Path))
@click.argument("text")
@click.option("--by", "who", required=True, metavar="NAME", help="Who writes.")
@click.option("--where", default="", metavar="ID", help="The circuit, feeder or source it is about.")
@guarded
def command(log_file: Path, text: str, who: str, where: str) -> None:
    """Write a note into the log, with a name: what was moved, who plugged what, what was looked at.

    Example: legwatch note LOG "heater moved to B2" --by Noor --where A3
    """
    enter(log_file, make("note", who, text=text, where=where))
