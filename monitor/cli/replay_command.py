"""``legwatch replay``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from monitor.cautions import SHORT
from monitor.cli.errors import FOUND_WRONG, fail, guarded
from monitor.review.readings_csv import BadHeader, BadRow, read_rows
from monitor.review.replay import replay
from monitor.show.loading import load_show

if TYPE_CHECKING:
    from collections.abc import Iterator

TOLD_MOST = 20


class _Refused(Exception):
    """A bad row, where bad rows are refused."""


class _Counted:
    """Lines of a file, with the bytes gone by."""

    def __init__(self, lines: Iterator[str]) -> None:
        self._lines = lines
        self.length = 0

    def __iter__(self) -> Iterator[str]:
        for line in self._lines:
            self.length += len(line)
            yield line


@click.command(epilog=SHORT)
@click.argument("show_file", metavar="SHOW", type=click.Path(path_type=Path))
@click.argument("readings_file", metavar="READINGS.csv", type=click.Path(path_type=Path))
@click.option("--log", "log_file", type=click.Path(path_type=Path), required=True, help="The log to write.")
@click.option("--skip-bad", is_flag=True, help="Leave out rows that can't be used; without it the first one ends it.")
@guarded
def command(show_file: Path, readings_file: Path, log_file: Path, *, skip_bad: bool) -> None:
    """Run recorded readings through the same judgement as live ones, into a log, as fast as it can.

    READINGS.csv has the header time,point,volts,amps,hertz,watts; time is ISO 8601 with an offset or Z, or seconds
    since 1970; an empty cell is "not measured"; rows stand in time order. Gaps in time are gaps.

    Exit code: 0 done; 1 rows were left out or it was stopped; 2 used wrongly.
    """
    show = load_show(show_file)
    bad: list[BadRow] = []

    def take_note(row: BadRow) -> None:
        if not skip_bad:
            raise _Refused(f"{readings_file}:{row.line}: {row.text}; --skip-bad leaves such rows out")
        bad.append(row)
        if len(bad) <= TOLD_MOST:
            click.echo(f"{readings_file}:{row.line}: {row.text}", err=True)

    try:
        with readings_file.open(encoding="utf-8", newline="") as stream:
            counted = _Counted(iter(stream))
            with click.progressbar(length=readings_file.stat().st_size, label="replay") as bar:
                done = replay(
                    show,
                    read_rows(counted, show, take_note),
                    log_file,
                    lambda _: bar.update(counted.length - bar.pos),
                )
    except _Refused as refusal:
        fail(f"legwatch: {refusal}")
    except BadHeader as header:
        fail(f"legwatch: {readings_file}: {header}")
    except KeyboardInterrupt:
        fail(f"legwatch: stopped before the end; {log_file} holds a part: replay into a new file", FOUND_WRONG)
    except (OSError, UnicodeDecodeError) as error:
        fail(f"legwatch: {readings_file} can't be read: {getattr(error, 'strerror', None) or 'it is not UTF-8 text'}")
    if not done:
        fail(f"legwatch: {readings_file} holds no reading that can be used: nothing was written")
    click.echo(f"{done} readings in {log_file}" + (f", {len(bad)} rows left out" if bad else ""))
    if bad:
        raise SystemExit(FOUND_WRONG)
