"""Which meters are read first."""

from __future__ import annotations

from monitor.recorder.urgency import Urgency
from tests.support.shows import circuit, show


def test_the_meter_behind_a_close_place_is_urgent_and_no_other() -> None:
    """A circuit, a leg of a feeder, a place nobody meters: each names its own meters, on its own bus."""
    given = show(circuit("A1"), circuit("A2"), points=("A1", "A2", "boxA/L1"))
    urgency = Urgency(given)
    everything = {meter.bus for meter in given.meters}
    assert urgency.units(()) == dict.fromkeys(everything, frozenset())
    for place in ("A1", "boxA/L1", "boxA"):
        wanted = {
            meter.unit for meter in given.meters for _, point in meter.points if place in (point.place, str(point))
        }
        assert wanted
        assert set().union(*urgency.units((place,)).values()) == wanted
    assert urgency.units(("log", "source")) == urgency.units(())
