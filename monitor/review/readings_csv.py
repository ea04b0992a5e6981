"""Readings as CSV: header ``time,point,volts,amps,hertz,watts``, an empty cell is "not measured".

Time is ISO 8601 with an offset or Z, or seconds since 1970. Rows stand in time order. A row without any value is a
poll that failed.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from drivers.quantities import QUANTITIES
from drivers.reading import Quality, Values
from monitor.engine.reading import Reading
from monitor.show.model import Point

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

    from monitor.show.model import Show

COLUMNS = ("time", "point", "volts", "amps", "hertz", "watts")
_MEASURED = COLUMNS[2:]
_NO_VALUES = Values()


@dataclass(frozen=True, slots=True)
class BadRow:
    """A row that can't be used.

    Attributes:
        line: of the file, from 1.
        text: what was found and what would do.

    """

    line: int
    text: str


class BadHeader(Exception):
    """The file has no usable header; its text says what is wrong."""


def read_rows(lines: Iterable[str], show: Show, bad: Callable[[BadRow], None]) -> Iterator[Reading]:
    """Read rows one by one, memory flat in the length of the file.

    Args:
        lines: of the file.
        show: its points are the ones that count.
        bad: called with each row that can't be used; what it raises ends the reading.

    Raises:
        BadHeader: the first line is not the header.

    """
    rows = csv.reader(lines)
    header = [cell.strip().lower().lstrip("\ufeff") for cell in next(rows, [])]
    missing = [name for name in COLUMNS[:2] if name not in header]
    if missing or not any(name in header for name in _MEASURED):
        raise BadHeader(f'line 1 must be "{",".join(COLUMNS)}"; found "{",".join(header)}"')
    places = {name: header.index(name) for name in COLUMNS if name in header}
    points = {str(point): point for point in show.points()}
    points |= {f"{c.id}/{c.legs[0]}": Point(c.id) for c in show.circuits if Point(c.id) in set(show.points())}
    newest: dict[Point, int] = {}
    last_ms = -1
    for row in rows:
        if not row:
            continue
        try:
            reading = _reading(row, places, points)
        except ValueError as error:
            bad(BadRow(rows.line_num, str(error)))
            continue
        if reading.time_ms < last_ms or reading.time_ms <= newest.get(reading.point, -1):
            bad(BadRow(rows.line_num, "its time is not after the row before; sort the file by time"))
            continue
        last_ms = newest[reading.point] = reading.time_ms
        yield reading


def _reading(row: Sequence[str], places: Mapping[str, int], points: Mapping[str, Point]) -> Reading:
    if len(row) <= max(places.values()):
        raise ValueError(f"it has {len(row)} cells, fewer than the header")
    name = row[places["point"]].strip()
    point = points.get(name)
    if point is None:
        raise ValueError(f'no meter of the show measures "{name}"')
    time_ms = _time_ms(row[places["time"]].strip())
    cells = {q: row[places[q]].strip() for q in _MEASURED if q in places}
    values = {q: _value(q, cell) for q, cell in cells.items() if cell}
    if not values:
        return Reading(point, time_ms, time_ms / 1000.0, Quality.SILENT, _NO_VALUES, "no values in the file")
    return Reading(point, time_ms, time_ms / 1000.0, Quality.GOOD, Values(**values))


def _time_ms(text: str) -> int:
    try:
        return round(float(text) * 1000)
    except (ValueError, OverflowError):
        pass
    try:
        time = datetime.fromisoformat(text)
    except ValueError:
        raise ValueError(f'"{text}" is no time: ISO 8601 with offset or Z, or seconds since 1970') from None
    if time.tzinfo is None:
        raise ValueError(f'"{text}" has no offset from UTC: write it as in 2026-11-25T14:07:35-04:00, or with Z')
    return round(time.timestamp() * 1000)


def _value(quantity: str, cell: str) -> float:
    try:
        value = float(cell)
    except ValueError:
        raise ValueError(f'{quantity} "{cell}" is no number') from None
    known = QUANTITIES[quantity]
    if not known.plausible(value):
        raise ValueError(f"{quantity} {cell} can't be: {known.low:g} to {known.high:g} {known.unit}")
    return value


def rows_of(readings: Iterable[Reading]) -> Iterator[tuple[str, ...]]:
    """Give header and rows of readings."""
    yield COLUMNS
    for reading in readings:
        time = datetime.fromtimestamp(reading.time_ms / 1000, UTC).isoformat(timespec="milliseconds")
        values = [getattr(reading.values, quantity) for quantity in _MEASURED]
        yield (time.replace("+00:00", "Z"), str(reading.point), *cells(values))


def cells(values: Iterable[object]) -> Iterator[str]:
    """Write values as cells: a figure with every digit that a log keeps, nothing where there is none."""
    for value in values:
        yield f"{value:.10g}" if isinstance(value, float) else "" if value is None else str(value)
