"""Volts and hertz against limits, spells of low and high volts, and what leg volts show of the wiring."""

from __future__ import annotations

import cmath
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.electrical.supply import Spell, fold_volts, hertz_band, source_or_run, volt_limits
from monitor.electrical.wiring import (
    SplitSample,
    lost_leg,
    lost_neutral_split,
    lost_neutral_wye,
    star_of_legs,
    star_shift,
    wrong_service,
)
from monitor.show.model import Source

LINE = [120 * 3**0.5] * 3


def test_limits_of_volts_that_the_table_has_not() -> None:
    """Another nominal voltage takes the region's first row in proportion."""
    limits = volt_limits("north-america", 230, "utilization")
    assert limits.good_high == pytest.approx(230 * 1.05)
    assert limits.tolerable_low == pytest.approx(230 * 106 / 120)


def test_hertz_by_governor() -> None:
    """An inverter's hertz say nothing; a house is held tightly; no class takes usual figures and says so."""
    base = Source("s", "generator", "120/240", 60, governor="inverter")
    assert hertz_band(base).low is None
    iso = hertz_band(replace(base, governor="isochronous"))
    assert [iso.low, iso.high] == pytest.approx([59.7, 60.3])
    assert "from memory" in iso.text
    g3 = hertz_band(replace(base, hertz=50, governor="isochronous", performance_class="G3"))
    assert [g3.low, g3.high] == pytest.approx([49.875, 50.125])
    unknown = hertz_band(replace(base, governor=None))
    assert unknown.high == pytest.approx(60 * 1.055)
    house = hertz_band(Source("h", "house", "230", 50))
    assert [house.low, house.high] == pytest.approx([49.5, 50.5])


def fold(samples: list[float | None], low: float = 114, high: float = 126, back: float = 0) -> list[Spell]:
    """Fold samples a second apart; the spell that lasts comes last."""
    spell: Spell | None = None
    found = []
    for second, volts in enumerate(samples):
        spell, ended = fold_volts(spell, float(second), volts, low, high, back)
        found += [ended] if ended else []
    return found + ([spell] if spell else [])


def test_spells_have_depth_and_duration_and_their_end() -> None:
    """Low and high volts: extreme, duration, how it ended; a swing from low to high is two spells."""
    low, high, open_ = fold([120, 113, 108, 112, 120, 127, 120, 110])
    assert (low.side, low.begin_s, low.duration_s, low.extreme_volts, low.samples) == ("low", 1, 2, 108, 3)
    assert low.depth_percent(120) == pytest.approx(10)
    assert (high.side, high.ended, open_.ended) == ("high", "back", "open")
    assert [spell.side for spell in fold([110, 130])] == ["low", "high"]


def test_a_gap_ends_a_spell_and_is_not_bridged() -> None:
    """Low, no reading, low: two spells, and the first says that what came after is not known."""
    first, second = fold([110, None, 110])
    assert first.ended == "gap"
    assert first.duration_s == 0
    assert second.begin_s == 2


def test_a_spell_ends_only_well_inside() -> None:
    """With a band to come back through, a sample at the limit doesn't cut a spell in two."""
    assert len(fold([113, 114.2, 113, 115.5], back=1)) == 1
    assert len(fold([113, 114.2, 113, 115.5])) == 2


@given(st.lists(st.one_of(st.none(), st.floats(80, 150)), max_size=40))
def test_every_sample_outside_is_in_one_spell(samples: list[float | None]) -> None:
    """The spells together hold exactly the samples outside the limits."""
    outside = sum(volts is not None and not 114 <= volts <= 126 for volts in samples)
    assert sum(spell.samples for spell in fold(samples)) == outside


@pytest.mark.parametrize(
    ("here", "upstream", "larger"),
    [(108, 109, "source"), (108, 119, "run"), (134, 133.8, "source"), (111, 115, "source")],
)
def test_source_or_run(here: float, upstream: float, larger: str) -> None:
    """The larger share of the departure names it."""
    shares = source_or_run(here, upstream, 120)
    assert shares is not None
    assert shares.larger == larger
    assert shares.source_volts + shares.run_volts == pytest.approx(abs(120 - here))
    assert source_or_run(here, None, 120) is None


def split(*volts: tuple[float, float], amps: tuple[float, float] | None = None) -> list[SplitSample]:
    """Make samples of both legs."""
    return [SplitSample(pair, amps) for pair in volts]


def test_lost_neutral_on_split_phase() -> None:
    """80 and 40 A legs with the neutral open become 80 and 160 V: shown at the second sample, and critical."""
    before, after = (118.0, 119.0), (80.0, 160.0)
    assert lost_neutral_split(split(before, before)) is None
    assert lost_neutral_split(split(before, after)) is None
    sign = lost_neutral_split(split(before, after, after))
    assert sign is not None
    assert sign.critical
    near = lost_neutral_split(split((109, 131), (109, 131)))
    assert near is not None
    assert not near.critical


def test_a_long_one_sided_run_is_no_lost_neutral() -> None:
    """A spread that the plan's cable and the load explain is taken off; the same spread without load is shown."""
    samples = split((112.0, 126.0), (112.0, 126.0), amps=(70, 0))
    assert lost_neutral_split(samples, 240, spread_ohms=0.2) is None
    assert lost_neutral_split(split((112.0, 126.0), (112.0, 126.0), amps=(30, 30)), 240, spread_ohms=0.2) is not None


def test_all_legs_high_is_no_lost_neutral() -> None:
    """Both legs up together, or one leg gone, move the sum: not this."""
    assert lost_neutral_split(split((134, 133), (134, 133))) is None
    assert lost_neutral_split(split((120, 0), (120, 0))) is None


def test_lost_neutral_on_a_wye() -> None:
    """105/135/121 V to neutral with steady lines: shown; a balanced load hides it; one sample is not enough."""
    shifted = ([105.0, 135.2, 121.0], LINE)
    sign = lost_neutral_wye([shifted, shifted], 120)
    assert sign is not None
    assert sign.value == pytest.approx(star_shift(*shifted))
    assert lost_neutral_wye([shifted], 120) is None
    assert lost_neutral_wye([([120.0] * 3, LINE)] * 2, 120) is None
    slight = ([113.0, 120.0, 128.0], LINE)
    assert lost_neutral_wye([slight, slight], 120) is None
    assert lost_neutral_wye([slight, slight], 120, alarm=False) is not None


@given(
    side=st.floats(150, 450),
    along=st.floats(-0.25, 0.25),
    across=st.floats(-0.25, 0.25),
)
def test_even_legs_give_the_star_from_their_volts_to_neutral_alone(side: float, along: float, across: float) -> None:
    """Any neutral inside an even triangle: its distances to the corners give side and shift back (plane geometry)."""
    corners = [side / 3**0.5 * cmath.exp(2j * cmath.pi * k / 3) for k in range(3)]
    neutral = complex(along, across) * side
    star = star_of_legs([abs(corner - neutral) for corner in corners])
    assert star is not None
    assert star[0] == pytest.approx(side, rel=1e-6)
    assert star[1] == pytest.approx(abs(neutral), abs=1e-3 * side)


def test_volts_to_neutral_of_no_even_triangle_give_no_star() -> None:
    """One leg far above the other two together can't stand evenly."""
    assert star_of_legs((20.0, 20.0, 240.0)) is None


def test_lost_leg_need_not_be_at_zero() -> None:
    """A leg fed back to 40 V while the others stand; not with all legs gone, nor with one sample, nor unread legs."""
    gone = {"L1": 119.0, "L2": 41.0, "L3": 121.0}
    sign = lost_leg([gone, gone], 120)
    assert sign is not None
    assert sign.legs == ("L2",)
    assert lost_leg([gone], 120) is None
    assert lost_leg([dict.fromkeys(gone, 0.0)] * 2, 120) is None
    assert lost_leg([{"L2": 41.0}] * 2, 120) is None
    assert lost_leg([{"L1": 100.0, "L2": 41.0}] * 2, 120) is None


def test_wrong_service_at_first_power() -> None:
    """208 V where 120 V are planned, 120 where 230 are, a wye for a split phase, and two legs on one hot."""
    idle = {"L1": 0.0, "L2": 0.0}
    assert wrong_service("120/240", {"L1": 121.0, "L2": 119.0}, idle, {("L1", "L2"): 240.0}) == ()
    (high,) = wrong_service("120/240", {"L1": 120.0, "L2": 208.0}, idle)
    assert (high.legs, high.critical) == (("L2",), True)
    (low,) = wrong_service("230", {"L1": 120.0}, {"L1": 0.0})
    assert not low.critical
    (wye,) = wrong_service("120/240", {"L1": 120.0, "L2": 120.0}, idle, {("L1", "L2"): 208.0})
    assert wye.value == pytest.approx(1.73, abs=0.01)
    (same,) = wrong_service("208Y/120", {"L1": 120.0, "L2": 120.0}, idle, {("L1", "L2"): 0.4})
    assert "one hot" in same.text


def test_loaded_or_absent_legs_are_not_judged_as_first_power() -> None:
    """A leg that carries load, or has no service yet, says nothing about the service."""
    assert wrong_service("120/240", {"L1": 140.0}, {"L1": 12.0}) == ()
    assert wrong_service("120/240", {"L1": 3.0}, {"L1": 0.0}) == ()
