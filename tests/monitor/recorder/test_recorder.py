"""The running logger and the attached feed, on a real log and a real socket."""

from __future__ import annotations

import sqlite3
import time
from typing import TYPE_CHECKING

import pytest

from monitor.log.problems import LogProblem
from monitor.recorder.attached import AttachedFeed
from monitor.recorder.recorder import Recorder
from monitor.show.loading import load_show
from tests.support.sets import small_set

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from monitor.engine.feed import Feed
    from monitor.engine.snapshot import Snapshot

CYCLE_S = 0.2


def wait_for(feed: Feed, holds: Callable[[Snapshot], bool], limit_s: float = 10.0) -> Snapshot:
    """Give the first Snapshot for which ``holds``."""
    end = time.monotonic() + limit_s
    while time.monotonic() < end:
        snapshot = feed.snapshot()
        if holds(snapshot):
            return snapshot
        time.sleep(0.05)
    pytest.fail(f"not within {limit_s} s: {feed.snapshot()}")


def amps(snapshot: Snapshot) -> list[float | None]:
    """Give the live amps of the circuits."""
    return [c.measured.amps if c.measured.live else None for c in snapshot.circuits]


def codes(snapshot: Snapshot) -> list[str]:
    """Give the codes of what is wrong now."""
    return [alarm.code for alarm in snapshot.wrong]


def test_readings_reach_screen_log_and_attached_screen(tmp_path: Path) -> None:
    """What the meter says stands in the Snapshot, in the log's view and in a Snapshot read from the log."""
    log = tmp_path / "weir.sqlite"
    with small_set(tmp_path) as (path, meter), Recorder(load_show(path), log, CYCLE_S) as recorder:
        wait_for(recorder, lambda s: amps(s) == [10.0, 11.0])
        attached = AttachedFeed(log)
        wait_for(attached, lambda s: amps(s) == [10.0, 11.0] and s.logger.running)
        meter.reads(1, 119.0, 21.5)
        seen = wait_for(attached, lambda s: amps(s) == [21.5, 11.0] and "above-rating" in codes(s))
        live = wait_for(recorder, lambda s: "above-rating" in codes(s))
        assert [(w.code, w.where, w.text) for w in live.wrong] == [(w.code, w.where, w.text) for w in seen.wrong]
    with sqlite3.connect(log) as db:
        rows = set(db.execute("SELECT point, volts, amps, hertz, quality FROM readings"))
    assert rows >= {("A1", 120.0, 10.0, 60.0, "good"), ("A1", 119.0, 21.5, 60.0, "good")}
    assert {row[0] for row in rows} == {"A1", "A2"}


def test_a_meter_that_goes_and_comes_back_is_a_gap(tmp_path: Path) -> None:
    """Silence is a finding and a row in gaps; the next readings are right; nothing is bridged."""
    log = tmp_path / "weir.sqlite"
    with small_set(tmp_path) as (path, meter), Recorder(load_show(path), log, CYCLE_S) as recorder:
        wait_for(recorder, lambda s: amps(s) == [10.0, 11.0])
        meter.stop()
        gone = wait_for(recorder, lambda s: amps(s) == [None, None] and codes(s) != [])
        assert codes(gone) == ["meter-silent"]
        meter.reads(1, 120.0, 5.0)
        meter.start()
        wait_for(recorder, lambda s: amps(s) == [5.0, 11.0])
        assert recorder.not_kept == 0
    with sqlite3.connect(log) as db:
        gaps = db.execute("SELECT point, reason, begin_utc < end_utc FROM gaps WHERE reason = 'silent'").fetchall()
    assert sorted(gaps) == [("A1", "silent", 1), ("A2", "silent", 1)]


def test_a_screen_on_a_log_whose_logger_has_ended_says_so(tmp_path: Path) -> None:
    """After the end nothing is live for long, the logger is not running, and what was wrong then is told."""
    log = tmp_path / "weir.sqlite"
    with small_set(tmp_path) as (path, meter), Recorder(load_show(path), log, CYCLE_S) as recorder:
        meter.reads(1, 120.0, 25.0)
        wait_for(recorder, lambda s: "above-rating" in codes(s))
    snapshot = AttachedFeed(log).snapshot()
    assert not snapshot.logger.running
    assert "above-rating" in codes(snapshot)


def test_a_log_that_cannot_be_written_keeps_polling_and_catches_up(tmp_path: Path) -> None:
    """A log moved away: screens go on, readings wait, the problem is told; back again: nothing is lost."""
    log, aside = tmp_path / "weir.sqlite", tmp_path / "aside.sqlite"
    with small_set(tmp_path) as (path, meter), Recorder(load_show(path), log, CYCLE_S) as recorder:
        wait_for(recorder, lambda s: amps(s) == [10.0, 11.0])
        log.rename(aside)
        meter.reads(1, 120.0, 7.0)
        seen = wait_for(recorder, lambda s: amps(s)[0] == 7.0 and s.logger.not_kept > 0)
        assert str(log) in seen.logger.problem
        aside.rename(log)
        wait_for(recorder, lambda s: s.logger.not_kept == 0 and not s.logger.problem)
    with sqlite3.connect(log) as db:
        (count,) = db.execute("SELECT count(*) FROM readings WHERE point = 'A1' AND amps = 7.0").fetchone()
    assert count > 0


def test_a_second_logger_is_told_who_writes(tmp_path: Path) -> None:
    """One writer a log; the message names the process."""
    log = tmp_path / "weir.sqlite"
    with (
        small_set(tmp_path) as (path, _),
        Recorder(load_show(path), log, CYCLE_S),
        pytest.raises(LogProblem, match="being written by process"),
        Recorder(load_show(path), log),
    ):
        pass
