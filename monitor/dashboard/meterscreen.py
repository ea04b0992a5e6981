"""Buses and meters on a screen of their own."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.dashboard.meterpage import meters_page
from monitor.dashboard.screens import OverScreen

if TYPE_CHECKING:
    from monitor.dashboard.pieces import Cells, Page
    from monitor.engine.snapshot import Snapshot


class MetersScreen(OverScreen):
    """Buses and meters."""

    TOPIC = "meters"

    def view(self, snapshot: Snapshot, size: Cells) -> Page:
        """Give the body's lines."""
        return meters_page(snapshot, size)

    def offers(self, action: str) -> bool:
        """Leave out the key that opened this screen: Esc is shown."""
        return action != "over('meters')"
