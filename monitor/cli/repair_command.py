"""``legwatch repair``."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from monitor.cautions import SHORT
from monitor.cli.errors import FOUND_WRONG, guarded
from monitor.log.salvage import salvage
from monitor.review.times import moment

if TYPE_CHECKING:
    from collections.abc import Iterator

    from monitor.log.salvage import Salvaged

_UNIT_MS = {"reading": 1, "minute": 60_000}
_MOST_STRETCHES = 10


@click.command(epilog=SHORT)
@click.argument("log_file", metavar="LOG", type=click.Path(path_type=Path))
@click.argument("target", metavar="FILE", type=click.Path(path_type=Path))
@guarded
def command(log_file: Path, target: Path) -> None:
    """Carry over what can still be read of a damaged LOG into the new FILE, and say what was lost.

    LOG itself is left as it is: keep it. Nothing is guessed: a row is as it was written, or it is not in FILE.

    Exit code: 0 all of it could be read; 1 something was lost; 2 it can't be done: FILE is there already, LOG is no
    log, nothing of it can be read.
    """
    shown = sys.stderr.isatty()

    def progress(table: str, rows: int) -> None:
        if shown:
            click.echo(f"\r{table}: {rows:,} rows   ", nl=False, err=True)

    done = salvage(log_file, target, progress)
    if shown:
        click.echo(err=True)
    click.echo(f"{target}: " + ", ".join(f"{rows:,} of {table}" for table, rows in done.kept.items() if rows))
    click.echo("\n".join(_lost(done)) if not done.whole else "every table could be read to its end")
    if not done.whole:
        raise SystemExit(FOUND_WRONG)


def _lost(done: Salvaged) -> Iterator[str]:
    for table in done.unread:
        yield f"lost: all of {table}"
    for table, stretches in done.lost.items():
        for first, last in stretches[:_MOST_STRETCHES]:
            yield f"lost: {table} {_stretch(table, first, last)}"
        if len(stretches) > _MOST_STRETCHES:
            yield f"lost: {table}, {len(stretches) - _MOST_STRETCHES} more stretches"
    for table, rows in done.passed_over.items():
        yield f"passed over: {rows:,} of {table}, there twice or damaged"


def _stretch(table: str, first: int, last: int) -> str:
    unit = _UNIT_MS.get(table)
    if unit is None:
        return f"rows from {first} on" if last > 1 << 40 else f"rows {first} to {last}"
    begin = "the beginning" if first == 0 else moment(first * unit, "UTC")
    end = "the end" if last * unit > 1 << 43 else moment((last + 1) * unit, "UTC")
    return f"from {begin} to {end}"
