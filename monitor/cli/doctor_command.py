"""``legwatch doctor``."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path

import click

from monitor.cautions import SHORT
from monitor.cli.doctor_checks import look_around
from monitor.cli.errors import FOUND_WRONG, guarded


@click.command(epilog=SHORT)
@click.argument("log_file", metavar="[LOG]", required=False, type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@guarded
def command(log_file: Path | None, *, as_json: bool) -> None:
    """Look at the computer below legwatch: versions, ports and rights, disk, clock; and at LOG's state.

    With LOG: whether its logger is alive, who may write it, and for how long the disk lasts at its rate so far.

    Exit code: 0 nothing wrong found (that is all it says); 1 something wrong; 2 used wrongly.
    """
    found = tuple(look_around(log_file))
    if as_json:
        click.echo(json.dumps({"findings": [asdict(one) for one in found]}, indent=1, ensure_ascii=False))
    else:
        for one in found:
            click.echo(f"{one.state:<6}{one.what:<14}{one.text}")
            if one.do:
                click.echo(f"{'':<20}do: {one.do}")
    if any(one.state == "wrong" for one in found):
        raise SystemExit(FOUND_WRONG)
