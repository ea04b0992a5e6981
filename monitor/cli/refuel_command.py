"""``legwatch refuel``."""

from __future__ import annotations

from pathlib import Path

import click

from monitor.cautions import SHORT
from monitor.cli.asking import enter, make
from monitor.cli.errors import guarded
from monitor.cli.numbers import Number


@click.command(epilog=SHORT)
@click.argument("log_file", metavar="LOG", type=click.Path(path_type=Path))
@click.argument("litres", type=Number(min=0, max=10_000, min_open=True))
@click.option("--by", "who", required=True, metavar="NAME", help="Who filled.")
@click.option("--text", default="", help="Docket number, or whatever else belongs to it.")
@guarded
def command(log_file: Path, litres: float, who: str, text: str) -> None:
    """Write a refuel into the log: litres added, filled up to the same level as always.

    Two refuels calibrate the estimate of fuel burnt to this set.
    """
    enter(log_file, make("refuel", who, where="source", text=text, amount=litres, quantity="litres"))
