"""The counter where requests are served: each is carried out or refused, and either way stands in the log."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.alarms.judge import CannotDo
from monitor.engine.events import Event
from monitor.log.problems import LogProblem

if TYPE_CHECKING:
    from monitor.alarms.model import AlarmChange
    from monitor.engine.requests import Request
    from monitor.engine.watch import Watch
    from monitor.log.writer import LogWriter

DONE, REFUSED = "request-done", "request-refused"
_MINUTE_MS = 60_000
_SAID = {
    "acknowledge": "acknowledged",
    "shelve": "shelved",
    "unshelve": "took off the shelf",
    "reset": "reset",
    "note": "noted",
    "refuel": "noted a refuel of",
    "handheld": "measured by hand",
}


def serve(
    request: Request, watch: Watch, writer: LogWriter | None, time_ms: int
) -> tuple[Event, tuple[AlarmChange, ...]]:
    """Carry out a request at ``time_ms`` [ms, the log's clock]; without ``writer`` notes are refused."""
    try:
        changes = _carry_out(request, watch, writer, time_ms)
    except (CannotDo, LogProblem) as problem:
        return _event(REFUSED, request, f"{request.who}'s request is refused: {problem}", time_ms), ()
    what = f"{request.amount:g} {request.quantity}" if request.amount is not None else request.code
    about = " at ".join(part for part in (what, request.where) if part)
    text = f"{request.who} {_SAID[request.kind]}" + (f" {about}" if about else "")
    return _event(DONE, request, text + (f": {request.text}" if request.text else ""), time_ms), changes


def refused(reason: str, time_ms: int) -> Event:
    """Tell of a file that is no request."""
    return Event(time_ms, REFUSED, "", reason)


def _carry_out(request: Request, watch: Watch, writer: LogWriter | None, time_ms: int) -> tuple[AlarmChange, ...]:
    code, where, who, judge = request.code, request.where, request.who, watch.judge
    match request.kind:
        case "acknowledge":
            return judge.acknowledge(code, where, who, time_ms)
        case "shelve":
            until_ms = time_ms + round((request.minutes or 0.0) * _MINUTE_MS)
            return judge.shelve(code, where, who, request.text, until_ms, time_ms)
        case "unshelve":
            return judge.unshelve(code, where, who, time_ms)
        case "reset":
            return judge.reset(code, where, who, time_ms)
        case kind:
            if writer is None:
                raise LogProblem("other", "an earlier write to the log has not ended; ask again")
            quantity = request.quantity or None
            writer.note(time_ms, who, request.text, kind=kind, place=where, number=request.amount, quantity=quantity)
            if kind == "refuel" and request.amount is not None:
                watch.conditions.refuel(request.amount, time_ms)
            return ()


def _event(kind: str, request: Request, text: str, time_ms: int) -> Event:
    return Event(time_ms, kind, request.where, text, {"request": request.number, "who": request.who})
