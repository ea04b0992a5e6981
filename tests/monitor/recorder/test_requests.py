"""What people ask of a running logger: carried out or refused, and in the log either way."""

from __future__ import annotations

import json
import sqlite3
from typing import TYPE_CHECKING

import pytest

from monitor.engine.requests import Request
from monitor.log.reader import LogReader
from monitor.recorder.inbox import collect, folder_of, post
from monitor.recorder.recorder import Recorder
from monitor.show.loading import load_show
from tests.monitor.recorder.test_recorder import CYCLE_S, codes, wait_for
from tests.support.sets import small_set

if TYPE_CHECKING:
    from pathlib import Path


def request(number: str, kind: str, **parts: object) -> Request:
    """Make a request of Noor's."""
    return Request.from_data({"number": number, "kind": kind, "who": "Noor", **parts})


def test_a_request_comes_out_of_the_inbox_as_it_went_in(tmp_path: Path) -> None:
    """Posted, taken once, gone."""
    wish = request("1", "shelve", code="over-plan", where="A1", text="agreed", minutes=30)
    post(tmp_path / "x.sqlite", wish)
    assert list(collect(tmp_path / "x.sqlite")) == [wish]
    assert list(collect(tmp_path / "x.sqlite")) == []


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        "not json",
        '{"kind": "note"}',
        json.dumps({"number": "1", "kind": "note", "who": "  "}),
        json.dumps({"number": "1", "kind": "erase", "who": "X"}),
        json.dumps({"number": "1", "kind": "note", "who": "X", "extra": 1}),
        json.dumps({"number": "1", "kind": "note", "who": "X", "minutes": "ten"}),
        json.dumps({"number": "1", "kind": "note", "who": "X", "text": "x" * 20_000}),
        "[" * 9_000,
    ],
)
def test_a_file_that_is_no_request_is_told_and_removed(text: str, tmp_path: Path) -> None:
    """Whatever lies in the folder: a sentence, never an exception, and it is gone."""
    folder = folder_of(tmp_path / "x.sqlite")
    folder.mkdir()
    (folder / "bad.json").write_text(text, encoding="utf-8")
    (told,) = collect(tmp_path / "x.sqlite")
    assert isinstance(told, str)
    assert "bad.json" in told
    assert list(folder.iterdir()) == []


def test_acknowledge_shelve_and_note_reach_the_log(tmp_path: Path) -> None:
    """From another process's inbox and from a screen in the same one; who and when are kept."""
    log = tmp_path / "weir.sqlite"
    with small_set(tmp_path) as (path, meter), Recorder(load_show(path), log, CYCLE_S) as recorder:
        meter.reads(1, 120.0, 23.0)
        wait_for(recorder, lambda s: "above-rating" in codes(s))
        post(log, request("1", "acknowledge", code="above-rating", where="A1"))
        wait_for(recorder, lambda s: any(a.state == "acknowledged" and a.who == "Noor" for a in s.alarms))
        recorder.ask(request("2", "note", text="moving the heater", where="A1"))
        recorder.ask(request("3", "shelve", code="above-rating", where="A1", text="on its way", minutes=5))
        shelved = wait_for(recorder, lambda s: any(a.state == "shelved" for a in s.alarms))
        assert "above-rating" not in codes(shelved)
        recorder.ask(request("4", "acknowledge", code="volts-low", where="A9"))
    with sqlite3.connect(log) as db:
        notes = db.execute("SELECT who, kind, place, text FROM notes").fetchall()
        journal = db.execute("SELECT state, who, why FROM alarms WHERE code = 'above-rating' AND who != ''").fetchall()
        events = dict(
            db.execute("SELECT json_extract(data, '$.request'), kind FROM events WHERE kind LIKE 'request-%'")
        )
    assert notes == [("Noor", "note", "A1", "moving the heater")]
    assert journal == [("acknowledged", "Noor", None), ("shelved", "Noor", "on its way")]
    assert events == {"1": "request-done", "2": "request-done", "3": "request-done", "4": "request-refused"}


def test_a_restart_keeps_what_stands(tmp_path: Path) -> None:
    """An acknowledged alarm stays acknowledged over a restart of the logger."""
    log = tmp_path / "weir.sqlite"
    with small_set(tmp_path) as (path, meter):
        meter.reads(1, 120.0, 23.0)
        with Recorder(load_show(path), log, CYCLE_S) as recorder:
            wait_for(recorder, lambda s: "above-rating" in codes(s))
            recorder.ask(request("1", "acknowledge", code="above-rating", where="A1"))
            wait_for(recorder, lambda s: any(a.state == "acknowledged" for a in s.alarms))
        with Recorder(load_show(path), log, CYCLE_S) as recorder:
            again = wait_for(recorder, lambda s: bool(s.circuits[0].measured.live))
            assert [(a.code, a.state) for a in again.alarms if a.code == "above-rating"] == [
                ("above-rating", "acknowledged")
            ]
    with LogReader(log) as reader:
        raised = [c for c in reader.alarm_changes() if c.alarm.code == "above-rating" and c.before == "normal"]
    assert len(raised) == 1
