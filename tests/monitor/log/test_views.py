"""What the views show against the readings that went in, with Python's own calendar."""

from __future__ import annotations

import hashlib
import sqlite3
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.quantities import QUANTITIES
from drivers.reading import Quality, Values
from monitor.engine.events import Event
from monitor.engine.reading import Reading
from tests.monitor.log.logs import A1, A2, BEGIN_MS, SHOW, instant, keep, opened, reading


def rows(path: Path, sql: str) -> list[tuple[Any, ...]]:
    """Query the file with nothing but Python's own module."""
    db = sqlite3.connect(path)
    found = db.execute(sql).fetchall()
    db.close()
    return found


def iso(time_ms: int) -> str:
    """Write a time as the views must."""
    return datetime.fromtimestamp(time_ms / 1000, UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def amount(name: str) -> st.SearchStrategy[float | None]:
    """Give values over the whole plausible range of a quantity, and None."""
    quantity = QUANTITIES[name]
    return st.none() | st.floats(quantity.low, quantity.high)


values = st.builds(
    Values,
    volts=amount("volts"),
    amps=amount("amps"),
    hertz=amount("hertz"),
    watts=amount("watts"),
    power_factor=amount("power_factor"),
)
STEPS = {"volts": 0.001, "amps": 0.001, "hertz": 0.001, "watts": 0.1, "power_factor": 0.0001}


@settings(max_examples=25, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(1, 10_000), st.sampled_from(list(Quality)), st.sampled_from([A1, A2]), values), min_size=1
    )
)
def test_readings_come_back_as_they_went_in(items: list[tuple[int, Quality, Any, Values]]) -> None:
    """In order of time, in real units to the stored step, a missing value as NULL."""
    time_ms = BEGIN_MS
    readings = []
    for passed, quality, point, measured in items:
        time_ms += passed
        readings.append(Reading(point, time_ms, time_ms / 1000, quality, measured))
    with TemporaryDirectory() as directory:
        path = Path(directory) / "log.sqlite"
        with opened(path) as writer:
            keep(writer, *readings)
        found = rows(path, "SELECT * FROM readings")
    assert [row[:2] for row in found] == [(iso(r.time_ms), str(r.point)) for r in readings]
    assert [row[7] for row in found] == [r.quality.value for r in readings]
    for row, item in zip(found, readings, strict=True):
        for column, (name, step) in enumerate(STEPS.items(), 2):
            value = getattr(item.values, name)
            assert row[column] == (None if value is None else pytest.approx(value, abs=step * 0.51))


def test_figures_read_as_measured(tmp_path: Path) -> None:
    """Values on the stored step come back without a trace of the scaling."""
    measured = Values(volts=231.4, amps=12.345, hertz=49.98, watts=2750.3, power_factor=0.9632)
    with opened(tmp_path / "log.sqlite") as writer:
        keep(writer, reading(0.25, values=measured))
    assert rows(tmp_path / "log.sqlite", "SELECT * FROM readings") == [
        ("2026-09-21T14:14:00.250Z", "A1", 231.4, 12.345, 49.98, 2750.3, 0.9632, "good")
    ]


def test_minutes_in_real_units(tmp_path: Path) -> None:
    """The finished minute and the one that runs, each point on its own row."""
    with opened(tmp_path / "log.sqlite") as writer:
        for second in range(90):
            volts = 118.0 + second % 3
            keep(writer, reading(second, A2, values=Values(volts, 10.0 + second % 2, 60.0, 1200.0)))
    found = rows(tmp_path / "log.sqlite", "SELECT * FROM minutes ORDER BY time_utc")
    first = ("2026-09-21T14:14:00.000Z", "boxA/L1", 118, 119, 120, 10, 10.5, 11, 60, 60, 60, 1200, 1200 * 59 / 3600, 60)
    second_ = ("2026-09-21T14:15:00.000Z", "boxA/L1", 118, 119, 120, 10, 10.5, 11, 60, 60, 60, 1200, 10.0, 30)
    assert found == [pytest.approx(first), pytest.approx(second_)]


def test_gaps_with_both_ends(tmp_path: Path) -> None:
    """A gap that is over has its length; one that lasts has no end."""
    with opened(tmp_path / "log.sqlite") as writer:
        keep(writer, reading(0, A2), reading(1, A2, Quality.SILENT, detail="no reply"), reading(3.5, A2))
        keep(writer, reading(4, A1, Quality.REFUSED, detail="exception 2"))
    assert rows(tmp_path / "log.sqlite", "SELECT * FROM gaps") == [
        ("boxA/L1", "2026-09-21T14:14:01.000Z", "2026-09-21T14:14:03.500Z", 2.5, "silent", "no reply"),
        ("A1", "2026-09-21T14:14:04.000Z", None, None, "refused", "exception 2"),
    ]


def test_events_keep_their_figures(tmp_path: Path) -> None:
    """Text of any script and figures as JSON."""
    with opened(tmp_path / "log.sqlite") as writer:
        event = Event(BEGIN_MS + 5, "clock-step", "", "the clock was set: Zürich", {"seconds": -2.5, "by": None})
        writer.write_cycle((), (event,), instant(0))
    assert rows(tmp_path / "log.sqlite", "SELECT * FROM events") == [
        (
            "2026-09-21T14:14:00.005Z",
            "clock-step",
            "",
            "the clock was set: Zürich",
            '{"seconds": -2.5, "by": null}',
        )
    ]


def test_notes_keep_who_and_how_much(tmp_path: Path) -> None:
    """A refuel entry with its litres, a plain note without a number."""
    with opened(tmp_path / "log.sqlite") as writer:
        writer.note(BEGIN_MS, "Ada", "moved kettle to B2")
        writer.note(BEGIN_MS + 1000, "Noor", "", kind="refuel", place="source", number=42.5, quantity="litres")
    assert rows(tmp_path / "log.sqlite", "SELECT * FROM notes") == [
        ("2026-09-21T14:14:00.000Z", "Ada", "note", "", None, None, "moved kettle to B2"),
        ("2026-09-21T14:14:01.000Z", "Noor", "refuel", "source", 42.5, "litres", ""),
    ]


def test_shows_carry_text_and_checksum(tmp_path: Path) -> None:
    """The text as it was read, with its SHA-256."""
    with opened(tmp_path / "log.sqlite"):
        pass
    digest = hashlib.sha256(SHOW.text.encode()).hexdigest()
    assert rows(tmp_path / "log.sqlite", "SELECT * FROM shows") == [(1, "2026-09-21T14:14:00.000Z", digest, SHOW.text)]
