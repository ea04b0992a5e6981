"""``legwatch export``."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from monitor.cautions import SHORT
from monitor.cli.errors import fail, guarded
from monitor.cli.stretch import refuse_log, stretch, stretch_options
from monitor.log.reader import LogReader
from monitor.review.export import TABLES, CsvSink, NoParquet, ParquetSink, Table, export
from monitor.review.then import glance_at


@click.command(epilog=SHORT)
@click.argument("log_file", metavar="LOG", type=click.Path(path_type=Path))
@click.argument("what", metavar="WHAT", type=click.Choice(list(TABLES)))
@click.option("--csv", "as_csv", is_flag=True, help="CSV, in UTF-8. This is what you get without an option.")
@click.option("--parquet", is_flag=True, help="Parquet; needs the package pyarrow.")
@stretch_options
@click.option(
    "-o", "--output", type=click.Path(path_type=Path), help="The file to write. Default: beside LOG, named after both."
)
@guarded
def command(  # noqa: PLR0913 - one parameter an option
    log_file: Path, what: str, since: str | None, until: str | None, output: Path | None, *, as_csv: bool, parquet: bool
) -> None:
    """Write readings, minutes or events of LOG as a table for other programs.

    WHAT is one of readings, minutes and events. Readings as CSV have the header time,point,volts,amps,hertz,watts and
    can be given to `legwatch replay`. An empty cell was not measured; times are in UTC. Events hold alarms, entries of
    people, loads on and off and incidents too.

    Exit code: 0 done; 2 used wrongly, LOG can't be read or the file can't be written.
    """
    if as_csv and parquet:
        fail("legwatch: choose one of --csv and --parquet")
    table = TABLES[what]
    path = output or log_file.with_name(f"{log_file.stem}-{what}.{'parquet' if parquet else 'csv'}")
    refuse_log(path, log_file)
    with LogReader(log_file) as reader:
        chosen = stretch(since, until, glance_at(reader, str(log_file)).timezone)
        try:
            draft = path.with_name(f"{path.name}.part")  # a table that was cut short must not look like a whole one
            done = _write(reader, table, chosen, draft, parquet=parquet)
            draft.replace(path)
        except NoParquet as problem:
            fail(f"legwatch: {problem}")
        except OSError as error:
            fail(f"legwatch: {path} can't be written: {error.strerror or error}; name another file with -o")
    click.echo(f"{path}: {done} rows")


def _write(reader: LogReader, table: Table, chosen: tuple[int, int], path: Path, *, parquet: bool) -> int:
    first_ms, last_ms = reader.reach() or (0, 0)
    begin_ms, end_ms = max(chosen[0], first_ms), min(chosen[1], last_ms + 1)
    with click.progressbar(length=max(1, end_ms - begin_ms), label="export", file=sys.stderr) as bar:

        def progress(time_ms: int) -> None:
            bar.update(time_ms - begin_ms - bar.pos)

        if parquet:
            with ParquetSink(path, table) as sink:
                return export(reader, table, chosen, sink, progress)
        with path.open("w", encoding="utf-8", newline="") as stream:
            return export(reader, table, chosen, CsvSink(stream, table), progress)
