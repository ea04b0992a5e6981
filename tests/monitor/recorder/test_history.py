"""What screens may ask of the past: samples, entries, room; from a real log."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from drivers.reading import Quality, Values
from monitor.electrical.loads import planned_amps
from monitor.engine.reading import Reading
from monitor.engine.requests import Request
from monitor.recorder.attached import AttachedFeed
from monitor.recorder.history import LogHistory
from monitor.recorder.recorder import Recorder
from monitor.review.replay import replay
from monitor.show.loading import load_show
from monitor.show.model import Point
from tests.monitor.recorder.test_recorder import CYCLE_S, amps, codes, wait_for
from tests.support.sets import small_set

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

BEGIN_MS = 1_767_924_000_000


def test_samples_entries_and_room(tmp_path: Path) -> None:
    """Readings come as samples with gaps as None; lines newest first; room by measured values."""
    log = tmp_path / "weir.sqlite"
    with small_set(tmp_path) as (path, meter):
        show = load_show(path)
        with Recorder(show, log, CYCLE_S) as recorder:
            wait_for(recorder, lambda s: amps(s) == [10.0, 11.0])
            meter.reads(2, 120.0, 23.0)
            wait_for(recorder, lambda s: "above-rating" in codes(s))
            meter.stop()
            wait_for(recorder, lambda s: amps(s) == [None, None])
            meter.reads(2, 118.0, 11.0)
            meter.start()
            now = wait_for(recorder, lambda s: amps(s) == [10.0, 11.0])
            recorder.ask(
                Request.from_data({"number": "1", "kind": "note", "who": "Noor", "text": "moved", "where": "A2"})
            )
            history = LogHistory(log, show, recorder)
            wait_for(recorder, lambda _: any(e.kind == "note" for e in history.entries(50)))
            samples = history.samples("A2", now.time_ms - 60_000, now.time_ms + 1000)
            assert {s.amps for s in samples} >= {(11.0, 11.0, 11.0), (23.0, 23.0, 23.0), None}
            assert [s.time_ms for s in samples] == sorted(s.time_ms for s in samples)
            assert {s.hertz for s in samples} == {(60.0, 60.0, 60.0), None}
            entries = history.entries(50)
            assert [e.time_ms for e in entries] == sorted((e.time_ms for e in entries), reverse=True)
            assert ("note", "A2", "Noor", "moved") in {(e.kind, e.where, e.who, e.text) for e in entries}
            assert {"alarm", "note"} <= {e.kind for e in entries}
            assert [e.kind for e in entries if "moved" in e.text] == ["note"], "what was done has one line"
            # 16 A is the continuous limit of 20 A: 6.0 A left at A1, 5.0 at A2; 600 W at 120 V is 5.0 A.
            places = {p.circuit: p for p in history.room(600.0, 1.0)}
            assert places["A1"].room_amps == pytest.approx(6.0)
            assert places["A1"].fits
            assert not history.room(720.1, 1.0)[0].fits
            meter.reads(1, 3.0, 0.0)
            wait_for(recorder, lambda s: s.circuits[0].measured.volts == 3.0)
            gone = {p.circuit: p for p in history.room(600.0, 1.0)}["A1"]
            assert (gone.fits, gone.room_amps) == (None, None)
    ended = LogHistory(log, show, AttachedFeed(log))
    assert {p.fits for p in ended.room(100.0, 1.0)} <= {None, True}
    assert ended.samples("nothing", 0, 10) == ()


def test_a_log_that_has_gone_gives_nothing(tmp_path: Path) -> None:
    """No log, no history, no exception."""
    with small_set(tmp_path) as (path, _):
        show = load_show(path)
        with Recorder(show, tmp_path / "weir.sqlite", CYCLE_S) as recorder:
            history = LogHistory(tmp_path / "other.sqlite", show, recorder)
            assert history.samples("A1", 0, 10**13) == ()
            assert history.entries(10) == ()


def test_steps_plan_and_alarms_of_a_replayed_day(tmp_path: Path) -> None:
    """A log that a replay wrote gives the steps of its circuit alone, what is on by them, and when an alarm stood."""
    log = tmp_path / "weir.sqlite"
    with small_set(tmp_path) as (path, meter):
        show = load_show(path)
        with Recorder(show, log, CYCLE_S) as recorder:
            wait_for(recorder, lambda s: amps(s) == [10.0, 11.0])
            meter.reads(2, 120.0, 23.0)
            raised = wait_for(recorder, lambda s: "above-rating" in codes(s))
            history = LogHistory(log, show, recorder)
            (spell,) = history.spells(0, raised.time_ms + 1, "A2")
            assert (spell.code, spell.where, spell.end_ms) == ("above-rating", "A2", None)
            assert history.spells(raised.time_ms, raised.time_ms + 1, "A2") == (spell,)
            assert history.spells(0, raised.time_ms + 1, "A1") == ()
            assert spell in history.spells(0, raised.time_ms + 1)
    assert {load.on for load in history.planned("A1", raised.time_ms)} <= {None, 0, 1}
    fixed, allowed = history.fixed("A2"), history.allowed("A2", 23.0)
    assert fixed is not None
    assert allowed is not None
    assert allowed.multiple == pytest.approx(1.15)
    assert history.fixed("nothing") is None
    assert history.allowed("nothing", 1.0) is None
    assert history.planned("nothing", 0) == ()
    assert history.switchings("nothing", 0, 1) == ()


def test_steps_come_from_the_log(tmp_path: Path) -> None:
    """A planned load that came on and went off again, in readings that were replayed: at its own circuit only."""
    log = tmp_path / "weir.sqlite"
    with small_set(tmp_path) as (path, _):
        show = load_show(path)
    load = show.circuits[0].load[0]
    full = planned_amps(replace(show.circuits[0], load=(replace(load, count=1),)), show.source.system)

    def readings() -> Iterator[Reading]:
        for second in range(400):
            amps = full if 100 <= second < 250 else 0.0
            for name, value in (("A1", amps), ("A2", 0.0)):
                values = Values(volts=120.0, amps=value, hertz=60.0)
                yield Reading(Point(name), BEGIN_MS + second * 1000, float(second), Quality.GOOD, values, "")

    assert replay(show, readings(), log, lambda _: None) == 800
    end_ms = BEGIN_MS + 400_000
    history = LogHistory(log, show, AttachedFeed(log))
    steps = history.switchings("A1", BEGIN_MS, end_ms)
    assert [(step.on, step.loads) for step in steps] == [(True, (load.name,)), (False, (load.name,))]
    assert [round((step.time_ms - BEGIN_MS) / 1000) for step in steps] == [100, 250]
    assert steps[0].amps == pytest.approx(full, abs=0.05)
    assert history.switchings("A2", BEGIN_MS, end_ms) == ()
    assert history.switchings("A1", BEGIN_MS + 150_000, end_ms) == steps[1:]
    (planned,) = (each for each in history.planned("A1", BEGIN_MS + 200_000) if each.name == load.name)
    assert (planned.on, planned.since_ms) == (1, steps[0].time_ms)
