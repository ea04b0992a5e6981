"""A run that is cut and restarted against one that is not: every figure within its stated bound, the same alarms.

The day is that of the alarm tests (tests/support/days), kept in a real log by the real writer.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import pytest

from drivers.clock import Instant
from drivers.reading import Quality, Values
from monitor.engine.reading import Reading
from monitor.engine.watch import Watch
from monitor.log.reader import LogReader
from monitor.log.writer import LogWriter
from monitor.recorder.rebuild import rebuild
from tests.support.days.day import BEGIN_MS, Day
from tests.support.days.scripts import both, everything_on, heater, later, quiet, unloaded
from tests.support.days.sets import Made, make

if TYPE_CHECKING:
    from pathlib import Path

    from monitor.alarms.conditions import Conditions
    from monitor.alarms.model import AlarmChange, Now
    from monitor.show.model import Show, System
    from tests.support.days.day import Act

CUT_S, END_S = 2400, 2840  # an off-delay that ran starts anew, so that clearing may take its 300 s once more
BATCH_S = 20


@dataclass
class Recorded:
    """A day's readings by second."""

    show: Show
    seconds: list[list[Reading]]


def record(show: Show, act: Act | None, seed: int) -> Recorded:
    """Play a working day; everything on for a while first, so that the runs' meters can be learned."""
    day = Day(show, seed)
    day.corrupt = 0.01
    everything_on(day, 5)
    day.at(200, unloaded(*(c.id for c in show.circuits)))
    quiet(day, 230, END_S)
    if act is not None:
        day.at(CUT_S - 400, act)
    return Recorded(show, [_readings(now) for now in day.moments(END_S)])


def _readings(now: Now) -> list[Reading]:
    """Give what came in a second."""
    found = []
    for point, known in now.points.items():
        if known.fresh and known.quality is not None:
            values = known.values if known.quality is Quality.GOOD and known.values is not None else Values()
            found.append(Reading(point, now.time_ms, now.time_ms / 1000, known.quality, values))
    return found


def play(watch: Watch, recorded: Recorded, span: range, writer: LogWriter | None = None) -> list[AlarmChange]:
    """Judge a span of seconds in batches, writing it where there is a writer; a refuel after 20 minutes."""
    changes: list[AlarmChange] = []
    for begin in span[::BATCH_S]:
        batch = [reading for second in recorded.seconds[begin : begin + BATCH_S] for reading in second]
        end_ms = BEGIN_MS + 1000 * (begin + BATCH_S - 1)
        made = watch.advance(batch, end_ms)
        changes += made
        if writer is not None:
            writer.write_cycle(batch, (), Instant(end_ms, end_ms / 1000), made)
        if begin == 1200:
            watch.conditions.refuel(9.5, end_ms)
            if writer is not None:
                writer.note(end_ms, "Ines", "", kind="refuel", number=9.5, quantity="litres")
    return changes


def cut_and_whole(recorded: Recorded, log: Path) -> tuple[Watch, Watch, list[list[AlarmChange]]]:
    """Give the watch that was restarted, the one that was not, and what each changed after the cut."""
    whole = Watch(recorded.show)
    with LogWriter.open(log, recorded.show, Instant(BEGIN_MS, 0.0)) as writer:
        play(whole, recorded, range(CUT_S), writer)
    with LogReader(log) as reader:
        restarted = Watch(recorded.show, reader.alarms(), reader.incidents())
        rebuild(restarted, recorded.show, reader)
    after = [play(watch, recorded, range(CUT_S, END_S)) for watch in (restarted, whole)]
    return restarted, whole, after


SYSTEMS: tuple[System, ...] = ("120/240", "400Y/230")


@pytest.mark.parametrize("system", SYSTEMS)
def test_every_figure_after_a_restart_is_that_of_a_run_without_one(system: System, tmp_path: Path) -> None:
    """Energy, demand and fuel to half a percent; time at low load to three minutes; heat to two hundredths."""
    show = make(Made(system, "all", seed=3))
    restarted, whole, after = cut_and_whole(record(show, heater("A2", 900), 5), tmp_path / "day.sqlite")
    again, before = restarted.conditions, whole.conditions
    check_running(again, before)
    assert again.demand is not None
    assert before.demand is not None
    assert again.demand.watts == pytest.approx(before.demand.watts, rel=0.005)
    assert again.demand.covered_s == pytest.approx(before.demand.covered_s, abs=10)
    check_fuel(again, before)
    for circuit, state in before.heat.items():
        assert again.heat[circuit].slowest == pytest.approx(state.slowest, abs=0.02)
        assert again.heat[circuit].unknown_s == pytest.approx(state.unknown_s, abs=60)
    assert told(after[0]) == told(after[1])


def check_running(again: Conditions, before: Conditions) -> None:
    """Hold energy and times against each other."""
    assert again.running is not None
    assert before.running is not None
    assert again.running.kilowatt_hours == pytest.approx(before.running.kilowatt_hours, rel=0.005)
    assert again.running.covered_s == pytest.approx(before.running.covered_s, abs=20)
    assert again.running.low_s == pytest.approx(before.running.low_s, abs=180)
    assert again.running.high_s == pytest.approx(before.running.high_s, abs=180)
    assert again.low_load_hours == pytest.approx(before.low_load_hours, abs=0.05)
    assert again.running.peak_watts == pytest.approx(before.running.peak_watts, rel=0.15)


def check_fuel(again: Conditions, before: Conditions) -> None:
    """Hold fuel against each other: the level, what it is counted from and what is left."""
    assert again.fuel is not None
    assert before.fuel is not None
    assert (
        (again.fuel.since_ms, again.fuel.entered)
        == (before.fuel.since_ms, before.fuel.entered)
        == (
            BEGIN_MS + 1_219_000,
            True,
        )
    )
    assert again.fuel.modelled_litres == pytest.approx(before.fuel.modelled_litres, rel=0.03)
    assert again.fuel.litres == pytest.approx(before.fuel.litres, rel=0.001)
    assert again.fuel.unknown_s == pytest.approx(before.fuel.unknown_s, abs=20)
    assert again.fuel.left is not None
    assert before.fuel.left is not None
    assert again.fuel.left.hours_mean == pytest.approx(before.fuel.left.hours_mean, rel=0.01)


def told(changes: list[AlarmChange]) -> list[tuple[str, str, str]]:
    """Give what changed its state, without times."""
    return sorted((c.alarm.code, c.alarm.where, c.alarm.state) for c in changes if c.before != c.alarm.state)


def test_alarms_that_stood_and_runs_that_were_learned_go_on(tmp_path: Path) -> None:
    """An overload that ends after the cut clears once; what the two meters of a run differ by is known again."""
    show = make(Made("120/240", "all", seed=2))
    show = replace(show, source=replace(show.source, rated_kw=90.0, rated_kva=110.0, amps_per_leg=400.0))
    act = both(heater("A3", 2700), later(450, unloaded("A3")))
    restarted, whole, after = cut_and_whole(record(show, act, 7), tmp_path / "day.sqlite")
    assert {(where, state) for code, where, state in told(after[1]) if code.endswith("above-rating")} == {
        ("A3", "returned-unacknowledged")
    }
    assert told(after[0]) == told(after[1])
    offsets = [dict(watch.conditions.run_offsets) for watch in (restarted, whole)]
    assert offsets[0].keys() == offsets[1].keys()
    assert any(offset is not None for offset in offsets[1].values())
    for run, offset in offsets[1].items():
        assert (offsets[0][run] is None) == (offset is None)
        assert offset is None or offsets[0][run] == pytest.approx(offset, abs=0.25)


def test_a_refuel_entered_while_no_logger_ran_counts(tmp_path: Path) -> None:
    """A note after the last reading: the tank is full again from then."""
    show = make(Made("120/240", "source"))
    log = tmp_path / "day.sqlite"
    recorded = record(show, None, 1)
    with LogWriter.open(log, show, Instant(BEGIN_MS, 0.0)) as writer:
        play(Watch(show), recorded, range(600), writer)
        writer.note(BEGIN_MS + 900_000, "Ines", "", kind="refuel", number=3.0, quantity="litres")
    watch = Watch(show)
    with LogReader(log) as reader:
        rebuild(watch, show, reader)
    assert watch.conditions.fuel is not None
    assert show.source.fuel is not None
    assert watch.conditions.fuel.litres == show.source.fuel.tank_litres
    assert watch.conditions.fuel.since_ms == BEGIN_MS + 900_000
