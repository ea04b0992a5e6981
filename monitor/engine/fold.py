"""The fold: readings in, one Snapshot out. One orchestration for live use, attached screens and replay."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.alarms.lifecycle import WRONG
from monitor.alarms.rules import rules
from monitor.engine.memory import Memories
from monitor.engine.snapshot import AlarmView, LoggerView, Snapshot
from monitor.engine.views import Figures, Moment

if TYPE_CHECKING:
    from collections.abc import Iterable

    from monitor.alarms.model import Alarm
    from monitor.engine.reading import Reading
    from monitor.engine.tallied import Tallied
    from monitor.show.model import Show


class Engine:
    """Everything known of one show at present.

    The same readings give the same Snapshots, however they are grouped. Knows no clock: ``now`` is an argument.
    """

    def __init__(self, show: Show) -> None:
        self.show = show
        self._figures = Figures(show)
        self._memories = Memories.for_points(show.points())

    def advance(
        self,
        readings: Iterable[Reading],
        now_ms: int,
        now_s: float,
        logger: LoggerView,
        alarms: Iterable[Alarm] = (),
    ) -> Snapshot:
        """Take ``readings`` and give the Snapshot of this moment: ``take`` and ``snapshot``."""
        self.take(readings)
        return self.snapshot(now_ms, now_s, logger, alarms)

    def take(self, readings: Iterable[Reading]) -> None:
        """Take readings in time order for each point; one read twice changes nothing."""
        self._memories.take(readings)

    def snapshot(
        self,
        now_ms: int,
        now_s: float,
        logger: LoggerView,
        alarms: Iterable[Alarm] = (),
        tallied: Tallied | None = None,
    ) -> Snapshot:
        """Give the Snapshot of this moment.

        Args:
            now_ms: the log's clock [ms since 1970 UTC].
            now_s: the monotonic clock that the readings' ``mono_s`` came from [s].
            logger: what is known of the logger.
            alarms: as the logger judged them, in the order in which they are to be shown.
            tallied: what the logger has added up; None where it is not known.

        """
        moment = Moment(self._figures, self._memories, now_s, tallied)
        views = tuple(map(alarm_view, alarms))
        return Snapshot(
            time_ms=now_ms,
            show_name=self.show.name,
            timezone=self.show.timezone,
            source=moment.source,
            feeders=moment.feeders,
            circuits=moment.circuits,
            wrong=tuple(view for view in views if view.state in WRONG),
            logger=logger,
            alarms=views,
            buses=moment.buses,
            told=tallied is not None,
            answers=() if tallied is None else tallied.answers,
        )


def alarm_view(alarm: Alarm) -> AlarmView:
    """Give what a screen may know of an alarm: its own words and those of its rule."""
    rule = rules()[alarm.code]
    return AlarmView(
        code=alarm.code,
        weight=alarm.priority,
        where=alarm.where,
        text=alarm.seen,
        since_ms=alarm.since_ms,
        state=alarm.state,
        means="; ".join(rule.means),
        do=rule.do,
        cannot_know=rule.unknown,
        folded=alarm.folded,
        who=alarm.who,
        why=alarm.why,
        until_ms=alarm.until_ms,
        changed_ms=alarm.changed_ms,
        told_ms=alarm.seen_ms,
    )
