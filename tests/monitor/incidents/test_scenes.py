"""Scenes of every kind of trouble: the right kind first, at the right place, once; and nothing on quiet days."""

from __future__ import annotations

from random import Random
from typing import TYPE_CHECKING

import pytest

from monitor.incidents.finder import IncidentFinder
from monitor.incidents.model import Kind
from tests.monitor.incidents.sceneday import Maker, Scene, SceneDay
from tests.monitor.incidents.scenes import MAKERS
from tests.support.days.scripts import power_up, quiet, wrap
from tests.support.days.sets import Made, make

if TYPE_CHECKING:
    from collections.abc import Callable

    from monitor.incidents.model import Incident

SEEDS = (201, 202, 203)  # tests/bench/incidents_score.py plays as many as one likes


def told(scene: Scene) -> list[Incident]:
    """Play a scene; give what was told, in its last form."""
    finder = IncidentFinder(scene.day.show)
    found: dict[int, Incident] = {}
    for now in scene.day.moments(scene.seconds):
        found |= {one.number: one for one in finder.observe(now).incidents}
    return list(found.values())


@pytest.mark.parametrize("maker", MAKERS, ids=lambda m: m.__name__)
def test_what_was_broken_is_told_first_once_and_where(maker: Callable[[Maker], Scene]) -> None:
    """Sets, systems, taps, pace and noise differ from seed to seed; the finder knows none of them beforehand."""
    for seed in SEEDS:
        scene = maker(Maker(seed * 1000 + MAKERS.index(maker)))
        incidents = told(scene)
        assert len(incidents) == (1 if scene.wanted else 0), (scene.name, seed, incidents)
        for incident in incidents:
            assert incident.kind in scene.wanted, (scene.name, seed, incident)
            assert {str(point) for point in incident.points} & set(scene.where)
            assert incident.evidence
            assert incident.not_shown
            assert incident.confidence + sum(other.confidence for other in incident.alternatives) <= 1.0 + 1e-9
            assert incident.confidence < 0.9  # never sure of a cause


def test_every_kind_has_a_scene() -> None:
    """All fifteen kinds are expected by some scene."""
    wanted = {kind for maker in MAKERS for kind in maker(Maker(1)).wanted}
    assert wanted == set(Kind)


QUIET = [
    (Made("120/240", "all", "load", "generator", "isochronous", "G1"), 3),
    (Made("208Y/120", "source", "line", "generator", "droop", "G2"), 4),
    (Made("400Y/230", "circuits", "load", "generator", "isochronous", "G3"), 5),
    (Made("230", "all", "load", "house"), 6),
    (Made("120/240", "source", "line", "generator", "inverter"), 7),
]


@pytest.mark.parametrize(("made", "seed"), QUIET, ids=lambda one: getattr(one, "system", ""))
def test_a_quiet_day_tells_steps_and_no_incident(made: Made, seed: int) -> None:
    """Power-up, motors, kettles, strikes, dimming, lost polls; all switched off in order, then the engine stops."""
    day = SceneDay(make(made), seed, 0.006, Random(seed).choice((1, 2)))
    day.corrupt, day.slow = 0.02, 0.1
    power_up(day, 20)
    quiet(day, 130, 800)
    wrap(day, 820)
    finder = IncidentFinder(day.show)
    incidents: list[Incident] = []
    steps = 0
    for now in day.moments(940):
        found = finder.observe(now)
        incidents += found.incidents
        steps += len(found.steps)
    assert incidents == []
    assert steps > 20
