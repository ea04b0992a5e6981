"""What a meter's fitting shows, against watts integrated over sampled waves that know nothing of angles' rules."""

from __future__ import annotations

from math import cos, pi, radians, sin, sqrt

import pytest

from monitor.electrical.fitting import enough, exchanged, scale_clue, transformer_clue, volts_clue

STEPS = 720
LEG_AT = {"L1": 0.0, "L2": -120.0, "L3": 120.0}


def integrated(volts_leg: str, amps_leg: str, lag: float, *, turned: bool = False) -> tuple[float, float, float]:
    """Give volts, amps and watts of a wye channel by integrating one cycle of 120 V and 8 A, the load lagging."""
    v = [120 * sqrt(2) * cos(2 * pi * n / STEPS + radians(LEG_AT[volts_leg])) for n in range(STEPS)]
    i = [8 * sqrt(2) * cos(2 * pi * n / STEPS + radians(LEG_AT[amps_leg] - lag)) for n in range(STEPS)]
    sign = -1 if turned else 1
    volts, amps = (sqrt(sum(x * x for x in wave) / STEPS) for wave in (v, i))
    return volts, amps, sign * sum(a * b for a, b in zip(v, i, strict=True)) / STEPS


@pytest.mark.parametrize("lag", [0.0, 10.0, 25.0, 40.0])
def test_a_sound_fitting_is_quiet(lag: float) -> None:
    """Loads from power factor 1 to 0.77 on their own leg: nothing to say."""
    assert transformer_clue("208Y/120", 1, *integrated("L1", "L1", lag)) is None


@pytest.mark.parametrize("lag", [0.0, 10.0, 25.0])
def test_a_turned_transformer_is_named_first(lag: float) -> None:
    """Turned round, on a wye: the first cause named is that."""
    clue = transformer_clue("208Y/120", 1, *integrated("L2", "L2", lag, turned=True))
    assert clue is not None
    assert clue.code == "transformer-turned"
    assert clue.certain


@pytest.mark.parametrize("amps_leg", ["L2", "L3"])
def test_a_resistive_load_on_another_leg_reads_minus_a_half(amps_leg: str) -> None:
    """The trade's figure, cos 120 degrees: named as another leg, not as turned."""
    clue = transformer_clue("208Y/120", 1, *integrated("L1", amps_leg, 0.0))
    assert clue is not None
    assert clue.code == "transformer-leg"
    assert "power factor of -0.50" in clue.text
    assert "the wrong way round" not in clue.text


def test_turned_and_on_another_leg_is_a_doubt_only() -> None:
    """Plus a half is what crude electronics read too: a remark, with both said."""
    clue = transformer_clue("400Y/230", 1, *integrated("L1", "L2", 0.0, turned=True))
    assert clue is not None
    assert not clue.certain
    assert "electronics without correction" in clue.text
    assert "turned and on another leg" in clue.text


def test_on_split_phase_turned_and_other_leg_read_the_same() -> None:
    """Legs are opposite there: both are said, and no leg 120 degrees away is."""
    clue = transformer_clue("120/240", 1, 120.0, 10.0, -1180.0)
    assert clue is not None
    assert "the wrong way round or on the other leg" in clue.text


def test_exchanged_transformers_of_one_meter() -> None:
    """L1 and L2 exchanged: both read minus a half, and the pair is named; one alone is no pair."""
    pair = {
        leg: clue
        for leg, other in (("L1", "L2"), ("L2", "L1"))
        if (clue := transformer_clue("208Y/120", 1, *integrated(leg, other, 0.0)))
    }
    assert exchanged(pair) == "the transformers on L1 and L2 may be exchanged with each other"
    assert not exchanged({"L1": pair["L1"]})


@pytest.mark.parametrize(
    ("times", "words"),
    [(10.0, "ten times"), (2.0, "twice"), (2 * sin(pi / 3), "1.73 times"), (4.2, "4.20 times")],
)
def test_more_watts_than_volts_times_amps(times: float, words: str) -> None:
    """Impossible whatever the load: a scale is wrong, and a usual factor is named."""
    clue = transformer_clue("120/240", 1, 120.0, 4.5, times * 120.0 * 4.5)
    assert clue is not None
    assert clue.code == "watts-scale"
    assert words in clue.text


def test_watts_in_kilowatts() -> None:
    """A thousandth of volts times amps."""
    clue = transformer_clue("120/240", 1, 120.0, 10.0, 1.14)
    assert clue is not None
    assert "may be kilowatts" in clue.text


@pytest.mark.parametrize(
    ("system", "legs", "volts", "words"),
    [
        ("208Y/120", ("L1",), 207.0, "leg to leg"),
        ("120/240", ("L1",), 241.0, "leg to leg"),
        ("400Y/230", ("L1",), 399.0, "leg to leg"),
        ("120/240", ("L1", "L2"), 119.0, "leg to neutral"),
        ("120/240", ("L1", "L2"), 207.5, "208Y/120"),
        ("120/240", ("L1",), 231.0, "400Y/230"),
        ("208Y/120", ("L1",), 277.0, "480Y/277"),
        ("120/240", ("L1",), 2.0, "loose tap wire"),
        ("120/240", ("L1",), 122.5, ""),
        ("208Y/120", ("L1", "L2"), 208.0, ""),
        ("400Y/230", ("L1", "L2", "L3"), 231.0, ""),
    ],
)
def test_where_such_volts_are_met(system: str, legs: tuple[str, ...], volts: float, words: str) -> None:
    """Nominal volts of ANSI C84.1 and IEC 60038 (from memory), seen at a point that should read others."""
    told = volts_clue(system, legs, volts)  # type: ignore[arg-type]  # the table's own systems
    assert (words in told) if words else not told


def test_usual_factors_between_meter_and_instrument() -> None:
    """A ratio set wrong in either direction; nothing is made up for no factor at all."""
    assert "two conductors" in scale_clue(24.6, 12.3)
    assert "kilo" in scale_clue(0.0123, 12.3)
    assert scale_clue(0.0, 12.3) == ""


def test_small_currents_are_not_judged() -> None:
    """Half an ampere, or 2 % of a large breaker."""
    assert not enough(0.4, 20.0)
    assert enough(0.6, 20.0)
    assert not enough(1.5, 100.0)


def test_whole_amperes_are_not_taken_for_a_wrong_scale() -> None:
    """A telegram's 2 A may be anything up to 3 A where it cuts decimals off."""
    assert transformer_clue("400Y/230", 1, 230.0, 2.0, 640.0) is None
    assert transformer_clue("400Y/230", 1, 230.0, 5.0, 1247.0) is None
    assert transformer_clue("400Y/230", 1, 230.0, 2.0, 1400.0) is not None
