"""Steps over random days, and what must hold of them whatever happens."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from random import Random
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.electrical.steps import Step, StepFinder
from tests.support.stepdays import StepDay, random_day
from tests.support.stepscore import Score, score

if TYPE_CHECKING:
    from monitor.electrical.step_detect import Detector
    from monitor.show.model import Circuit

DAYS = range(900, 918)


def steps_of(day: StepDay, circuit: Circuit | None = None, scale: float = 1.0) -> list[Step]:
    """Find the steps of a day, by another plan or with amps and watts scaled."""
    finder = StepFinder(circuit or day.circuit, day.system)
    rows = ((t, v, a if a is None else a * scale, w if w is None else w * scale) for t, v, a, w in day.samples())
    return [step for row in rows for step in finder.add(*row)]


def told(steps: list[Step]) -> list[tuple[float, str, tuple[str, ...]]]:
    """Give time, kind and sorted names of each step."""
    return [(step.time_s, step.kind, tuple(sorted(step.match))) for step in steps]


def test_random_days_are_told_right() -> None:
    """Over days of every system, pace and noise, planned loads are named right and strangers get no name."""
    total = Score()
    for seed in DAYS:
        day = random_day(seed, hours=2.0)
        total.add(score(day, steps_of(day)))
    assert total.planned > 300
    assert total.right >= 0.88 * total.planned
    assert total.clear_right >= 0.94 * total.clear
    assert total.wrong <= 0.13 * total.named  # with the days on which two loads can't be told apart
    assert total.strange - total.alike > 50
    assert total.invented <= 0.08 * (total.strange - total.alike)
    assert total.spurious_named <= 3


@pytest.mark.parametrize("seed", [1, 2, 5])
def test_the_order_of_the_plan_does_not_matter(seed: int) -> None:
    """Planned loads listed in another order give the same steps."""
    day = random_day(seed, hours=1.0)
    loads = list(day.circuit.load)
    Random(seed).shuffle(loads)
    assert told(steps_of(day, replace(day.circuit, load=tuple(loads)))) == told(steps_of(day))


@pytest.mark.parametrize("seed", [3, 4, 8])
def test_one_entry_of_three_is_three_entries_of_one(seed: int) -> None:
    """A load with a count is the same as so many entries of one."""
    day = random_day(seed, hours=1.0)
    loads = tuple(replace(load, count=1) for load in day.circuit.load for _ in range(load.count))
    assert told(steps_of(day, replace(day.circuit, load=loads))) == told(steps_of(day))


@pytest.mark.parametrize("seed", [6, 7])
def test_a_larger_set_has_the_same_steps(seed: int) -> None:
    """Twice the watts in the plan and on the meter give the same loads at the same times."""
    day = random_day(seed, hours=1.0)
    day.digit = 0.0
    doubled = tuple(replace(load, watts=2 * load.watts) for load in day.circuit.load)
    small = [step for step in steps_of(day) if step.match]
    large = [step for step in steps_of(day, replace(day.circuit, load=doubled), 2.0) if step.match]
    same = sum((Counter(told(small)) & Counter(told(large))).values())
    assert small
    assert same >= 0.9 * max(len(small), len(large))  # small changes are nearer to the least amps in the one


def test_the_same_samples_give_the_same_steps() -> None:
    """Nothing but the samples decides."""
    day = random_day(11, hours=1.0)
    assert steps_of(day) == steps_of(day)


def test_memory_does_not_grow() -> None:
    """After a day of switching, what is kept is no more than the bounds say."""
    day = random_day(12, hours=3.0)
    finder = StepFinder(day.circuit, day.system)
    for row in day.samples():
        finder.add(*row)
        detector: Detector = finder._detector
        assert len(detector._kept) <= 40
        assert detector._way is None or len(detector._way.tail) <= 600
        assert len(finder.loads._versions) <= 10
        assert all(len(version.loads.unknown) <= 12 for version in finder.loads._versions)
    assert len(finder._cycles._known) <= 16


_maybe = st.one_of(st.none(), st.floats(-1e4, 1e4, allow_nan=False), st.sampled_from([0.0, 120.0, 5.0]))


@settings(max_examples=150, deadline=None)
@given(rows=st.lists(st.tuples(st.floats(0, 30), _maybe, _maybe, _maybe), max_size=60), seed=st.integers(0, 5))
def test_any_samples_are_survived(
    rows: list[tuple[float, float | None, float | None, float | None]], seed: int
) -> None:
    """Whatever a meter shows, steps come in order, with times, sign and confidence that make sense."""
    day = random_day(seed, hours=0.1)
    circuit = day.circuit
    finder = StepFinder(circuit, day.system)
    now = 0.0
    steps: list[Step] = []
    for passed, volts, amps, watts in rows:
        now += passed
        steps += finder.add(now, volts, amps, watts)
    planned = {load.name: load.count for load in circuit.load}
    for step in steps:
        assert step.earliest_s <= step.time_s <= now
        assert 0 <= step.confidence <= 1.000001
        size = step.watts if step.watts is not None else step.amps
        assert size is not None
        assert (size > 0) == (step.kind == "on")
        assert all(Counter(step.match)[name] <= planned[name] for name in step.match)
    assert all(0 <= on <= load.count for on, load in zip(finder.loads.best.on, finder.loads.planned, strict=True))
