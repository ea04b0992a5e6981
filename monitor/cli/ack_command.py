"""``legwatch ack``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from monitor.cautions import SHORT
from monitor.cli.asking import ask, make
from monitor.cli.errors import fail, guarded
from monitor.log.reader import LogReader

if TYPE_CHECKING:
    from monitor.engine.requests import Kind


@click.command(epilog=SHORT)
@click.argument("log_file", metavar="LOG", type=click.Path(path_type=Path))
@click.argument("code", required=False)
@click.argument("where", required=False)
@click.option("--by", "who", required=True, metavar="NAME", help="Who acknowledges.")
@click.option("--all", "every", is_flag=True, help="Every alarm that stands now.")
@click.option("--reset", is_flag=True, help="Reset a latched alarm instead: its cause was found and looked at.")
@guarded
def command(log_file: Path, code: str | None, where: str | None, who: str, *, every: bool, reset: bool) -> None:
    """Acknowledge an alarm: somebody has seen it and deals with it. It does not clear it.

    `legwatch alarms LOG` lists the alarms by their CODE and WHERE: legwatch ack LOG above-rating A3 --by Noor
    """
    if every == bool(code and where):
        fail("legwatch: name one alarm by its CODE and WHERE, or give --all")
    with LogReader(log_file) as reader:
        alarms = [(a.code, a.where) for a in reader.alarms() if a.state != "shelved"]
    chosen = alarms if every else [(str(code), str(where))]
    if not chosen:
        click.echo("no alarm stands")
        return
    kind: Kind = "reset" if reset else "acknowledge"
    ask(log_file, [make(kind, who, code=c, where=w) for c, w in chosen])
