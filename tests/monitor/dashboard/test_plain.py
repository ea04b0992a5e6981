"""The plain and JSON twins say what the screen says, and need no screen."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from drivers.reading import Quality
from monitor.dashboard.plain import snapshot_json, snapshot_lines
from tests.monitor.dashboard import snapshots

if TYPE_CHECKING:
    from monitor.engine.snapshot import Snapshot

ALL = (snapshots.quiet, snapshots.troubled, snapshots.stopped, snapshots.not_kept, snapshots.many, snapshots.alarmed)


def test_loads_no_textual() -> None:
    """Importing the twins leaves Textual unloaded: it costs a logger time and memory."""
    code = "import sys, monitor.dashboard.plain, monitor.dashboard.terminal; print('textual' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


@pytest.mark.parametrize("snapshot", [make() for make in ALL])
def test_lines_fit_80_columns_of_ascii(snapshot: Snapshot) -> None:
    """Every line fits 80 columns and holds ASCII alone."""
    lines = snapshot_lines(snapshot)
    assert max(map(len, lines)) <= 80
    assert all(line.isascii() for line in lines)


def test_every_circuit_and_everything_wrong_is_there() -> None:
    """Each circuit has its line, and nothing that is wrong is cut."""
    snapshot = snapshots.troubled()
    text = " ".join(" ".join(snapshot_lines(snapshot)).split())
    for view in snapshot.circuits:
        assert view.id in text
    for wrong in snapshot.wrong:
        assert wrong.text in text


def test_quiet_never_claims_more_than_is_measured() -> None:
    """With nothing wrong the lines say how far that reaches."""
    text = "\n".join(snapshot_lines(snapshots.quiet()))
    assert "No alarm stands in what is measured. Not measured: 2 legs." in text
    for word in ("safe", "ok", "fine", "dead"):
        assert word not in text.lower().split()


def test_no_live_reading_is_not_nothing_wrong() -> None:
    """With nothing live, no statement about the present is made."""
    snapshot = snapshots.quiet()
    blind = replace(
        snapshot,
        circuits=tuple(snapshots.measured_as(view, snapshots.NEVER) for view in snapshot.circuits),
        source=replace(snapshot.source, legs=()),
        feeders=(),
    )
    text = "\n".join(snapshot_lines(blind))
    assert "No alarm stands" not in text
    assert "nothing can be said about the present" in text


def test_old_values_stand_in_brackets_with_their_age() -> None:
    """A silent circuit gives its age, and its last values only in brackets."""
    line = next(line for line in snapshot_lines(snapshots.troubled()) if line.startswith("B5"))
    assert line.endswith("no reading for 12 s: silent (last 7.1 A)")


def test_a_stopped_logger_leaves_nothing_live() -> None:
    """Once the logger has stopped no figure is given as live, in lines or JSON."""
    lines = snapshot_lines(snapshots.stopped())
    assert lines[1].startswith("LOGGER STOPPED: nothing here is live.")
    row = next(line for line in lines if line.startswith("A1"))
    assert "no reading for 47 s (last 10.8 A)" in row
    data = snapshot_json(snapshots.stopped())
    legs = [leg for holder in (data["source"], *data["feeders"]) for leg in holder["legs"]]
    assert all(place["amps"] is None and place["volts"] is None for place in (*data["circuits"], *legs))
    assert data["source"]["kilowatts"] is None


def test_json_keys_and_values_of_a_live_circuit() -> None:
    """A live circuit has the promised keys with the Snapshot's own values."""
    data = json.loads(json.dumps(snapshot_json(snapshots.troubled())))
    circuit = next(circuit for circuit in data["circuits"] if circuit["id"] == "A3")
    assert (circuit["amps"], circuit["volts"], circuit["freshness"], circuit["quality"]) == (
        24.6,
        117.1,
        "live",
        "good",
    )
    assert (circuit["planned_amps"], circuit["continuous_amps"], circuit["rated_amps"]) == (12.5, 16.0, 20.0)
    assert circuit["percent"] == pytest.approx(123.0)
    assert circuit["over_plan_amps"] == pytest.approx(12.1)
    assert circuit["last_good"] is None
    assert [wrong["code"] for wrong in data["wrong"]][:2] == ["above-rating", "volts-low"]
    assert data["time"] == "2026-01-08T22:03:07.000-04:00"


def test_json_old_and_missing_are_null_never_zero() -> None:
    """What is not live is null; the last good values stand apart."""
    data = {circuit["id"]: circuit for circuit in snapshot_json(snapshots.troubled())["circuits"]}
    assert data["B5"]["amps"] is None
    assert data["B5"]["last_good"]["amps"] == 7.1
    assert data["B5"]["quality"] == Quality.SILENT
    assert data["A4"]["amps"] is None
    assert data["A4"]["freshness"] == "unmetered"
    assert data["A4"]["last_good"] is None
    assert data["B3"]["freshness"] == "never"


def test_names_cannot_steer_the_terminal() -> None:
    """Control characters of a name arrive as question marks."""
    snapshot = snapshots.quiet()
    evil = replace(snapshot.circuits[0], name="\x1b[2J\x07", id="A\r1")
    lines = snapshot_lines(replace(snapshot, show_name="a\x1bb", circuits=(evil,)))
    assert all(line.isprintable() for line in lines)


def test_alarms_with_their_state_and_what_to_do() -> None:
    """Each alarm has its state's words; urgent and high ones say what to do, shelved ones by whom and why."""
    text = " ".join(" ".join(snapshot_lines(snapshots.alarmed())).split())
    assert "since 22:00:53; unacknowledged Do now: Take load off this circuit now." in text
    assert "acknowledged by Noor Do now: Look at its plug and cable." in text
    assert (
        "Also standing: HIGH: source ran at 58.1 Hz, below 58.5 Hz, since 21:48:07; returned, not acknowledged" in text
    )
    assert "shelved until 22:33 by Noor (heater agreed with the gaffer)" in text


def test_json_has_the_whole_alarm() -> None:
    """Every alarm that is not normal is there with all that a screen knows of it; ``wrong`` keeps its keys."""
    data = json.loads(json.dumps(snapshot_json(snapshots.alarmed())))
    alarms = {alarm["code"]: alarm for alarm in data["alarms"]}
    first = alarms["far-above-rating"]
    assert first["do"] == snapshots.FAR_ABOVE.do
    assert first["means"] == snapshots.FAR_ABOVE.means
    assert first["cannot_know"] == snapshots.FAR_ABOVE.cannot_know
    assert first["folded"] == list(snapshots.FAR_ABOVE.folded)
    assert (first["state"], first["who"], first["until"], first["changed"]) == ("unacknowledged", "", None, None)
    shelved = alarms["over-plan"]
    assert (shelved["state"], shelved["who"], shelved["why"]) == ("shelved", "Noor", "heater agreed with the gaffer")
    assert shelved["until"] == "2026-01-08T22:33:07.000-04:00"
    assert shelved["seen"] is None  # not told of when its words are
    assert len(alarms) == 7
    assert {"code", "weight", "where", "text", "since"} <= set(data["wrong"][0])


def test_a_log_that_is_not_written_is_told_first() -> None:
    """On an attached screen nothing is live then, though the logger runs; JSON says so too."""
    snapshot = snapshots.not_kept()
    snapshot = replace(snapshot, logger=replace(snapshot.logger, cut_off=True))
    lines = snapshot_lines(snapshot)
    assert "144 readings NOT KEPT: disk full" in " ".join(" ".join(lines[:2]).split())
    assert any(line.startswith("LOG NOT WRITTEN: nothing here is live") for line in lines[:4])
    assert snapshot_json(snapshot)["logger"]["cut_off"] is True
