"""What the logger adds up: by the readings alone, with a rating and without one."""

from __future__ import annotations

from dataclasses import replace

import pytest

from drivers.reading import Quality, Values
from monitor.engine.events import Event
from monitor.engine.reading import Reading
from monitor.engine.tallied import Tallied
from monitor.engine.watch import Watch
from monitor.recorder.tallies import Tallies
from monitor.show.model import Point, Show
from tests.support.shows import circuit, show

BEGIN_MS = 1_767_924_000_000


def run(of: Show, watts: list[float]) -> Tallied:
    """Give what is known after one reading a second of the source's two legs, half of ``watts`` on each."""
    watch, tallies = Watch(of), Tallies((), rated=of.source.rated_kw is not None)
    tallied = Tallied()
    for second, power in enumerate(watts):
        at_ms = BEGIN_MS + 1000 * second
        values = Values(volts=120.0, amps=power / 240, hertz=60.0, watts=power / 2)
        legs = (Point("source", "L1"), Point("source", "L2"))
        watch.advance([Reading(leg, at_ms, at_ms / 1000, Quality.GOOD, values) for leg in legs], at_ms)
        tallied, _ = tallies.now(watch.conditions, at_ms)
    return tallied


def metered(kind: str, rated_kw: float | None) -> Show:
    """Give a show whose source is metered on both legs."""
    base = show(circuit("A1"), points=("source/L1", "source/L2"), rated_kw=rated_kw)
    return replace(base, source=replace(base.source, kind=kind))  # type: ignore[arg-type]


def test_a_generators_energy_demand_and_time_at_low_and_high_load() -> None:
    """20 kW rated: 10 min at 4 kW and 10 min at 18 kW are 3.67 kWh, ten minutes low, ten high."""
    output = run(metered("generator", 20.0), [4000.0] * 600 + [18_000.0] * 601).output
    assert output is not None
    assert output.energy_kwh == pytest.approx((4.0 + 18.0) / 6, rel=0.01)
    assert output.low_s == pytest.approx(600, abs=5)
    assert output.high_s == pytest.approx(600, abs=5)
    assert output.covered_s == pytest.approx(1200, abs=5)
    assert output.peak_kw == 18.0
    assert output.demand_kw == pytest.approx((5 * 4.0 + 10 * 18.0) / 15, rel=0.01)
    assert output.highest_kw == pytest.approx(output.demand_kw)


def test_a_house_without_a_rating_has_its_energy_too() -> None:
    """Nothing is said of low and high load, which need a rating; a demand of few minutes is no highest one."""
    output = run(metered("house", None), [3600.0] * 601).output
    assert output is not None
    assert output.energy_kwh == pytest.approx(0.6, rel=0.01)
    assert (output.low_s, output.high_s, output.low_net_s) == (None, None, None)
    assert output.demand_kw == pytest.approx(3.6)
    assert output.demand_covered_s == pytest.approx(600, abs=5)
    assert output.highest_kw is None


def test_a_source_without_meters_has_no_output() -> None:
    """Unknown is not nought."""
    assert run(show(circuit("A1")), [4000.0] * 3).output is None


def test_answers_are_told_for_a_minute() -> None:
    """Refusals and what was done, by the request's number; other events are none."""
    watch, tallies = Watch(show(circuit("A1"))), Tallies((), rated=True)
    said = {"request": "n1", "who": "Noor"}
    tallies.answered(
        (
            Event(BEGIN_MS, "request-refused", "A1", "Noor's request is refused: no", said),
            Event(BEGIN_MS, "clock-step", "", "the clock was moved", {"seconds": 3.0}),
            Event(BEGIN_MS, "request-refused", "", "a file that is no request"),
        )
    )
    (answer,) = tallies.now(watch.conditions, BEGIN_MS + 60_000)[0].answers
    assert (answer.number, answer.done, answer.text) == ("n1", False, "Noor's request is refused: no")
    assert tallies.now(watch.conditions, BEGIN_MS + 60_001)[0].answers == ()
