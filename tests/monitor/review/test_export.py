"""Exports: what is in the log comes out, in forms that other programs and ``replay`` read."""

from __future__ import annotations

import csv
import json
import sqlite3
import tracemalloc
from typing import TYPE_CHECKING

import pytest

from monitor.log.reader import LogReader
from monitor.review.export import TABLES, CsvSink, ParquetSink, export
from monitor.review.readings_csv import BadRow, read_rows
from tests.monitor.review.logs import SHOW, evening

if TYPE_CHECKING:
    from pathlib import Path

EVER = (0, 1 << 52)


def as_csv(log: Path, name: str, stretch: tuple[int, int] = EVER) -> list[list[str]]:
    """Export to CSV and read it with Python's own module."""
    target = log.with_suffix(".csv")
    with LogReader(log) as reader, target.open("w", encoding="utf-8", newline="") as stream:
        done = export(reader, TABLES[name], stretch, CsvSink(stream, TABLES[name]), lambda _: None)
    with target.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.reader(stream))
    assert len(rows) == done + 1
    return rows


def view(log: Path, sql: str) -> list[tuple[object, ...]]:
    """Ask the log with nothing but Python's own module."""
    db = sqlite3.connect(log)
    rows = db.execute(sql).fetchall()
    db.close()
    return rows


def test_readings_are_those_of_the_view(tmp_path: Path) -> None:
    """Header as fixed; every reading to the log's own step, a missing value as an empty cell."""
    log = evening(tmp_path)
    header, *rows = as_csv(log, "readings")
    assert ",".join(header) == "time,point,volts,amps,hertz,watts"
    expected = view(log, "SELECT time_utc, point, volts, amps, hertz, watts FROM readings")
    assert [tuple(row[:2]) for row in rows] == [row[:2] for row in expected]
    for row, right in zip(rows, expected, strict=True):
        assert [float(cell) if cell else None for cell in row[2:]] == list(right[2:])
    assert any("" in row for row in rows)


def test_replay_reads_them_back(tmp_path: Path) -> None:
    """The same values at the same times, none refused."""
    log = evening(tmp_path)
    as_csv(log, "readings")
    bad: list[BadRow] = []
    with log.with_suffix(".csv").open(encoding="utf-8", newline="") as stream, LogReader(log) as reader:
        again = list(read_rows(stream, SHOW, bad.append))
        first = reader.readings_since(0)
    assert bad == []
    assert [(r.time_ms, r.point, r.values) for r in again] == [(r.time_ms, r.point, r.values) for r in first]


def test_minutes_are_those_of_the_view(tmp_path: Path) -> None:
    """Finished ones and the last, with the view's own columns."""
    log = evening(tmp_path)
    header, *rows = as_csv(log, "minutes")
    expected = view(log, "SELECT * FROM minutes ORDER BY time_utc, point")
    assert header[1:] == [name for (name,) in view(log, "SELECT name FROM pragma_table_info('minutes')")][1:]
    assert len(rows) == len(expected)
    for row, right in zip(sorted(rows), expected, strict=True):
        assert row[:2] == list(right[:2])
        assert [float(c) if c else None for c in row[2:]] == [
            None if value is None else pytest.approx(value) for value in right[2:]
        ]


def test_events_hold_everything_that_happened_in_order(tmp_path: Path) -> None:
    """Alarms with who, entries of people, loads on and off, incidents."""
    header, *rows = as_csv(evening(tmp_path), "events")
    assert header == ["time", "type", "kind", "place", "who", "text", "data"]
    assert [row[0] for row in rows] == sorted(row[0] for row in rows)
    kinds = [(row[1], row[2]) for row in rows]
    assert kinds == [
        ("step", "on"), ("note", "refuel"), ("step", "on"), ("alarm", "above-rating"),
        ("alarm", "above-rating"), ("note", "note"), ("incident", "overload-trip"), ("incident", "meter-silent"),
    ]  # fmt: skip
    assert [row[4] for row in rows if row[1] == "alarm"] == ["", "Ada"]
    assert all(isinstance(json.loads(row[6]), dict) for row in rows)


def test_a_stretch_is_cut_where_it_was_asked(tmp_path: Path) -> None:
    """Its begin is in, its end is out."""
    log = evening(tmp_path)
    with LogReader(log) as reader:
        times = sorted({reading.time_ms for reading in reader.readings_since(0)})
    rows = as_csv(log, "readings", (times[100], times[200]))
    assert len(rows) == 1 + 4 * 100


@pytest.mark.parametrize("name", list(TABLES))
def test_parquet_holds_the_same_as_csv(tmp_path: Path, name: str) -> None:
    """Read back with pyarrow: as many rows, the same names, times in UTC, missing as null."""
    parquet = pytest.importorskip("pyarrow.parquet")
    log = evening(tmp_path)
    header, *rows = as_csv(log, name)
    target = tmp_path / "table.parquet"
    with LogReader(log) as reader, ParquetSink(target, TABLES[name]) as sink:
        export(reader, TABLES[name], EVER, sink, lambda _: None)
    table = parquet.read_table(target)
    assert table.schema.names == header
    assert table.num_rows == len(rows)
    assert str(table.schema.field("time").type) == "timestamp[ms, tz=UTC]"
    found = table.slice(len(rows) - 1, 1).to_pylist()[0]
    assert found["time"].isoformat(timespec="milliseconds").replace("+00:00", "Z") == rows[-1][0]
    assert [found[key] is None for key in header[2:]] == [
        cell == "" and key not in TABLES[name].texts for key, cell in zip(header[2:], rows[-1][2:], strict=True)
    ]


def test_pages_join_without_a_seam(tmp_path: Path) -> None:
    """However small the pages are, every reading comes once."""
    with LogReader(evening(tmp_path)) as reader:
        whole = [
            (r.time_ms, str(r.point), r.values.volts, r.values.amps, r.values.hertz, r.values.watts)
            for r in reader.readings_since(0)
        ]
        for size in (1, 3, 7, 4 * (900 - 40)):
            assert [r for page in reader.pages(whole[0][0], 1 << 52, size) for r in page][:50] == whole[:50]
        assert [r for page in reader.pages(0, 1 << 52, 7) for r in page] == whole


def test_memory_is_flat(tmp_path: Path) -> None:
    """A page is what is held, not the log: small pages take less than half of what the whole takes."""
    with LogReader(evening(tmp_path)) as reader:
        peaks = []
        for size in (50, 1 << 30):
            tracemalloc.start()
            for page in reader.pages(0, 1 << 52, size):
                assert page
            peaks.append(tracemalloc.get_traced_memory()[1])
            tracemalloc.stop()
    assert peaks[0] < peaks[1] / 2
