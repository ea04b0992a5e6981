"""``legwatch snapshot``."""

from __future__ import annotations

from pathlib import Path

import click

from monitor.cautions import SHORT
from monitor.cli.errors import guarded
from monitor.log.copying import copy_log
from monitor.review.times import moment


@click.command(epilog=SHORT)
@click.argument("log_file", metavar="LOG", type=click.Path(path_type=Path))
@click.argument("target", metavar="FILE", type=click.Path(path_type=Path))
@guarded
def command(log_file: Path, target: Path) -> None:
    """Copy LOG to the new FILE while the logger goes on writing.

    The copy is whole up to the moment it began, checked, and on the disk before it has its name. Copying a log's file
    by other means while it is written loses what still stands in the file beside it.

    Exit code: 0 done; 2 it can't be: FILE is there already, no space, LOG is damaged.
    """
    copied = copy_log(log_file, target)
    span = ""
    if copied.first_ms is not None and copied.last_ms is not None:
        span = f" from {moment(copied.first_ms, 'UTC')} to {moment(copied.last_ms, 'UTC')}"
    click.echo(f"{target}: {copied.readings:,} readings{span}, {copied.size / 1e6:.1f} MB, checked")
