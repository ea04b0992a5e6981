"""A log's content as tables for other programs: page by page, memory flat in the length of the log."""

from __future__ import annotations

import csv
import itertools
import json
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Protocol, Self, TextIO

from monitor.review.readings_csv import COLUMNS, cells
from monitor.review.wording import WHAT, amount, load

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from pathlib import Path
    from types import TracebackType

    from monitor.log.reader import LogReader
    from monitor.log.records import Minute

    Row = Sequence[Any]
    Pages = Iterator[Sequence[Row]]

_PAGE_MS = 3_600_000
_LOOK_AHEAD = 24  # pieces from one look for where the log goes on to the next
_SPANS = ("volts", "amps", "hertz")
MINUTE_COLUMNS = (
    "time", "point", *(f"{name}_{part}" for name in _SPANS for part in ("min", "mean", "max")),
    "watts_mean", "watt_hours", "samples",
)  # fmt: skip
EVENT_COLUMNS = ("time", "type", "kind", "place", "who", "text", "data")


class NoParquet(Exception):
    """The library for Parquet is not installed; its text says what to do."""


@dataclass(frozen=True, slots=True)
class Table:
    """What is to be exported.

    Attributes:
        columns: their names; the first is the time [ms since 1970 UTC], which is written in UTC.
        texts: names of the columns that hold text; the others hold figures.
        pages: gives rows from a begin to before an end [ms, the log's clock].

    """

    columns: tuple[str, ...]
    texts: frozenset[str]
    pages: Callable[[LogReader, int, int], Pages]


def _readings(reader: LogReader, begin_ms: int, end_ms: int) -> Pages:
    yield from reader.pages(begin_ms, end_ms)


def _minutes(reader: LogReader, begin_ms: int, end_ms: int) -> Pages:
    for first_ms, last_ms in _stretches(reader, begin_ms, end_ms):
        yield [_minute(point, minute) for point, minute in reader.minute_page(first_ms, last_ms)]


def _minute(point: str, minute: Minute) -> Row:
    nothing = (None, None, None)
    spans = [value for name in _SPANS for value in (getattr(minute, name) or nothing)]
    return (minute.begin_ms, point, *spans, minute.watts_mean, minute.watt_hours, float(minute.samples))


def _events(reader: LogReader, begin_ms: int, end_ms: int) -> Pages:
    for first_ms, last_ms in _stretches(reader, begin_ms, end_ms):
        yield sorted(_page_of_events(reader, first_ms, last_ms), key=lambda row: int(row[0]))


def _page_of_events(reader: LogReader, begin_ms: int, end_ms: int) -> Iterator[Row]:
    """Give everything that happened: events, alarms, entries of people, steps and incidents."""
    for event in reader.events_between(begin_ms, end_ms):
        yield (event.time_ms, "event", event.kind, event.where, "", event.text, _json(dict(event.data)))
    for change in reader.alarm_changes(begin_ms, end_ms):
        alarm = change.alarm
        data = {"before": change.before, "state": alarm.state, "priority": alarm.priority, "value": alarm.value}
        yield (change.time_ms, "alarm", alarm.code, alarm.where, alarm.who, alarm.seen, _json(data))
    for note in reader.notes_between(begin_ms, end_ms):
        data = {} if note.number is None else {"number": note.number, "quantity": note.quantity}
        yield (note.time_ms, "note", note.kind, note.place, note.who, note.text, _json(data))
    for found in reader.steps(begin_ms, end_ms):
        step = found.step
        size = {"watts": step.watts, "amps": step.amps, "pieces": list(step.match)}
        text = f"{step.kind}, {amount(found)}: {load(found)}"  # a sign first would be a formula to a spreadsheet
        yield (found.time_ms, "step", step.kind, found.circuit, "", text, _json(size))
    for one in reader.incidents(begin_ms, end_ms):
        data = {"number": one.number, "confidence": one.confidence, "end_ms": one.end_ms}
        where = " ".join(map(str, one.points))
        yield (one.begin_ms, "incident", one.kind.value, where, "", WHAT[one.kind], _json(data))


def _stretches(reader: LogReader, begin_ms: int, end_ms: int) -> Iterator[tuple[int, int]]:
    """Cut the time into pieces; one in which nothing is, as where a clock began in 1970, is passed over in one step."""
    first_ms = begin_ms
    for number in itertools.count():
        if number % _LOOK_AHEAD == 0:
            reach = reader.reach(first_ms)
            if reach is None:
                return
            first_ms, last_ms = max(first_ms, reach[0] // _PAGE_MS * _PAGE_MS), min(end_ms, reach[1] + 1)
        if first_ms >= last_ms:
            return
        next_ms = min((first_ms // _PAGE_MS + 1) * _PAGE_MS, last_ms)
        yield first_ms, next_ms
        first_ms = next_ms


def _json(data: Mapping[str, Any]) -> str:
    return json.dumps(data, ensure_ascii=False)


TABLES = {
    "readings": Table(COLUMNS, frozenset({"point"}), _readings),
    "minutes": Table(MINUTE_COLUMNS, frozenset({"point"}), _minutes),
    "events": Table(EVENT_COLUMNS, frozenset(EVENT_COLUMNS[1:]), _events),
}


class Sink(Protocol):
    """Takes pages of rows."""

    def take(self, rows: Sequence[Row]) -> None:
        """Write a page."""


class CsvSink:
    """Rows as CSV: an empty cell is "not measured", times are ISO 8601 in UTC.

    Args:
        stream: opened with ``newline=""``.
        table: gives the header, which is written at once.

    """

    def __init__(self, stream: TextIO, table: Table) -> None:
        self._writer = csv.writer(stream, lineterminator="\n")
        self._writer.writerow(table.columns)

    def take(self, rows: Sequence[Row]) -> None:
        """Write a page."""
        self._writer.writerows((utc(row[0]), *cells(row[1:])) for row in rows)


class ParquetSink:
    """Rows as one Parquet file; a context manager, since its foot is written at the end.

    Args:
        path: of the file.
        table: gives the columns.

    Raises:
        NoParquet: on entering.

    """

    def __init__(self, path: Path, table: Table) -> None:
        self._arrowth, self._table = path, table

    def __enter__(self) -> Self:
        """Open the file."""
        try:
            import pyarrow as pa  # noqa: PLC0415 - an extra, and slow to load
            from pyarrow import parquet  # noqa: PLC0415 - an extra
        except ImportError:
            raise NoParquet("Parquet needs pyarrow: pip install 'legwatch[parquet]', or use --csv") from None
        self._arrow = pa
        kinds = [(name, pa.string() if name in self._table.texts else pa.float64()) for name in self._table.columns[1:]]
        self._schema = pa.schema([("time", pa.timestamp("ms", tz="UTC")), *kinds])
        self._writer = parquet.ParquetWriter(self._arrowth, self._schema)
        return self

    def take(self, rows: Sequence[Row]) -> None:
        """Write a page as a row group."""
        if not rows:
            return
        columns = list(zip(*rows, strict=True))
        arrays = [self._arrow.array(column, field.type) for column, field in zip(columns, self._schema, strict=True)]
        self._writer.write_table(self._arrow.Table.from_arrays(arrays, schema=self._schema))

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Write the foot."""
        self._writer.close()


def export(
    reader: LogReader, table: Table, stretch: tuple[int, int], sink: Sink, progress: Callable[[int], None]
) -> int:
    """Write a table from begin to before end [ms, the log's clock].

    Args:
        reader: of the log.
        table: one of ``TABLES``.
        stretch: begin and end.
        sink: takes the pages.
        progress: called after each page with the time reached [ms, the log's clock].

    Returns:
        How many rows were written.

    Raises:
        LogProblem: the log can't be read.

    """
    done = 0
    for page in table.pages(reader, *stretch):
        sink.take(page)
        done += len(page)
        if page:
            progress(int(page[-1][0]))
    return done


@lru_cache(maxsize=1_000)  # the points of a meter share their times
def utc(time_ms: int) -> str:
    """Write a time [ms since 1970 UTC] for tables."""
    return datetime.fromtimestamp(time_ms / 1000, UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
