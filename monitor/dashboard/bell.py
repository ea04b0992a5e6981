"""When the terminal's bell rings: once for each new alarm that is more than low, unless somebody muted it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.alarms.lifecycle import State
from monitor.alarms.model import Priority
from monitor.dashboard.needs import Key, asks, key_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from monitor.dashboard.session import Mute
    from monitor.engine.snapshot import AlarmView, Snapshot

MINUTE_MS = 60_000


class Bell:
    """Knows which alarms have rung; those that stand at the start count as rung.

    An alarm rings anew after it was normal, or came back from the shelf; not each time its condition returns.

    Args:
        snapshot: at the start.

    """

    def __init__(self, snapshot: Snapshot) -> None:
        self._known = _heard(snapshot.alarms)
        self.mute: Mute | None = None

    def muted(self, time_ms: int) -> Mute | None:
        """Give who muted it until when, or None where it is not muted at ``time_ms`` [ms, the log's clock]."""
        return self.mute if self.mute is not None and time_ms < self.mute.until_ms else None

    def rings(self, snapshot: Snapshot) -> bool:
        """Say whether it rings now; to be asked once for each new Snapshot."""
        heard = _heard(snapshot.alarms)
        new = heard - self._known
        self._known = heard
        asking = {key_of(alarm) for alarm in snapshot.alarms if asks(alarm)}
        return bool(new & asking) and self.muted(snapshot.time_ms) is None


def _heard(alarms: Iterable[AlarmView]) -> set[Key]:
    return {key_of(a) for a in alarms if a.weight is not Priority.LOW and a.state != State.SHELVED}
