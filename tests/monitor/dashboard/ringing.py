"""A dashboard that asks, for tests: with a desk that keeps what it is asked, and a count of bells."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from monitor.dashboard.alarmscreen import AlarmsScreen
from monitor.dashboard.app import LegwatchApp
from tests.monitor.dashboard import snapshots
from tests.monitor.dashboard.seat import Desk, Feed

if TYPE_CHECKING:
    from monitor.engine.snapshot import AlarmView

SIZE = (80, 24)
FIRST, SECOND = snapshots.FAR_ABOVE, snapshots.LOW_VOLTS


class Ringing(LegwatchApp):
    """A dashboard that counts its bells: under test there is no terminal to ring."""

    bells = 0

    def bell(self) -> None:
        """Count."""
        self.bells += 1


def seated(*alarms: AlarmView) -> tuple[Feed, Desk, Ringing]:
    """Give a dashboard with these alarms, or one of every state."""
    now = replace(snapshots.quiet(), alarms=alarms) if alarms else snapshots.alarmed()
    feed, desk = Feed(now), Desk()
    return feed, desk, Ringing(feed, desk)


def chosen(app: LegwatchApp) -> AlarmView | None:
    """Give the chosen alarm."""
    assert isinstance(app.screen, AlarmsScreen)
    return app.screen.chosen
