"""The log's disk fails under a running logger: screen and alarms go on, nothing is lost that memory holds.

A whole recorder each time, on a real socket and, where root may mount, on a real disk: filled up, made read-only by
the kernel, pulled out and put back. Only slowness and the error of a write are made by a layer below SQLite.
"""

from __future__ import annotations

import contextlib
import sqlite3
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pytest

from monitor.recorder import backlog
from monitor.recorder.recorder import Recorder
from monitor.show.loading import load_show
from tests.monitor.log.mounts import LoopDisk, tmpfs
from tests.support.baddisk import bad_disk
from tests.support.measured import Measured
from tests.support.sets import small_set

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from monitor.engine.snapshot import Snapshot

    Record = Callable[[str, object], None]

CYCLE_S = 0.2
WITHIN_S = 15.0


@dataclass
class Fault:
    """One way for a disk to fail.

    Attributes:
        folder: where the log lies.
        begin: makes it fail.
        end: makes it good again.
        told: what the screen says of it, in part.

    """

    folder: Path
    begin: Callable[[], object]
    end: Callable[[], object]
    told: str


@contextlib.contextmanager
def full(folder: Path) -> Iterator[Fault]:
    """Fill a small disk to the last byte."""
    with tmpfs(folder / "small", "1500k") as disk:
        filler = disk / "fill"

        def fill() -> None:
            with contextlib.suppress(OSError), filler.open("wb", buffering=0) as stream:
                while stream.write(bytes(4096)):
                    pass

        yield Fault(disk, fill, filler.unlink, "no space left")


@contextlib.contextmanager
def pulled_out(folder: Path) -> Iterator[Fault]:
    """Pull the disk out and put it back."""
    with LoopDisk(folder) as disk:
        yield Fault(disk.place, disk.pull_out, disk.put_in, "is gone")


@contextlib.contextmanager
def moved(folder: Path) -> Iterator[Fault]:
    """Move the file away and back."""
    log, aside = folder / "weir.sqlite", folder / "aside.sqlite"
    yield Fault(folder, lambda: log.rename(aside), lambda: aside.rename(log), "is gone")


@contextlib.contextmanager
def broken(folder: Path) -> Iterator[Fault]:
    """Let every write fail."""
    with bad_disk() as disk:
        yield Fault(
            folder, lambda: setattr(disk, "broken", True), lambda: setattr(disk, "broken", False), "weir.sqlite"
        )


@contextlib.contextmanager
def slow(folder: Path) -> Iterator[Fault]:
    """Let a sync last until the fault ends."""
    with bad_disk() as disk:
        yield Fault(
            folder, lambda: setattr(disk, "sync_s", 60.0), lambda: setattr(disk, "sync_s", 0.0), "a write has lasted"
        )


WAYS = {
    "disk full": (full, "a small disk filled to the last byte"),
    "disk pulled out": (pulled_out, "unmounted under the logger, mounted again"),
    "log moved away": (moved, "renamed and back"),
    "writes fail": (broken, "every write fails, below SQLite"),
    "disk stands still": (slow, "a sync that does not end, below SQLite"),
}


def wait_for(recorder: Recorder, holds: Callable[[Snapshot], bool]) -> Snapshot:
    """Give the first Snapshot for which ``holds``."""
    end_s = time.monotonic() + WITHIN_S
    while time.monotonic() < end_s:
        if holds(snapshot := recorder.snapshot()):
            return snapshot
        time.sleep(0.02)
    pytest.fail(f"not within {WITHIN_S} s: {recorder.snapshot().logger} {recorder.snapshot().wrong}")


def amps(snapshot: Snapshot) -> float | None:
    """Give the live amps of the first circuit."""
    measured = snapshot.circuits[0].measured
    return measured.amps if measured.live else None


def codes(snapshot: Snapshot) -> set[str]:
    """Give the codes of what is wrong now."""
    return {alarm.code for alarm in snapshot.wrong}


@pytest.mark.parametrize("name", WAYS)
def test_screen_and_alarms_go_on_and_all_is_written_afterwards(
    name: str, tmp_path: Path, record_property: Record, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While the disk fails a new overload is seen and alarmed, the loss is told; then every poll is in the log."""
    monkeypatch.setattr(backlog, "SLOW_S", 0.7)
    way, how = WAYS[name]
    with small_set(tmp_path) as (path, meter), way(tmp_path) as fault:
        path.write_text(path.read_text().replace("[alarms]", "[alarms]\nlog_not_written_on_seconds = 0"))
        log = fault.folder / "weir.sqlite"
        with Recorder(load_show(path), log, CYCLE_S) as recorder:
            wait_for(recorder, lambda s: amps(s) == 10.0)
            fault.begin()
            meter.reads(1, 120.0, 25.0)
            bad = wait_for(recorder, lambda s: codes(s) >= {"above-rating", "log-not-written"} and amps(s) == 25.0)
            assert fault.told in bad.logger.problem
            assert bad.logger.running
            assert bad.logger.not_kept > 0
            fault.end()
            ended_s = time.monotonic()
            wait_for(recorder, lambda s: not s.logger.problem and s.logger.not_kept == 0)
            recovered_s = time.monotonic() - ended_s
        polls = recorder.workers[0].stats().meters[0].polls
        db = sqlite3.connect(log)
        (kept,) = db.execute("SELECT count(*) FROM readings WHERE point = 'A1'").fetchone()
        alarms = {code for (code,) in db.execute("SELECT code FROM alarm")}
        db.close()
    Measured(name, how, 1, polls - kept, polls, "polls", recovered_s).keep(record_property)
    assert kept == polls
    assert alarms >= {"above-rating", "log-not-written"}


def test_a_disk_that_the_kernel_makes_read_only(tmp_path: Path, record_property: Record) -> None:
    """It stays so until it is mounted anew: what is not kept is counted, the next logger goes on."""
    with small_set(tmp_path) as (path, _), LoopDisk(tmp_path) as disk:
        log, show = disk.place / "weir.sqlite", load_show(path)
        with Recorder(show, log, CYCLE_S) as recorder:
            wait_for(recorder, lambda s: amps(s) == 10.0)
            disk.fail()
            bad = wait_for(recorder, lambda s: s.logger.not_kept > 10 and amps(s) == 10.0)
            told = bad.logger.problem  # newer kernels say no more than that the disk fails
            assert "read-only" in told or "answers with an error" in told
        polls = recorder.workers[0].stats().meters[0].polls
        disk.pull_out()
        disk.put_in()
        begun_s = time.monotonic()
        with sqlite3.connect(log) as db:
            (readings,) = db.execute("SELECT count(*) FROM reading").fetchone()
        db.close()
        with Recorder(show, log, CYCLE_S) as again:
            wait_for(again, lambda s: amps(s) == 10.0 and not s.logger.problem)
            recovered_s = time.monotonic() - begun_s
    how, what = "a fault raised in the kernel's file system", "readings not counted as not kept"
    lost = 2 * polls - readings
    Measured("disk made read-only", how, 1, lost - recorder.not_kept, lost, what, recovered_s).keep(record_property)
    assert lost == recorder.not_kept > 0


def test_a_logger_ends_though_its_disk_stands_still(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It waits for the write under way for a bounded time, counts what is not kept, and what was committed stays."""
    monkeypatch.setattr(backlog, "END_S", 0.3)
    with small_set(tmp_path) as (path, _), slow(tmp_path) as fault:
        log = tmp_path / "weir.sqlite"
        with Recorder(load_show(path), log, CYCLE_S) as recorder:
            wait_for(recorder, lambda s: amps(s) == 10.0)
            before = _readings(log)
            fault.begin()
            wait_for(recorder, lambda _: recorder._backlog.under_way and recorder.not_kept > 4)
            begun_s = time.monotonic()
        assert time.monotonic() - begun_s < WITHIN_S
        assert recorder.not_kept > 0
        assert _readings(log) >= before > 0
        fault.end()


def _readings(log: Path) -> int:
    db = sqlite3.connect(f"file:{log}?mode=ro", uri=True)
    (count,) = db.execute("SELECT count(*) FROM reading").fetchone()
    db.close()
    return int(count)


def test_what_did_not_fit_into_memory_is_counted_in_the_log(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, record_property: Record
) -> None:
    """Room for 10 readings: older ones are given up, and their number and times are an event once there is a log."""
    monkeypatch.setattr(backlog, "READINGS_MAX", 10)
    with small_set(tmp_path) as (path, _), moved(tmp_path) as fault:
        log = fault.folder / "weir.sqlite"
        with Recorder(load_show(path), log, CYCLE_S) as recorder:
            wait_for(recorder, lambda s: amps(s) == 10.0)
            fault.begin()
            bad = wait_for(recorder, lambda s: s.logger.not_kept > 20)
            assert recorder._backlog.waiting <= 10
            fault.end()
            wait_for(recorder, lambda s: not s.logger.problem and bad.logger.not_kept > 0)
        polls = recorder.workers[0].stats().meters[0].polls
        db = sqlite3.connect(log)
        (readings,) = db.execute("SELECT count(*) FROM reading").fetchone()
        told = db.execute(
            "SELECT text, json_extract(data, '$.readings') FROM event WHERE kind = ?", (backlog.NOT_KEPT,)
        )
        (text, count) = told.fetchone()
        db.close()
    lost = 2 * polls - readings
    how = "log moved away, room for 10 readings"
    Measured("memory full as well", how, 1, lost - count, lost, "lost readings not counted in the log").keep(
        record_property
    )
    assert lost == count == recorder.not_kept > 0
    assert text.startswith(f"{count} readings could not be kept")
