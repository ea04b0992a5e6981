"""Many screens on one log, one of them stuck in a read: the writer goes on, and its WAL stays bounded.

A reader that stays in one read keeps SQLite from using the WAL anew, so it grows by what is written until the reader
ends; it is then cut back to ``journal_size_limit``. ``tests/bench/many_screens.py`` measures with twenty.
"""

from __future__ import annotations

import sqlite3
import time
from typing import TYPE_CHECKING

from monitor.recorder.attached import AttachedFeed
from monitor.recorder.recorder import Recorder
from monitor.show.loading import load_show
from tests.support.measured import Measured
from tests.support.screens import write_beside_screens
from tests.support.sets import small_set

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    import pytest

SCREENS, CYCLES = 6, 150
WAL_BYTES, CHECKPOINT_PAGES = 200_000, 100  # a sixtieth of a log's own, so that a short test gets there


def test_the_wal_is_cut_back_after_a_stuck_reader(
    tmp_path: Path, record_property: Callable[[str, object], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Six screens, one more stuck in a read: every cycle is committed; without it the WAL is small again."""
    monkeypatch.setattr("monitor.log.schema._WAL_BYTES", WAL_BYTES)
    monkeypatch.setattr("monitor.log.schema._CHECKPOINT_PAGES", CHECKPOINT_PAGES)
    found = write_beside_screens(tmp_path / "log.sqlite", SCREENS, CYCLES)
    row = Measured("stuck screen", "a read that stays open", CYCLES, CYCLES - found.committed, CYCLES, "cycles")
    row.keep(record_property)
    assert found.committed == CYCLES
    assert found.wal_stuck > 3 * WAL_BYTES
    assert found.wal_after <= WAL_BYTES


def test_a_running_logger_beside_a_stuck_reader(tmp_path: Path) -> None:
    """A real logger goes on committing, and other screens go on seeing new readings."""
    log = tmp_path / "weir.sqlite"
    with small_set(tmp_path) as (path, meter), Recorder(load_show(path), log, 0.2):
        feeds: list[AttachedFeed] = []
        end_s = time.monotonic() + 10.0
        while not feeds or feeds[0].snapshot().circuits[0].measured.amps != 10.0:
            assert time.monotonic() < end_s
            feeds = [AttachedFeed(log) for _ in range(3)]
            time.sleep(0.1)
        stuck = sqlite3.connect(f"file:{log}?mode=ro", uri=True, isolation_level=None)
        stuck.execute("BEGIN")
        (before,) = stuck.execute("SELECT count(*) FROM reading").fetchone()
        meter.reads(1, 120.0, 7.5)
        while not all(feed.snapshot().circuits[0].measured.amps == 7.5 for feed in feeds):
            assert time.monotonic() < end_s + 10.0
            time.sleep(0.05)
        assert stuck.execute("SELECT count(*) FROM reading").fetchone() == (before,)
        stuck.close()
