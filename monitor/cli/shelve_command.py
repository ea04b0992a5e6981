"""``legwatch shelve``."""

from __future__ import annotations

from pathlib import Path

import click

from monitor.cautions import SHORT
from monitor.cli.asking import ask, make
from monitor.cli.errors import fail, guarded
from monitor.cli.numbers import Number


@click.command(epilog=SHORT)
@click.argument("log_file", metavar="LOG", type=click.Path(path_type=Path))
@click.argument("code")
@click.argument("where")
@click.option("--by", "who", required=True, metavar="NAME", help="Who shelves.")
@click.option("--why", default="", help="The reason; needed.")
@click.option("--for", "minutes", type=Number(min=0, min_open=True), help="Minutes; it comes back then.")
@click.option("--end", is_flag=True, help="Take it off the shelf now.")
@guarded
def command(  # noqa: PLR0913 - one parameter an option
    log_file: Path, code: str, where: str, who: str, why: str, minutes: float | None, *, end: bool
) -> None:
    """Put an alarm aside for a time: by whom, why and until when are kept. It comes back by itself.

    Example: legwatch shelve LOG over-plan A3 --by Noor --why "heater agreed with the gaffer" --for 60
    """
    if end:
        ask(log_file, [make("unshelve", who, code=code, where=where)])
        return
    if not why.strip() or minutes is None:
        fail("legwatch: shelving needs --why and --for MINUTES: it is never for ever and never without a reason")
    ask(log_file, [make("shelve", who, code=code, where=where, text=why, minutes=minutes)])
