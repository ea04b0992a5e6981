"""Recorded readings: rows in, rows out, bad rows told; a replayed log holds the alarms of the live one."""

from __future__ import annotations

import csv
import io
import sqlite3
from typing import TYPE_CHECKING

import pytest

from drivers.clock import Instant
from monitor.engine.watch import Watch
from monitor.log.reader import LogReader
from monitor.log.writer import LogWriter
from monitor.review.readings_csv import BadHeader, BadRow, read_rows, rows_of
from monitor.review.replay import replay
from tests.monitor.engine.test_watch import BEGIN_MS, WEIR, rows

if TYPE_CHECKING:
    from pathlib import Path

    from monitor.engine.reading import Reading


def as_csv(readings: list[Reading]) -> list[str]:
    """Write readings as lines of a file."""
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows_of(readings))
    return out.getvalue().splitlines(keepends=True)


DAY = [10.0] * 20 + [-1.0] * 30 + [10.0] * 10 + [24.0] * 40 + [10.0] * 60


def test_rows_come_back_as_they_went_out() -> None:
    """Out and in again: the same points, times and values; a failed poll stays one."""
    readings = rows(DAY)
    bad: list[BadRow] = []
    again = list(read_rows(as_csv(readings), WEIR, bad.append))
    assert bad == []
    assert [(r.point, r.time_ms, r.quality, r.values) for r in again] == [
        (r.point, r.time_ms, r.quality, r.values) for r in readings
    ]


def test_a_replayed_day_gives_its_alarms_event_for_event(tmp_path: Path) -> None:
    """Live second by second into one log, its readings replayed into another: the same journal of alarms."""
    readings = rows(DAY)
    live, watch = tmp_path / "live.sqlite", Watch(WEIR)
    with LogWriter.open(live, WEIR, Instant(BEGIN_MS, BEGIN_MS / 1000.0)) as writer:
        for second in range(1, len(DAY) + 3):
            now_ms = BEGIN_MS + 1000 * second
            due = [r for r in readings if now_ms - 1000 <= r.time_ms < now_ms]
            writer.write_cycle(due, (), Instant(now_ms, now_ms / 1000.0), watch.advance(due, now_ms))
    with LogReader(live) as reader:
        recorded, expected = reader.readings_since(0), reader.alarm_changes()
    replay(WEIR, iter(recorded), tmp_path / "again.sqlite", lambda _: None)
    with LogReader(tmp_path / "again.sqlite") as reader:
        got = reader.alarm_changes()
    last_ms = recorded[-1].time_ms
    assert [c for c in got if c.time_ms <= last_ms] == [c for c in expected if c.time_ms <= last_ms]
    assert {"above-rating", "meter-silent"} <= {c.alarm.code for c in got}


@pytest.mark.parametrize(
    ("row", "told"),
    [
        ("2026-11-25T14:00:00Z,Z9,120,1,60,120", '"Z9"'),
        ("2026-11-25 14:00:00,A1,120,1,60,120", "no offset"),
        ("yesterday,A1,120,1,60,120", "no time"),
        ("2026-11-25T14:00:00Z,A1,12O,1,60,120", "no number"),
        ("2026-11-25T14:00:00Z,A1,nan,1,60,120", "can't be"),
        ("2026-11-25T14:00:00Z,A1,120,99999,60,120", "can't be"),
        ("2026-11-25T14:00:00Z,A1", "fewer than the header"),
        ("1000,A1,120,1,60,120", "not after"),
    ],
)
def test_each_bad_row_is_told_with_its_line(row: str, told: str) -> None:
    """A bad row is left out with its line; the good ones around it are taken."""
    lines = [
        "time,point,volts,amps,hertz,watts\n",
        "1790000000,A1,120,1,60,120\n",
        row + "\n",
        "1790000002,A1,120,1,60,120\n",
    ]
    bad: list[BadRow] = []
    good = list(read_rows(lines, WEIR, bad.append))
    assert [b.line for b in bad] == [3]
    assert told in bad[0].text
    assert len(good) + len(bad) >= 2


@pytest.mark.parametrize("header", ["", "a,b,c", "time,point", "point,volts"])
def test_a_file_without_the_header_is_refused(header: str) -> None:
    """The first line must name the columns."""
    with pytest.raises(BadHeader, match="time,point,volts"):
        list(read_rows([header + "\n"], WEIR, lambda _: None))


def test_a_slow_recording_is_no_silence(tmp_path: Path) -> None:
    """Readings every ten seconds: values count as live for as long, no meter is called silent."""
    slow = [r for r in rows([10.0] * 600) if (r.time_ms - BEGIN_MS) // 1000 % 10 == 0]
    assert replay(WEIR, iter(slow), tmp_path / "slow.sqlite", lambda _: None) == len(slow)
    with sqlite3.connect(tmp_path / "slow.sqlite") as db:
        assert db.execute("SELECT count(*) FROM readings").fetchone()[0] == len(slow)
        assert db.execute("SELECT code FROM alarms").fetchall() == []
