"""Feeders and the source against their circuits, as measured; the sums are done by hand."""

from __future__ import annotations

import pytest

from monitor.electrical.sums import Flow, unequal
from monitor.show.model import Point, Show
from tests.support.shows import circuit, show

SET: Show = show(circuit("A1"), circuit("A2"), circuit("B1", ("L2",)), circuit("AB", ("L1", "L2"), 2400.0))
AMPS = {"A1": 8.0, "A2": 6.0, "B1": 5.0, "AB": 10.0}


def flows(**legs: float) -> dict[Point, Flow]:
    """Give every circuit's flow, and box A's legs."""
    return {Point(name): Flow(amps) for name, amps in AMPS.items()} | {
        Point("boxA", leg): Flow(amps) for leg, amps in legs.items()
    }


def test_agreeing_figures_are_quiet() -> None:
    """L1 carries 8 + 6 + 10, L2 5 + 10; a few percent off say nothing."""
    assert not list(unequal(SET, flows(L1=24.0, L2=15.0)))
    assert not list(unequal(SET, flows(L1=23.0, L2=15.8)))


def test_exchanged_feeder_legs_are_told_on_both() -> None:
    """Its transformers exchanged: too little on L1, too much on L2."""
    found = {one.point.leg: one.rest.amps for one in unequal(SET, flows(L1=15.0, L2=24.0))}
    assert found == {"L1": pytest.approx(-9.0), "L2": pytest.approx(9.0)}


def test_more_than_the_metered_circuits_is_no_finding_where_one_has_no_meter() -> None:
    """Load without a meter explains it; less than they show is told all the same."""
    some = {point: flow for point, flow in flows(L1=24.0, L2=2.0).items() if point != Point("A2")}
    assert [one.point for one in unequal(SET, some)] == [Point("boxA", "L2")]


def test_on_a_wye_two_hot_loads_add_as_phasors() -> None:
    """8 A to neutral and 10 A to L2 on L1 of 208Y/120: 17.4 A (law of cosines at 30 degrees), not 18."""
    wye = show(circuit("A1"), circuit("AB", ("L1", "L2")), system="208Y/120")
    measured = {Point("A1"): Flow(8.0), Point("AB"): Flow(10.0), Point("boxA", "L1"): Flow(30.0)}
    (one,) = unequal(wye, measured)
    assert one.rest.children_amps == pytest.approx(17.394, abs=0.001)
