"""A bad bus, for an hour of its own time; ``tests/bench/bus_soak.py`` runs a million polls."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tests.support.measured import Measured
from tests.support.soak import FAULTS, soak

if TYPE_CHECKING:
    from collections.abc import Callable

    import pytest

POLLS = 9_000
RECOVERED_WITHIN_S = 30.0  # a pulled adapter stays out for up to 20 s


def test_a_bad_bus_gives_no_wrong_value(record_property: Callable[[str, object], None]) -> None:
    """Bits, rubbish, cuts, lost, late and doubled replies, a pulled adapter: gaps, never a value nobody gave."""
    told = soak(POLLS, seed=7)
    for kind, count in told.injected.items():
        longest_s, how = told.recovered[kind][0], "on a wire in memory, all kinds mixed"
        if count:
            row = Measured(f"bus: {kind}", how, count, len(told.wrong), told.polls, "polls wrong", longest_s)
            row.keep(record_property)
        assert longest_s < RECOVERED_WITHIN_S, kind
    assert told.polls >= POLLS
    assert told.good > 0.9 * POLLS
    assert not told.wrong, told.wrong[:5]
    assert told.missed <= 1, "a CRC-16 lets few in 65,536 pass, and these are about a thousand"
    assert {kind for kind, share in FAULTS.items() if share} == {kind for kind, n in told.injected.items() if n}


def test_the_soak_finds_wrong_values(monkeypatch: pytest.MonkeyPatch) -> None:
    """The check can fail: values under a forged checksum are seen, and so is a driver that believes every reply."""
    told = soak(500, shares={"forged": 0.05})
    assert told.missed > 5
    assert told.passed > 5
    assert not told.wrong
    monkeypatch.setattr("drivers.bus.resync.Trust.in_step", True)
    monkeypatch.setattr("drivers.bus.poller.Poller._clear", lambda *_, **__: False)
    monkeypatch.setattr("drivers.links.serial_link.SerialLink.drain", lambda *_: 0)
    assert soak(1_000, shares={"late": 0.3}).wrong
