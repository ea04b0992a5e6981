"""The fold: readings in, one Snapshot out. One orchestration for live use, attached screens and replay."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.engine.memory import Memories
from monitor.engine.snapshot import AlarmView, LoggerView, Snapshot, Weight
from monitor.engine.views import Figures, Moment
from monitor.engine.wrong import findings

if TYPE_CHECKING:
    from collections.abc import Iterable

    from monitor.engine.reading import Reading
    from monitor.show.model import Show

_WEIGHTS = tuple(Weight)


class Engine:
    """Everything known of one show at present.

    The same readings give the same Snapshots, however they are grouped. Knows no clock: ``now`` is an argument.
    """

    def __init__(self, show: Show) -> None:
        self.show = show
        self._figures = Figures(show)
        self._memories = Memories.for_points(show.points())
        self._since: dict[tuple[str, str], int] = {}

    def advance(self, readings: Iterable[Reading], now_ms: int, now_s: float, logger: LoggerView) -> Snapshot:
        """Take ``readings`` and give the Snapshot of this moment.

        Args:
            readings: in time order for each point; one read twice changes nothing.
            now_ms: the log's clock [ms since 1970 UTC].
            now_s: the monotonic clock that the readings' ``mono_s`` came from [s].
            logger: what is known of the logger.

        """
        self._memories.take(readings)
        moment = Moment(self._figures, self._memories, now_s)
        return Snapshot(
            time_ms=now_ms,
            show_name=self.show.name,
            timezone=self.show.timezone,
            source=moment.source,
            feeders=moment.feeders,
            circuits=moment.circuits,
            wrong=self._wrong(moment, now_ms),
            logger=logger,
        )

    def _wrong(self, moment: Moment, now_ms: int) -> tuple[AlarmView, ...]:
        """Give the findings, each with the time since when it has held without a break."""
        found = tuple(findings(moment))
        self._since = {(f.code, f.where): self._since.get((f.code, f.where), now_ms) for f in found}
        wrong = (AlarmView(f.code, f.weight, f.where, f.text, self._since[f.code, f.where]) for f in found)
        return tuple(sorted(wrong, key=lambda w: (_WEIGHTS.index(w.weight), w.since_ms)))
