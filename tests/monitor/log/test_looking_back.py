"""What a reader gives of long stretches, against the single minutes and readings they are made of."""

from __future__ import annotations

import sqlite3
from typing import TYPE_CHECKING

import pytest

from drivers.reading import Values
from monitor.engine.events import Event
from monitor.incidents.model import Found
from monitor.log.reader import LogReader
from tests.monitor.log.findings import found_step, incident
from tests.monitor.log.logs import A1, A2, BEGIN_MS, instant, keep, opened, reading

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

MINUTES = 11


@pytest.fixture
def reader(tmp_path: Path) -> Iterator[LogReader]:
    """Open a log of eleven minutes at two points, one of them rising, one without amps, a minute missing."""
    with opened(tmp_path / "log.sqlite") as writer:
        for second in range(0, 60 * MINUTES, 5):
            if second // 60 != 4:
                values = Values(volts=118 + second % 7, amps=second / 60, hertz=60.0, watts=float(second))
                keep(writer, reading(second, A1, values=values), reading(second, A2, values=Values(volts=230.0)))
        event = Event(BEGIN_MS + 5_000, "clock-step", "", "set", {})
        writer.write_cycle((), (event,), instant(700), found=Found((found_step(700),), (incident(1, 800),)))
    with LogReader(tmp_path / "log.sqlite") as log:
        yield log


def test_slots_hold_what_their_minutes_hold(reader: LogReader) -> None:
    """Lowest, highest, energy and counts of each slot are those of its minutes; the mean is that of its readings."""
    end_ms = BEGIN_MS + 60_000 * MINUTES
    minutes = reader.minutes(A1, BEGIN_MS, end_ms)
    slots = reader.slots(BEGIN_MS, end_ms, 5)[str(A1)]
    assert sum(slot.samples for slot in slots) == sum(minute.samples for minute in minutes)
    for slot in slots:
        inside = [m for m in minutes if slot.begin_ms <= m.begin_ms < slot.begin_ms + 300_000]
        amps = [(m.amps, m.samples) for m in inside if m.amps is not None]
        assert slot.amps is not None
        assert (slot.amps[0], slot.amps[2]) == (min(a[0] for a, _ in amps), max(a[2] for a, _ in amps))
        assert slot.amps[1] == pytest.approx(sum(a[1] * n for a, n in amps) / sum(n for _, n in amps), abs=1e-3)
        assert slot.watt_hours == pytest.approx(sum(m.watt_hours or 0.0 for m in inside))
        assert slot.begin_ms % 300_000 == 0


def test_slots_of_one_minute_are_the_minutes(reader: LogReader) -> None:
    """Of both points, a missing quantity staying missing."""
    end_ms = BEGIN_MS + 60_000 * MINUTES
    by_point = reader.slots(BEGIN_MS, end_ms, 1)
    for point in (A1, A2):
        assert by_point[str(point)] == reader.minutes(point, BEGIN_MS, end_ms)
    assert all(minute.amps is None for minute in by_point[str(A2)])


def test_minutes_above_a_limit_are_counted(reader: LogReader) -> None:
    """A1 rises by 1 A a minute: its minutes 8, 9 and 10 have a reading above 8 A; A2 has no amps at all."""
    counted = reader.minutes_above(BEGIN_MS, BEGIN_MS + 60_000 * MINUTES, {str(A1): 8.0, str(A2): 1.0})
    assert counted == {str(A1): 3}
    assert reader.minutes_above(BEGIN_MS, BEGIN_MS + 60_000, {str(A1): 8.0}) == {str(A1): 0}


def test_a_page_of_minutes_has_all_points_in_order(reader: LogReader) -> None:
    """With the points' names."""
    page = reader.minute_page(BEGIN_MS, BEGIN_MS + 120_000)
    assert [(name, minute.begin_ms) for name, minute in page] == [
        (str(point), BEGIN_MS + 60_000 * n) for n in (0, 1) for point in (A1, A2)
    ]


def test_the_reach_is_that_of_everything(reader: LogReader) -> None:
    """Also of an incident after the last reading."""
    assert reader.reach() == (BEGIN_MS, BEGIN_MS + 800_000)
    assert [event.kind for event in reader.events_between(BEGIN_MS + 5_000, BEGIN_MS + 5_001)] == ["clock-step"]
    assert reader.events_between(BEGIN_MS, BEGIN_MS + 5_000) == []


def test_minutes_reach_where_readings_were_given_up(tmp_path: Path) -> None:
    """A log that keeps its readings for a short time only is looked back at as far as its minutes go."""
    path = tmp_path / "short.sqlite"
    with opened(path) as writer:
        keep(writer, reading(0), reading(1))
        keep(writer, reading(200))
    db = sqlite3.connect(path)
    db.execute("DELETE FROM reading WHERE time_ms < ?", (BEGIN_MS + 100_000,))
    db.commit()
    db.close()
    with LogReader(path) as log:
        assert log.reach() == (BEGIN_MS, BEGIN_MS + 200_000)
        assert len(log.minutes(A1, BEGIN_MS, BEGIN_MS + 60_000)) == 1


def test_steps_are_counted_without_reading_them(reader: LogReader) -> None:
    """All of them, and those that came on and fit no planned load."""
    assert reader.count_steps() == (1, 1)
    assert reader.count_steps(0, BEGIN_MS) == (0, 0)


def test_an_empty_log_has_no_reach(tmp_path: Path) -> None:
    """And nothing to count."""
    with opened(tmp_path / "new.sqlite"):
        pass
    with LogReader(tmp_path / "new.sqlite") as log:
        assert log.reach() is None
        assert log.count_steps() == (0, 0)
        assert list(log.pages(0, 1 << 52)) == []
