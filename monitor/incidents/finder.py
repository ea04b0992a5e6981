"""Finds steps and incidents, one moment after another; pure, bounded in memory, the same however readings come."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.alarms.conditions.layout import lay_out
from monitor.incidents.cases import Register
from monitor.incidents.circuits import Circuits
from monitor.incidents.lastly import last_on
from monitor.incidents.levels import Levels
from monitor.incidents.losses import Losses
from monitor.incidents.model import Found, Kind
from monitor.incidents.neutrals import Neutrals
from monitor.incidents.prime import Prime
from monitor.incidents.runs import Runs
from monitor.incidents.services import Services
from monitor.incidents.silences import Silences
from monitor.incidents.traces import Board

if TYPE_CHECKING:
    from collections.abc import Iterable

    from monitor.alarms.model import Now
    from monitor.incidents.cases import Case
    from monitor.incidents.model import FoundStep, Incident
    from monitor.show.model import Show

_NOTHING = Found()


class IncidentFinder:
    """Finds what happens to one show.

    Args:
        show: with its places, meters and plan.
        next_number: of the next incident in this log.

    """

    def __init__(self, show: Show, next_number: int = 1) -> None:
        layout = lay_out(show)
        board = self._board = Board(layout)
        register = self._register = Register(next_number)
        self._circuits = Circuits(board, layout.circuits, show.source.system)
        self._prime = Prime(layout, board, register)
        self._neutrals = Neutrals(layout, board, register)
        self._losses = Losses(layout, board, self._circuits, register)
        self._services = Services(layout, board, register)
        self._runs = Runs(layout, board, register)
        self._levels = Levels(layout, board, register, self._runs)
        self._silences = Silences(layout, board, register, self._circuits)

    def adopt(self, known: Iterable[Incident]) -> None:
        """Take incidents that the log already holds, oldest first; before any moment: none of them is told as new."""
        self._register.adopt(known)

    def observe(self, now: Now) -> Found:
        """Take one whole second, and give what it settles."""
        board, register = self._board, self._register
        board.take(now)
        if board.resumed:
            register.pause()
        if register.first_ms is None:
            register.first_ms = now.time_ms
        steps = self._circuits.observe(board)
        self._prime.observe()
        self._neutrals.observe()
        self._take(self._losses.observe(hold=self._neutrals.suspects))
        coming = self._prime.coming
        self._services.observe(coming=coming)
        self._levels.observe(coming=coming, waits=self._losses.waits or self._neutrals.suspects)
        self._silences.observe(waits=self._losses.waits)
        self._runs.observe()
        if not steps and not register.stirred:
            return _NOTHING
        return self._found(steps)

    def finish(self) -> Found:
        """Settle what waits for more readings: none will come, or not for long."""
        steps = self._circuits.finish()
        self._take(self._losses.finish())
        return self._found(steps)

    def _take(self, lost: Iterable[Case]) -> None:
        for case in lost:
            joined = self._prime.stopped(case) if case.kind is Kind.SOURCE_STOPPED else case
            if joined is not None:
                self._register.open(joined)
                self._losses.follow(joined)

    def _found(self, steps: tuple[FoundStep, ...]) -> Found:
        for case in self._register.fresh():
            case.last_on, case.last_on_planned = last_on(case, self._circuits)
        return Found(steps, self._register.take())
