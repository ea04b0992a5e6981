"""Alarm settings and remarks."""

from __future__ import annotations

import pytest

from monitor.show.remarks import Remark, remarks
from monitor.show.settings import known_settings
from tests.monitor.show.files import BASE, change, load

# ANSI C84.1 range A service, 114 V to 126 V on a 120 V base (scribd.com/document/335834434); IEC 60038, 207 V to
# 253 V on 230 V (electrical-contractor.net/forums/ubbthreads.php/posts/135752.html).
PUBLISHED_VOLTS = [("north-america", 120, 114, 126), ("europe", 230, 207, 253)]


@pytest.mark.parametrize(("region", "nominal", "low", "high"), PUBLISHED_VOLTS)
def test_default_volts_are_the_published_ones(region: str, nominal: float, low: float, high: float) -> None:
    """The default limits, in volts, are those of the region's standard."""
    text = change(BASE, ('region = "north-america"', f'region = "{region}"'))
    for amps in ("amps = 60", "amps = 20", "amps = 30", "amps = 15", "amps = 50"):
        text = change(text, (amps, f'standard = "UL 489", {amps}'))
    show = load(text)
    assert nominal * show.setting("volts_low_percent") / 100 == pytest.approx(low)
    assert nominal * show.setting("volts_high_percent") / 100 == pytest.approx(high)


def test_every_setting_has_its_facts() -> None:
    """Each names unit, meaning and source, and its defaults are in its own range."""
    for setting in known_settings().values():
        assert setting.unit
        assert setting.meaning
        assert setting.source
        assert all(setting.low <= value <= setting.high for value in setting.defaults.values())


def test_own_values_go_before_defaults() -> None:
    """The circuit's own, else the show's own, else the region's default; every setting has a value."""
    show = load(BASE)
    assert set(show.settings) == set(known_settings())
    b1 = show.circuits[2]
    assert [show.setting("over_plan_amps", circuit) for circuit in (None, show.circuits[0], b1)] == [3, 3, 5]
    assert show.setting("continuous_percent", b1) == 90


def test_remarks() -> None:
    """What is no fault and worth telling is told, and nothing else."""
    text = change(
        BASE,
        ('ch1 = "A1", ch2 = "A2/L1", ch3 = "A2/L2"', 'ch1 = "A2/L1"'),
        ('N = "source/N"', 'N = "B1"'),
        ('L2 = "source/L2", ', ""),
        ('{ name = "Panel", watts', '{ name = "Saw", kind = "motor", watts'),
        ('tcp = "192.0.2.7"', 'tcp = "192.0.2.7"\npoll_seconds = 5'),
        ('[[circuit]]\nid = "C1"', '[[feeder]]\nid = "empty"\nfed_from = "source"\n[[circuit]]\nid = "C1"'),
    )
    told = remarks(load(text))
    assert [remark.where for remark in told] == [
        "source", "source", "empty", "A1", "A1", "A2", "C1", "net", "spare", "net unit 1",
    ]  # fmt: skip
    assert Remark("A2", "measured on L1, but not on L2") in told
    assert Remark("C1", "no meter measures it") in told


def test_a_show_with_nothing_to_remark() -> None:
    """A show measured all over has no remark."""
    text = change(
        BASE,
        ("rated_kva = 25", "rated_kva = 25\namps_per_leg = 104"),
        ('powered_from = "B1"\n', ""),
        ('N = "source/N"', 'N = "B1"'),
    )
    text += '[[meter]]\nbus = "spare"\nmap = "text-lines"\npoints = { ch1 = "C1" }\n'
    assert remarks(load(text)) == ()
