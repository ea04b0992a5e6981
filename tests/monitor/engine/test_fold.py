"""The fold: what may be shown of readings."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.reading import Quality, Values
from monitor.engine.fold import Engine
from monitor.engine.reading import Reading
from monitor.engine.snapshot import Freshness, LoggerView, Snapshot
from monitor.show.model import Point, Show
from tests.support.shows import circuit, show

LOGGER = LoggerView(running=True, last_commit_age_s=0.0, not_kept=0, problem="", log_path="x.sqlite")


def reading(name: str, second: float, quality: Quality = Quality.GOOD, **values: float) -> Reading:
    """Give a reading of a point at a second after the start."""
    return Reading(Point(*name.split("/")), round(second * 1000), second, quality, Values(**values), "")


def look(engine: Engine, second: float, *readings: Reading) -> Snapshot:
    """Advance to a second."""
    return engine.advance(readings, round(second * 1000), second, LOGGER)


def test_a_value_is_live_until_its_limit_and_then_old_with_its_age() -> None:
    """The last good value stays with its age, and is live no longer than the limit."""
    engine = Engine(show(circuit("A1")))
    assert look(engine, 0.0).circuits[0].measured.freshness is Freshness.NEVER
    first = look(engine, 1.0, reading("A1", 1.0, volts=120.0, amps=9.0)).circuits[0]
    assert first.measured.live
    assert first.percent == pytest.approx(45.0)
    late = look(engine, 4.5).circuits[0]
    assert late.measured.freshness is Freshness.OLD
    assert late.measured.age_s == pytest.approx(3.5)
    assert late.percent is None
    assert late.over_plan_amps is None


def test_a_failed_poll_never_renews_the_age() -> None:
    """A silent reading carries no values: the age goes on from the last one that did."""
    engine = Engine(show(circuit("A1")))
    look(engine, 1.0, reading("A1", 1.0, volts=120.0, amps=9.0))
    view = look(engine, 6.0, reading("A1", 5.9, Quality.SILENT)).circuits[0]
    assert view.measured.age_s == pytest.approx(5.0)
    assert view.measured.quality is Quality.SILENT


def test_a_circuit_without_a_meter_is_unmetered() -> None:
    """Not measured is neither zero nor silent."""
    snapshot = look(Engine(show(circuit("A1"), circuit("A2"), points=("A1",))), 1.0)
    assert snapshot.circuits[1].measured.freshness is Freshness.UNMETERED
    assert snapshot.circuits[1].measured.amps is None
    assert snapshot.wrong == ()


@given(st.lists(st.integers(0, 1), max_size=12), st.lists(st.floats(0, 40), min_size=12, max_size=12))
def test_grouping_of_readings_changes_nothing(cuts: list[int], amps: list[float]) -> None:
    """The same readings give the same Snapshot one by one, in any groups, and when some are read twice."""
    rows = [reading("A1", n + 1.0, volts=120.0, amps=a) for n, a in enumerate(amps)]
    at_once, grouped = Engine(show(circuit("A1"))), Engine(show(circuit("A1")))
    group: list[Reading] = []
    for row, cut in zip(rows, [*cuts, *[0] * 12], strict=False):
        group.append(row)
        if cut:
            grouped.advance(group, 0, 0.0, LOGGER)
    whole = look(at_once, 12.5, *rows)
    assert look(grouped, 12.5, *rows).circuits == whole.circuits


def test_two_hot_circuit_is_judged_leg_to_leg_when_one_channel_measures_it() -> None:
    """240 V is right across two hots of 120/240, and 120 V is then far too low."""
    engine = Engine(show(circuit("A1", ("L1", "L2"), watts=2400.0)))
    fine = look(engine, 1.0, reading("A1", 1.0, volts=240.0, amps=10.0))
    assert fine.circuits[0].nominal_volts == 240.0
    assert fine.circuits[0].planned_amps == pytest.approx(10.0)


def test_two_hot_circuit_metered_by_leg_takes_the_highest_amps_and_leg_volts() -> None:
    """Metered leg by leg it is judged leg to neutral, by the worse leg."""
    given_show = show(circuit("A1", ("L1", "L2"), watts=2400.0), points=("A1/L1", "A1/L2"))
    rows = (
        reading("A1/L1", 1.0, volts=121.0, amps=10.0, watts=1200.0),
        reading("A1/L2", 1.0, volts=119.0, amps=21.0, watts=2500.0),
    )
    snapshot = look(Engine(given_show), 1.0, *rows)
    view = snapshot.circuits[0]
    assert (view.measured.volts, view.measured.amps, view.measured.watts) == (119.0, 21.0, 3700.0)
    assert view.nominal_volts == 120.0


def test_a_wye_pair_reads_120_times_root_three() -> None:
    """Two hots of 208Y/120 stand at 120 * sqrt(3) V (arithmetic of the system's name)."""
    engine = Engine(show(circuit("A1", ("L1", "L3"), watts=2080.0), system="208Y/120"))
    assert look(engine, 1.0).circuits[0].nominal_volts == pytest.approx(120 * math.sqrt(3))


def source_show() -> Show:
    """Give a show whose source is metered on both legs."""
    return show(circuit("A1"), circuit("A2", ("L2",)), points=("A1", "A2", "source/L1", "source/L2"))


def test_kilowatts_need_every_leg() -> None:
    """With one leg silent the source's kilowatts are unknown, never the half."""
    engine = Engine(source_show())
    one = reading("source/L1", 1.0, volts=120.0, amps=50.0, watts=6000.0, hertz=60.0)
    assert look(engine, 1.0, one).source.kilowatts is None
    both = look(engine, 1.5, reading("source/L2", 1.5, volts=120.0, amps=60.0, watts=7000.0)).source
    assert both.kilowatts == pytest.approx(13.0)
    assert both.kilowatts_measured
    assert both.percent == pytest.approx(65.0)
    assert both.hertz == 60.0


def test_kilowatts_without_watts_are_marked_as_volts_times_amps() -> None:
    """Where the meters give no watts the product is an upper bound and says so."""
    rows = [reading(f"source/{leg}", 1.0, volts=120.0, amps=50.0) for leg in ("L1", "L2")]
    source = look(Engine(source_show()), 1.0, *rows).source
    assert source.kilowatts == pytest.approx(12.0)
    assert not source.kilowatts_measured


def test_a_reversed_transformer_counts_by_size() -> None:
    """A negative leg never lowers the source's kilowatts."""
    rows = [
        reading("source/L1", 1.0, volts=120.0, amps=50.0, watts=6000.0),
        reading("source/L2", 1.0, volts=120.0, amps=50.0, watts=-6000.0),
    ]
    snapshot = look(Engine(source_show()), 1.0, *rows)
    assert snapshot.source.kilowatts == pytest.approx(12.0)


def test_circuits_add_up_on_their_leg() -> None:
    """The sum of live circuits stands beside the metered leg; a silent circuit is left out, not zero."""
    engine = Engine(source_show())
    snapshot = look(engine, 1.0, reading("A1", 1.0, volts=120.0, amps=9.0))
    legs = {leg.leg: leg.circuits_amps for leg in snapshot.source.legs}
    assert legs == {"L1": 9.0, "L2": None}
    assert snapshot.feeders[0].legs[0].circuits_amps == 9.0
