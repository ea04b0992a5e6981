"""The feed: the one source of truth of every screen."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from monitor.engine.snapshot import Snapshot


class Feed(Protocol):
    """Gives Snapshots; the same to a screen in the logger's process and to one that reads its log file."""

    def snapshot(self) -> Snapshot:
        """Give the newest Snapshot; called from the screen's thread, never blocks for long, never raises."""
