"""The side file beside a log: whole or not believed, never in the way, and what it carries to attached screens."""

from __future__ import annotations

import contextlib
import os
import stat
import threading
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from drivers.bus.stats import BusStats, MeterStats
from monitor.electrical.heat import HeatState
from monitor.engine.requests import Request
from monitor.engine.tallied import FuelLevel, Tallied
from monitor.engine.told import Answer, OutputView
from monitor.log.reader import LogReader
from monitor.recorder.attached import AttachedFeed
from monitor.recorder.inbox import post
from monitor.recorder.live import LiveWriter, live_path, read_live
from monitor.recorder.recorder import Recorder
from monitor.show.loading import load_show
from tests.monitor.log.mounts import tmpfs
from tests.monitor.recorder.test_recorder import CYCLE_S, amps, wait_for
from tests.support.sets import small_set
from tests.support.shows import circuit, show

if TYPE_CHECKING:
    from pathlib import Path

SHOW = show(circuit("A1"), circuit("A2"))
METER = MeterStats(
    3, 9, 7, silent=2, latency_s=0.04, retries=1, per_second=1.0, busy=0.125, median_s=0.04, worst_s=0.07
)
TALLIED = Tallied(
    output=OutputView(12.5, 900.0, 14.25, 1_000, 31.5, 9_000.0, 15.0, 0.8, 60.0, 120.0, 30.0),
    fuel=FuelLevel(61.0, 50.0, 12.0, None, entered=True, since_ms=77, unknown_s=3.0),
    heat={"A1": HeatState(None, 0.25, 1.0, 2.0), "A2": HeatState(0.5, None)},
    buses={"b": BusStats("b", is_open=False, problem="no such port: „bus“", meters=(METER,), undelivered=1, fault="x")},
    answers=(Answer("1", done=False, text="Noor's request is refused", time_ms=5),),
)


def test_what_goes_in_comes_out(tmp_path: Path) -> None:
    """Every figure of every part; None stays None; buses that were not counted anew stay as they were."""
    log = tmp_path / "x.sqlite"
    writer = LiveWriter(log, SHOW, since_ms=11)
    writer.write(1_000, 4, "disk full", TALLIED, counted=True)
    writer.write(2_000, 5, "disk full", replace(TALLIED, buses={}), counted=False)
    live = read_live(log)
    assert live is not None
    assert (live.since_ms, live.pid, live.alive_ms, live.not_kept, live.problem) == (
        11,
        os.getpid(),
        2_000,
        5,
        "disk full",
    )
    assert live.tallied == TALLIED


def test_its_size_stays_and_nobody_else_may_write_it(tmp_path: Path) -> None:
    """The room is taken once; others may read it, as they may the log, but not write it."""
    log = tmp_path / "x.sqlite"
    writer = LiveWriter(log, SHOW, since_ms=11)
    before = live_path(log).stat()
    writer.write(1_000, 0, "", TALLIED, counted=True)
    after = live_path(log).stat()
    assert (before.st_size, before.st_ino) == (after.st_size, after.st_ino)
    assert not stat.S_IMODE(after.st_mode) & (stat.S_IWGRP | stat.S_IWOTH)
    assert [path.name for path in tmp_path.iterdir()] == ["x.sqlite.live"]
    writer.close()
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("at", [0, 16, 24, 28, 40, 200])
def test_a_torn_file_is_not_believed(tmp_path: Path, at: int) -> None:
    """One byte of another writing, anywhere in head or text, and nothing is told."""
    log = tmp_path / "x.sqlite"
    LiveWriter(log, SHOW, since_ms=11).write(1_000, 0, "", TALLIED, counted=True)
    raw = bytearray(live_path(log).read_bytes())
    raw[at] ^= 0x01
    live_path(log).write_bytes(raw)
    assert read_live(log) is None


@pytest.mark.parametrize("raw", [b"", b"legwatch live 1\n", bytes(20_000), b"x" * 40_000])
def test_a_file_of_something_else_is_not_believed(tmp_path: Path, raw: bytes) -> None:
    """Empty, cut, zeros, anything."""
    log = tmp_path / "x.sqlite"
    live_path(log).write_bytes(raw)
    assert read_live(log) is None


def test_reading_while_it_is_written_gives_whole_states_alone(tmp_path: Path) -> None:
    """A thread writes as fast as it can: each state read is one that was written, and time never goes back."""
    log = tmp_path / "x.sqlite"
    writer, stop = LiveWriter(log, SHOW, since_ms=11), threading.Event()

    def write() -> None:
        number = 0
        while not stop.is_set():
            number += 1
            writer.write(number, number, "p" * (number % 400), TALLIED, counted=number % 5 == 0)

    thread = threading.Thread(target=write)
    thread.start()
    try:
        seen = [live for live in (read_live(log) for _ in range(300)) if live is not None]
    finally:
        stop.set()
        thread.join()
    assert len(seen) > 30
    assert all(live.alive_ms == live.not_kept and len(live.problem) == live.alive_ms % 400 for live in seen)
    assert [live.alive_ms for live in seen] == sorted(live.alive_ms for live in seen)


def test_where_it_cannot_be_made_the_logger_goes_on(tmp_path: Path) -> None:
    """A folder in its place: nothing is written, nothing is raised, nothing is left."""
    log = tmp_path / "x.sqlite"
    live_path(log).mkdir()
    writer = LiveWriter(log, SHOW, since_ms=11)
    writer.write(1_000, 0, "", TALLIED, counted=True)
    writer.close()
    assert [path.name for path in tmp_path.iterdir()] == ["x.sqlite.live"]
    assert read_live(log) is None


def test_an_attached_screen_knows_what_the_logger_knows(tmp_path: Path) -> None:
    """Heat and counts reach it; after an orderly end they are not known any more."""
    log = tmp_path / "weir.sqlite"
    with small_set(tmp_path) as (path, meter), Recorder(load_show(path), log, CYCLE_S) as recorder:
        meter.reads(1, 120.0, 60.0)
        wait_for(recorder, lambda s: amps(s) == [60.0, 11.0])
        attached = AttachedFeed(log)
        seen = wait_for(attached, lambda s: s.circuits[0].heat is not None and (s.circuits[0].heat.slowest or 0) > 0)
        assert seen.told
        counted = wait_for(attached, lambda s: (c := s.buses[0].meters[0].counts) is not None and c.good > 0)
        assert counted.buses[0].is_open
        assert counted.buses[0].meters[0].points[0][1] == "A1"
    left = AttachedFeed(log).snapshot()
    assert not left.told
    assert left.circuits[0].heat is None
    assert left.buses[0].meters[0].counts is None
    assert not live_path(log).exists()


def test_another_loggers_file_is_not_believed(tmp_path: Path) -> None:
    """A file left by a crash, or copied beside another log, tells nothing."""
    log = tmp_path / "weir.sqlite"
    with small_set(tmp_path) as (path, _), Recorder(load_show(path), log, CYCLE_S) as recorder:
        wait_for(recorder, lambda s: amps(s) == [10.0, 11.0])
    LiveWriter(log, SHOW, since_ms=11).write(1_000, 0, "", TALLIED, counted=True)
    assert not AttachedFeed(log).snapshot().told


def test_what_it_said_some_time_ago_is_not_believed(tmp_path: Path) -> None:
    """The logger goes on but can't write the side file any more: its last figures are not taken for present ones."""
    log = tmp_path / "weir.sqlite"
    with small_set(tmp_path) as (path, _), Recorder(load_show(path), log, CYCLE_S) as recorder:
        attached = AttachedFeed(log)
        wait_for(attached, lambda s: s.told and amps(s) == [10.0, 11.0])
        recorder._live.close()
        state = LogReader(log).writer_state()
        LiveWriter(log, SHOW, state.since_ms).write(state.alive_ms - 6_000, 9, "disk full", TALLIED, counted=True)
        seen = attached.snapshot()
        assert seen.logger.running
        assert (seen.told, seen.logger.problem, seen.logger.not_kept) == (False, "", 0)


def test_a_log_that_cannot_be_written_is_no_stopped_logger(tmp_path: Path) -> None:
    """The log is gone from under its logger: an attached screen says that it runs, what is wrong and what it costs."""
    log, aside = tmp_path / "weir.sqlite", tmp_path / "aside.sqlite"
    with small_set(tmp_path) as (path, _), Recorder(load_show(path), log, CYCLE_S) as recorder:
        wait_for(recorder, lambda s: amps(s) == [10.0, 11.0])
        attached = AttachedFeed(log)
        log.rename(aside)
        cut = wait_for(attached, lambda s: s.logger.cut_off, limit_s=15.0)
        assert cut.logger.running
        assert cut.logger.not_kept > 0
        assert str(log) in cut.logger.problem
        assert amps(cut) == [None, None]
        aside.rename(log)
        back = wait_for(attached, lambda s: not s.logger.cut_off and amps(s) == [10.0, 11.0])
        assert (back.logger.not_kept, back.logger.problem) == (0, "")


def test_a_full_disk_does_not_stop_the_side_file(tmp_path: Path) -> None:
    """A small disk is filled to its last byte: the attached screen goes on hearing of the logger, and of the cost."""
    with (
        tmpfs(tmp_path / "small", "1500k") as disk,
        small_set(tmp_path) as (path, _),
        Recorder(load_show(path), disk / "weir.sqlite", CYCLE_S) as recorder,
    ):
        wait_for(recorder, lambda s: amps(s) == [10.0, 11.0])
        attached, filler = AttachedFeed(disk / "weir.sqlite"), disk / "fill"
        with contextlib.suppress(OSError), filler.open("wb", buffering=0) as stream:
            while stream.write(bytes(4096)):
                pass
        cut = wait_for(attached, lambda s: s.logger.cut_off and s.logger.not_kept > 20, limit_s=20.0)
        assert "no space left" in cut.logger.problem
        filler.unlink()
        wait_for(attached, lambda s: not s.logger.cut_off and s.logger.not_kept == 0 and amps(s) == [10.0, 11.0])


def test_an_answer_reaches_the_one_who_asked(tmp_path: Path) -> None:
    """Refused or done, with the request's number, on attached screens and in the logger's process."""
    log = tmp_path / "weir.sqlite"
    with small_set(tmp_path) as (path, _), Recorder(load_show(path), log, CYCLE_S) as recorder:
        wait_for(recorder, lambda s: amps(s) == [10.0, 11.0])
        attached = AttachedFeed(log)
        post(log, Request("n1", "acknowledge", "Noor", code="volts-low", where="A9"))
        post(log, Request("n2", "note", "Noor", text="quiet"))
        for feed in (attached, recorder):
            snapshot = wait_for(feed, lambda s: {a.number for a in s.answers} == {"n1", "n2"})
            told = {answer.number: answer for answer in snapshot.answers}
            assert not told["n1"].done
            assert told["n1"].text.startswith("Noor's request is refused: ")
            assert told["n2"].done
