"""From readings to the log and on after it: what is found is kept, and a later stretch goes on with its numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING

from drivers.reading import Quality, Values
from monitor.engine.reading import Reading
from monitor.engine.watch import Watch
from monitor.incidents.model import Kind
from monitor.log.reader import LogReader
from monitor.recorder.rebuild import rebuild
from monitor.review.replay import replay
from monitor.show.model import Point
from tests.monitor.incidents.seconds import BEGIN_MS, circuit, panel, small

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from monitor.show.model import Show

ON, GONE, OTHER = (119.0, 9.0), (0.0, 0.0), (119.0, 4.0)


def two() -> Show:
    """Give two circuits on a leg."""
    return small([circuit("A1", load=(panel(1070),)), circuit("A2")])


def readings(rows: list[tuple[float, float]], begin_s: int = 0) -> Iterator[Reading]:
    """Give a reading a second of A1 as given, and of A2 as it always is."""
    for second, own in enumerate(rows, begin_s):
        for part, (name, (volts, amps)) in enumerate({"A1": own, "A2": OTHER}.items()):
            values = Values(volts=volts, amps=amps, watts=volts * amps)
            yield Reading(Point(name), BEGIN_MS + 1000 * second + 100 * part, second, Quality.GOOD, values)


def test_a_replay_keeps_steps_and_incidents_and_numbers_go_on(tmp_path: Path) -> None:
    """The load comes on, the circuit opens; in a later stretch it is closed and opens again."""
    show, log = two(), tmp_path / "log.sqlite"
    idle = (119.5, 0.0)
    replay(show, readings([idle] * 60 + [ON] * 60 + [GONE] * 20), log, lambda _: None)
    with LogReader(log) as reader:
        (first,), steps = reader.incidents(), reader.steps()
    assert first.kind is Kind.OPENED_CAUSE_NOT_SHOWN
    assert first.last_on == "panel"
    assert first.last_on_planned is True
    assert [(step.step.kind, step.step.match) for step in steps] == [("on", ("panel",))]
    replay(show, readings([ON] * 60 + [GONE] * 20, begin_s=3600), log, lambda _: None)
    with LogReader(log) as reader:
        assert [(one.number, one.begin_ms) for one in reader.incidents()] == [
            (1, BEGIN_MS + 120_000),
            (2, BEGIN_MS + 3_660_000),
        ]


def test_a_recording_that_ends_right_after_the_opening_keeps_it(tmp_path: Path) -> None:
    """One sample without volts is the last."""
    log = tmp_path / "log.sqlite"
    replay(two(), readings([ON] * 60 + [GONE]), log, lambda _: None)
    with LogReader(log) as reader:
        assert [one.kind for one in reader.incidents()] == [Kind.OPENED_CAUSE_NOT_SHOWN]


def test_a_logger_that_starts_again_tells_no_incident_of_its_log_twice(tmp_path: Path) -> None:
    """The last minutes of the log are lived through; what they show is known by its number."""
    show, log = two(), tmp_path / "log.sqlite"
    replay(show, readings([ON] * 60 + [GONE] * 20), log, lambda _: None)
    with LogReader(log) as reader:
        watch = Watch(show, reader.alarms(), reader.incidents())
        rebuild(watch, show, reader)
    assert watch.take_found().incidents == ()
    watch.advance(list(readings([ON] * 20, begin_s=82)), BEGIN_MS + 101_000)
    (incident,) = watch.take_found().incidents
    assert (incident.number, incident.end_ms) == (1, BEGIN_MS + 82_000)
