"""Published worked examples, their source beside each; and published answers that are wrong."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.electrical.cable import drop, feeder_drop
from monitor.electrical.headroom import continuous_limit
from monitor.electrical.legs import lagging, neutral, neutral_wye, on_legs, total, true_unbalance, unbalance
from monitor.electrical.loads import paper_amps, planned_amps
from monitor.electrical.supply import hertz_band, performance, volt_limits
from monitor.electrical.wiring import star_shift
from monitor.show.model import Breaker, Cable, Source
from tests.monitor.electrical.sets import circuit

FEET = 0.3048
WYE = ("L1", "L2", "L3")


@pytest.mark.parametrize(
    ("legs", "published", "tolerance"),
    [
        ((5, 8, 10), 4.36, 0.005),  # ehow.com, how to calculate neutral currents
        ((10, 15, 20), 8.66, 0.005),  # bit1024.com, neutral current calculator
        ((10, 10, 5), 5.0, 1e-9),  # iee-business.com, neutral current
        ((5, 5, 5), 0.0, 1e-9),  # forums.mikeholt.com, 7651
        ((5, 5, 0), 5.0, 1e-9),  # the same: not 0
    ],
)
def test_wye_neutral(legs: tuple[float, float, float], published: float, tolerance: float) -> None:
    """Examples 1 to 3: formula and phasor sum both give the published neutral current."""
    assert neutral_wye(*legs) == pytest.approx(published, abs=tolerance)
    by_leg = total(WYE, (on_legs("208Y/120", (leg,), lagging(a)) for leg, a in zip(WYE, legs, strict=True)))
    assert abs(neutral(by_leg)) == pytest.approx(published, abs=tolerance)


@pytest.mark.parametrize(
    ("legs", "wrong", "right"),
    [
        ((10, 23, 3), 309, 17.58),  # calculator.academy: without the root
        ((5, 41, 2), 2333, 37.59),  # the same page
        ((10, 8, 6), 15.1, 3.46),  # a forum's slip of a sign
    ],
)
def test_wrong_published_neutrals(legs: tuple[float, float, float], wrong: float, right: float) -> None:
    """Published answers that are wrong are not given."""
    assert neutral_wye(*legs) == pytest.approx(right, abs=0.005)
    assert neutral_wye(*legs) != pytest.approx(wrong, rel=0.1)


def test_split_phase_neutral_is_only_the_difference() -> None:
    """Split phase: the neutral carries only the unbalance (ehow.com); a 240 V load adds none."""
    parts = [
        on_legs("120/240", ("L1",), 60),
        on_legs("120/240", ("L2",), 20),
        on_legs("120/240", ("L1", "L2"), 30),
    ]
    by_leg = total(("L1", "L2"), parts)
    assert abs(neutral(by_leg)) == pytest.approx(40)
    assert abs(by_leg["L1"]) == pytest.approx(90)


def test_nema_unbalance() -> None:
    """Example 4: 462, 463, 455 V give 1.1 % (US DOE tip: 1.087); 220, 216, 213 V give 1.695, not the printed 1.8."""
    assert unbalance((462, 463, 455)) == pytest.approx(1.087, abs=5e-4)
    assert unbalance((220, 216, 213)) == pytest.approx(1.695, abs=5e-4)
    assert unbalance((220, 216, 213)) != pytest.approx(1.8, abs=0.05)


@pytest.mark.parametrize(("nema", "low", "high"), [(2, 2, 2.3), (5, 5, 5.8), (10, 10.0, 11.6), (20, 20.0, 23.8)])
def test_true_against_nema_unbalance(nema: float, low: float, high: float) -> None:
    """Example 5: by NEMA 2 / 5 / 10 / 20 % are 2-2.3 / 5-5.8 / 10.3-11.6 / 21-23.8 % true (Pillay and Manyage)."""
    assert true_unbalance(462, 463, 455) == pytest.approx(1.0914, abs=5e-5)
    part = nema / 100
    for second in (-part, -part / 2, 0.0):  # one side deviates by the NEMA figure, the others share the rest
        sides = (1 + part, 1 + second, 1 - part - second)
        assert unbalance(sides) == pytest.approx(nema)
        assert low * 0.999 <= true_unbalance(*sides) <= high * 1.005


def test_drop_by_table_8() -> None:
    """Example 6: 16 AWG, 100 ft one way, 4 A: 4.0 V, 16.7 % of 24 V (electrician2.com, exact 3.992 V)."""
    found = drop("120/240", ("L1",), Cable(100 * FEET, awg="16"), 4)
    assert found is not None
    assert found.volts == pytest.approx(3.992, abs=1e-9)
    assert 100 * found.volts / 24 == pytest.approx(16.7, abs=0.1)


@pytest.mark.parametrize(("awg", "volts", "percent"), [("12", 7.9, 6.6), ("8", 3.1, 2.6)])
def test_drop_by_k_method(awg: str, volts: float, percent: float) -> None:
    """Example 7: 20 A over 100 ft at 120 V, K = 12.9: 7.9 V, 6.6 % and 3.1 V, 2.6 % (tradelicenseprep.com)."""
    found = drop("120/240", ("L1",), Cable(100 * FEET, awg=awg), 20)
    assert found is not None
    assert found.volts == pytest.approx(volts, abs=0.05)
    assert found.percent == pytest.approx(percent, abs=0.05)
    assert found.base == "L-N"


@pytest.mark.parametrize(("awg", "volts", "percent"), [("2", 7.8, 6.5), ("4/0", 2.4, 2.0)])
def test_balanced_feeder_drop_has_its_base(awg: str, volts: float, percent: float) -> None:
    """400 ft, 100 A a leg, balanced: 7.8 V (6.5 %) and 2.4 V (2.0 %) leg to neutral.

    The trap (thehillsareburning.blogspot.com) compares the line-to-line drop, 1.73 times that, with 120 V.
    """
    cable = Cable(400 * FEET, awg=awg)
    found = drop("208Y/120", WYE, cable, 100)
    assert found is not None
    assert [found.volts, found.percent] == pytest.approx([volts, percent], abs=0.05)
    by_leg = total(WYE, [on_legs("208Y/120", WYE, 100 + 0j)])
    for leg in feeder_drop("208Y/120", cable, by_leg).values():
        assert leg.volts == pytest.approx(found.volts)


def test_iec_60228_with_its_temperature_factor() -> None:
    """IEC 60228 class 5, 2.5 mm2: 7.98 ohm/km at 20 degrees C; at 70 the published factor is 1/0.833 (alpha 0.004)."""
    at_20, at_70 = (drop("230", ("L1",), Cable(1000, mm2=2.5), 1, celsius) for celsius in (20, 70))
    assert at_20 is not None
    assert at_70 is not None
    assert at_20.volts == pytest.approx(2 * 7.98)
    assert at_70.volts == pytest.approx(2 * 7.98 / 0.833, rel=0.004)


def test_continuous_load_of_a_20_amp_device() -> None:
    """Example 15: 16 A continuous needs a 20 A device (joshthesparky.com)."""
    assert continuous_limit(Breaker(20), 80) == pytest.approx(16)
    assert continuous_limit(Breaker(20, full_rated=True), 80) == 20


def test_two_hot_load_on_a_wye() -> None:
    """A 20 A two-leg load at 208 V is 4.16 kW (common practice, no source); its amps stand 30 degrees off."""
    assert planned_amps(circuit("A", ("L1", "L2"), [(4160, 1.0)]), "208Y/120") == pytest.approx(20, rel=1e-3)
    alone = total(WYE, [on_legs("208Y/120", ("L1", "L2"), 10), on_legs("208Y/120", ("L1",), 10)])
    assert abs(alone["L1"]) == pytest.approx(20 / 1.0353, rel=1e-3)  # adding plain amps over-reads by 3.5 %
    both = total(WYE, [on_legs("208Y/120", ("L1", "L2"), 10), on_legs("208Y/120", ("L3", "L1"), 10)])
    assert abs(both["L1"]) == pytest.approx(20 * 0.866, rel=1e-3)  # and by 15 % with both pairs on one leg


def test_paper_amps_hide_the_power_factor() -> None:
    """800 W at power factor 0.58 drew about 12 A against 8 paper amps (imaginenews.com measured 12.5 A)."""
    ballast = circuit("A", ("L1",), [(800, 0.58)])
    assert paper_amps(ballast, "120/240") == pytest.approx(8.0)
    assert planned_amps(ballast, "120/240") == pytest.approx(12.5, rel=0.1)


@pytest.mark.parametrize(
    ("amps", "volts", "shift"),
    [((100, 60, 80), (105, 135, 121), 17.3), ((90, 80, 70), (113, 120, 128), 8.7), ((50, 50, 50), (120, 120, 120), 0)],
)
def test_open_neutral_on_a_wye(amps: tuple[int, ...], volts: tuple[int, ...], shift: float) -> None:
    """Resistive loads with the neutral open: the star point moves by Millman's theorem; figures computed elsewhere."""
    sent = 120 * np.exp(-2j * np.pi / 3 * np.arange(3))
    star = np.dot(amps, sent) / sum(amps)
    legs = np.abs(sent - star)
    assert legs == pytest.approx(volts, abs=1)
    assert star_shift(legs.tolist(), [120 * 3**0.5] * 3) == pytest.approx(abs(star), abs=1e-4)
    assert abs(star) == pytest.approx(shift, abs=0.05)


@pytest.mark.parametrize(
    ("volts", "word"), [(114, "good"), (126, "good"), (113.9, "tolerable"), (127, "tolerable"), (127.1, "outside")]
)
def test_service_volts(volts: float, word: str) -> None:
    """ANSI C84.1 service: 114 to 126 V range A, 110 to 127 V range B (utility leaflet, figure 1)."""
    assert volt_limits("north-america", 120).judge(volts) == word
    assert volt_limits("north-america", 240).judge(2 * volts) == word


def test_wye_and_european_volts() -> None:
    """208Y/120: 197 to 219 V (COMAR 20.50.07.02); 230/400 V: 207 to 253 V (IEC 60038)."""
    limits = volt_limits("north-america", 120 * 3**0.5)
    assert (limits.good_low, limits.good_high) == (197, 219)
    limits = volt_limits("europe", 230)
    assert [limits.judge(v) for v in (206.9, 207, 253, 253.1)] == ["outside", "good", "good", "outside"]


def test_class_g2() -> None:
    """ISO 8528-5 class G2: droop 5 %, band 1.5 %, dip 10 % Hz, volts 2.5 %, recovery 5 and 6 s (mrb78.info)."""
    g2 = performance("G2")
    assert g2 is not None
    assert (g2.droop, g2.steady_band, g2.dip_hertz, g2.steady_volts) == (5, 1.5, 10, 2.5)
    assert (g2.recovery_hertz_s, g2.recovery_volts_s, g2.rise_hertz, g2.dip_volts) == (5, 6, 12, 20)
    assert g2.seen
    assert performance("G4") is None
    found = hertz_band(Source("s", "generator", "120/240", 60, governor="droop", performance_class="G2"))
    assert [found.low, found.high] == pytest.approx([59.55, 63.45])
