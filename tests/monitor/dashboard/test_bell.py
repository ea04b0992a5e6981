"""The bell: once for each new alarm that is more than low, never for what stands already."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from monitor.dashboard.bell import Bell
from monitor.dashboard.session import Mute
from tests.monitor.dashboard import snapshots
from tests.monitor.dashboard.snapshots import ABOVE, LONG, LOW_VOLTS, NOW_MS, RETURNED

if TYPE_CHECKING:
    from monitor.engine.snapshot import AlarmView, Snapshot


def with_alarms(*alarms: AlarmView, time_ms: int = NOW_MS) -> Snapshot:
    """Give a show with these alarms."""
    return replace(snapshots.quiet(), alarms=alarms, time_ms=time_ms)


@pytest.mark.parametrize(("alarm", "rings"), [(ABOVE, True), (LOW_VOLTS, True), (LONG, False), (RETURNED, True)])
def test_rings_for_urgent_and_high_alone(alarm: AlarmView, *, rings: bool) -> None:
    """A new alarm rings once where it is urgent or high, though it may have returned already; a low one does not."""
    bell = Bell(with_alarms())
    assert bell.rings(with_alarms(alarm)) is rings
    assert not bell.rings(with_alarms(alarm))


def test_quiet_about_what_stands_at_the_start() -> None:
    """Alarms that stand when the screen opens do not ring."""
    assert not Bell(with_alarms(ABOVE)).rings(with_alarms(ABOVE))


def test_one_ring_for_several() -> None:
    """Each Snapshot rings at most once, and a second alarm rings beside a first that stands."""
    bell = Bell(with_alarms())
    assert bell.rings(with_alarms(ABOVE))
    assert bell.rings(with_alarms(ABOVE, LOW_VOLTS))


def test_acknowledged_elsewhere_before_it_was_seen_here() -> None:
    """What somebody acknowledged at once has no need of a bell."""
    assert not Bell(with_alarms()).rings(with_alarms(replace(ABOVE, state="acknowledged")))


def test_no_ring_each_time_a_condition_comes_back() -> None:
    """Returned and come back unacknowledged it is the same alarm; after it was normal it is a new one."""
    bell = Bell(with_alarms(ABOVE))
    returned = replace(ABOVE, state="returned-unacknowledged")
    assert [bell.rings(with_alarms(each)) for each in (returned, ABOVE, returned)] == [False] * 3
    assert not bell.rings(with_alarms())
    assert bell.rings(with_alarms(ABOVE))


def test_back_from_the_shelf_rings() -> None:
    """A shelf's end brings an alarm back with a bell; shelving is quiet."""
    bell = Bell(with_alarms(ABOVE))
    assert not bell.rings(with_alarms(replace(ABOVE, state="shelved")))
    assert bell.rings(with_alarms(ABOVE))


def test_worse_than_low_rings() -> None:
    """An alarm whose weight rises from low rings then."""
    bell = Bell(with_alarms(LONG))
    assert bell.rings(with_alarms(replace(LONG, weight=ABOVE.weight)))


def test_muted_until_its_time() -> None:
    """While muted nothing rings, nor later for what came meanwhile; after its time new alarms ring again."""
    bell = Bell(with_alarms())
    bell.mute = Mute(NOW_MS + 60_000, "Noor")
    assert not bell.rings(with_alarms(ABOVE))
    assert bell.muted(NOW_MS + 59_999) is bell.mute
    assert bell.muted(NOW_MS + 60_000) is None
    assert not bell.rings(with_alarms(ABOVE, time_ms=NOW_MS + 60_000))
    assert bell.rings(with_alarms(ABOVE, LOW_VOLTS, time_ms=NOW_MS + 61_000))
