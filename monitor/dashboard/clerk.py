"""Takes what a person asks to the desk and says what became of it: nothing is done before a Snapshot shows it."""

from __future__ import annotations

import uuid
from typing import TYPE_CHECKING

from monitor.alarms.lifecycle import State
from monitor.dashboard.needs import LATCHED, asks, find
from monitor.engine.requests import Kind, Request

if TYPE_CHECKING:
    from monitor.engine.requests import Desk
    from monitor.engine.snapshot import LoggerView, Snapshot

ANSWER_S = 5.0
_SHOWN = frozenset({"acknowledge", "shelve", "unshelve", "reset"})  # a Snapshot shows their effect; a note's it doesn't


class Clerk:
    """Hands in requests and follows them.

    Args:
        desk: where requests go; None where this screen can only watch.

    """

    def __init__(self, desk: Desk | None) -> None:
        self._desk = desk
        self._waiting: tuple[Request, ...] = ()
        self._unanswered: dict[str, Request] = {}

    @property
    def waiting(self) -> bool:
        """Whether the effect of a request is still waited for."""
        return bool(self._waiting)

    @property
    def can_ask(self) -> bool:
        """Whether there is a desk at all."""
        return self._desk is not None

    def why_not(self, logger: LoggerView) -> str:
        """Say why nothing can be asked now; empty where it can."""
        if self._desk is None:
            return "This screen can only watch: it can ask nothing of the logger."
        return "" if logger.running else "The logger has stopped: nobody would take this up. Start it, then ask again."

    def hand_in(self, logger: LoggerView, *requests: Request) -> str:
        """Hand in requests; give the sentence that says so, or why they could not be handed in."""
        if self._desk is None or self.why_not(logger):
            return self.why_not(logger)
        try:
            for request in requests:
                self._desk.ask(request)
        except OSError as error:
            reason = error.strerror or str(error) or type(error).__name__
            return f"Not handed in, the log's folder can't be written: {reason}. Ask whoever runs the logger."
        shown = tuple(request for request in requests if request.kind in _SHOWN)
        self._waiting += shown
        self._unanswered = {request.number: request for request in requests}
        if not shown:
            return f"asked: {_said(requests)}, as {requests[0].who}; only the log shows whether it was kept"
        return f"asked: {_said(requests)}, as {requests[0].who}; waiting for the logger"

    def answers(self, snapshot: Snapshot) -> str:
        """Give what the logger answered to what was handed in last, where no other part of the screen shows it.

        That is a refusal, and that something was written down; each is given once, empty where there is nothing new.
        """
        told = [answer for answer in snapshot.answers if answer.number in self._unanswered]
        asked = [(self._unanswered.pop(answer.number), answer) for answer in told]
        refused = {request.number: answer.text for request, answer in asked if not answer.done}
        self._waiting = tuple(request for request in self._waiting if request.number not in refused)
        texts = [*refused.values(), *(a.text for request, a in asked if a.done and request.kind not in _SHOWN)]
        more = f" And {len(texts) - 1} more: see the log (l)." if len(texts) > 1 else ""
        return f"{texts[0]}{more}" if texts else ""

    def follow(self, snapshot: Snapshot) -> bool:
        """Say whether the last that was still waiting shows in this Snapshot."""
        waited = bool(self._waiting)
        self._waiting = tuple(request for request in self._waiting if not _shows(request, snapshot))
        return waited and not self._waiting

    def overdue(self) -> str:
        """Give up waiting; say what shows no effect, empty where all of it does."""
        late, self._waiting = self._waiting, ()
        return f"No effect seen in {ANSWER_S:g} s of: {_said(late)}. Look at the list, then ask again." if late else ""


def make(kind: Kind, who: str, **parts: str | float) -> Request:
    """Make a request with a number of its own.

    Raises:
        ValueError: it can't be asked; in plain words.

    """
    return Request.from_data({"number": uuid.uuid4().hex, "kind": kind, "who": who, **parts})


def _shows(request: Request, snapshot: Snapshot) -> bool:
    alarm = find(snapshot, (request.code, request.where))
    match request.kind:
        case "acknowledge":
            return alarm is None or not asks(alarm)
        case "shelve":
            return alarm is not None and alarm.state == State.SHELVED
        case "unshelve":
            return alarm is None or alarm.state != State.SHELVED
        case _:
            return alarm is None or alarm.state not in LATCHED


def _said(requests: tuple[Request, ...]) -> str:
    first = requests[0]
    if len({request.kind for request in requests}) > 1:
        return f"{len(requests)} requests"
    if len(requests) > 1:
        return f"{first.kind} {len(requests)} alarms"
    if first.kind not in _SHOWN:
        return f"{first.kind} on {first.where}" if first.where else first.kind
    verb = "take off the shelf" if first.kind == "unshelve" else first.kind
    return f"{verb} {first.code} at {first.where}"
