"""The computer's clock: no time at start, steps forward and back, the end of summer time in the show's zone.

The wall clock is stood in for at the one place that asks for it, so that a real recorder runs through the night in
question; what is checked is what log, screens, review and export then show.
"""

from __future__ import annotations

import json
import sqlite3
import time
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner

from drivers.clock import Instant, monotonic
from monitor.cli.main import main
from monitor.recorder.attached import AttachedFeed
from monitor.recorder.recorder import Recorder
from monitor.show.loading import load_show
from tests.support.measured import Measured
from tests.support.sets import small_set

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

USERS_OF_NOW = ("bus.poller", "listening.worker")
# Halifax leaves summer time on 2026-11-01 at 02:00 -03:00, 05:00 UTC (IANA time zone database, America/Halifax)
SUMMER_ENDS_MS = round(datetime(2026, 11, 1, 5, 0, tzinfo=UTC).timestamp() * 1000)


class Wall:
    """A wall clock that can be set."""

    def __init__(self, patch: pytest.MonkeyPatch, at_ms: int) -> None:
        self.set(at_ms)
        for name in (*(f"drivers.{module}" for module in USERS_OF_NOW), "monitor.recorder.recorder"):
            patch.setattr(f"{name}.now", self.now)
        patch.setattr("monitor.recorder.attached.now", self.now)

    def set(self, at_ms: int) -> None:
        """Set it."""
        self._base_ms, self._base_s = at_ms, monotonic()

    def now(self) -> Instant:
        """Give both clocks."""
        mono_s = monotonic()
        return Instant(self._base_ms + round((mono_s - self._base_s) * 1000), mono_s)


def until(holds: Callable[[], bool], within_s: float = 15.0) -> float:
    """Wait; give how long [s]."""
    begun_s = time.monotonic()
    while not holds():
        assert time.monotonic() - begun_s < within_s
        time.sleep(0.02)
    return time.monotonic() - begun_s


def live(feed: Recorder | AttachedFeed) -> bool:
    """Say whether everything on a screen is live."""
    return all(circuit.measured.live for circuit in feed.snapshot().circuits)


STEPS = {
    "clock set an hour forward": (1_790_000_000_000, 3_600_000),
    "clock set an hour back": (1_790_000_000_000, -3_600_000),
    "no time at start, then network time": (20_000, 1_790_000_000_000),
}


@pytest.mark.parametrize("name", STEPS)
def test_a_step_is_told_and_nothing_is_lost(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, record_property: Callable[[str, object], None]
) -> None:
    """Every poll is there at a time of its own, screens stay live, the step is an event and an alarm."""
    start_ms, step_ms = STEPS[name]
    wall, log = Wall(monkeypatch, start_ms), tmp_path / "weir.sqlite"
    with small_set(tmp_path) as (path, _), Recorder(load_show(path), log, 0.2) as recorder:
        until(lambda: live(recorder))
        wall.set(wall.now().wall_ms + step_ms)
        until(lambda: any(alarm.code == "clock-stepped" for alarm in recorder.snapshot().wrong))
        back_s = until(lambda: live(recorder) and live(AttachedFeed(log)))
        time.sleep(0.5)
    polls = recorder.workers[0].stats().meters[0].polls
    db = sqlite3.connect(log)
    times = [
        t
        for (t,) in db.execute("SELECT time_ms FROM reading JOIN point ON id = point WHERE name = 'A1' ORDER BY rowid")
    ]
    (told,) = db.execute("SELECT text FROM event WHERE kind = 'clock-step'").fetchone()
    db.close()
    Measured(name, "the wall clock set under a running logger", 1, polls - len(times), polls, "polls", back_s).keep(
        record_property
    )
    assert len(times) == polls
    assert len(set(times)) == len(times)
    assert ("back" if step_ms < 0 else "forward") in told
    assert CliRunner().invoke(main, ["review", str(log)]).exit_code == 0
    done = CliRunner().invoke(main, ["export", str(log), "minutes", "-o", str(tmp_path / "minutes.csv")])
    assert done.exit_code == 0, done.output


def test_the_hour_that_comes_twice(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The night summer time ends: no step, no gap; the same hour is told apart by its offset."""
    wall, log = Wall(monkeypatch, SUMMER_ENDS_MS - 1_500), tmp_path / "weir.sqlite"
    with small_set(tmp_path) as (path, _), Recorder(load_show(path), log, 0.2) as recorder:
        until(lambda: live(recorder) and wall.now().wall_ms > SUMMER_ENDS_MS + 1_000)
        shown = CliRunner().invoke(main, ["watch", str(log), "--json", "--once"]).output
        assert json.loads(shown)["time"].endswith("-04:00")
    db = sqlite3.connect(log)
    assert db.execute("SELECT count(*) FROM event WHERE kind = 'clock-step'").fetchone() == (0,)
    assert db.execute("SELECT count(*) FROM gap").fetchone() == (0,)
    first, last = db.execute("SELECT min(time_utc), max(time_utc) FROM readings").fetchone()
    db.close()
    assert first < "2026-11-01T05:00" < last
