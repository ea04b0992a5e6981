"""Handing a request to the logger of a log, and waiting for what it says."""

from __future__ import annotations

import os
import uuid
from time import sleep
from typing import TYPE_CHECKING

import click

from drivers.clock import monotonic, now
from monitor.cli.errors import FOUND_WRONG, fail
from monitor.engine.requests import Kind, Request
from monitor.log.problems import LogProblem
from monitor.log.reader import LogReader
from monitor.log.writer import LogWriter
from monitor.recorder.counter import DONE, REFUSED
from monitor.recorder.inbox import folder_of, post
from monitor.show.loading import load_show_text
from monitor.show.model import SOURCE_ID

if TYPE_CHECKING:
    from pathlib import Path

    from drivers.clock import Instant
    from monitor.engine.events import Event
    from monitor.show.model import Show

ANSWER_S = 6.0
SIGN_OF_LIFE_S = 5.0
_LOOK_S = 0.1


def make(kind: Kind, who: str, **parts: str | float | None) -> Request:
    """Make a request with a number of its own; leave with 2 where it can't be one."""
    try:
        return Request.from_data({"number": uuid.uuid4().hex, "kind": kind, "who": who, **parts})
    except ValueError as error:
        fail(f"legwatch: nothing was written: {error}")


def ask(log: Path, requests: list[Request]) -> None:
    """Hand in requests, wait for every answer and print it; leave with 1 where one is refused or none comes."""
    with LogReader(log) as reader:
        if not is_running(reader):
            fail(f"legwatch: no logger is running on {log}; its alarms stand as it left them", FOUND_WRONG)
        seen = max((number for number, _ in reader.events_after(0)), default=0)
        try:
            for request in requests:
                post(log, request)
        except PermissionError:
            fail(f"legwatch: nothing was written: {_who_may(log, folder_of(log))}")
        except OSError as error:
            fail(f"legwatch: not all is handed in: {folder_of(log)}: {error.strerror}; look at its disk")
        answers = _answers(reader, seen, {request.number for request in requests})
    for answer in answers:
        click.echo(answer.text, err=answer.kind == REFUSED)
    if len(answers) < len(requests):
        fail(f"legwatch: the logger of {log} gave no answer within {ANSWER_S:g} s; look again", FOUND_WRONG)
    if any(answer.kind == REFUSED for answer in answers):
        raise SystemExit(FOUND_WRONG)


def is_running(reader: LogReader) -> bool:
    """Say whether a logger has shown a sign of life just now."""
    state = reader.writer_state()
    return state.running and now().wall_ms + state.offset_ms - state.alive_ms <= SIGN_OF_LIFE_S * 1000


def enter(log: Path, request: Request) -> None:
    """Hand in a note of any kind; where no logger runs, write it into the log ourselves."""
    with LogReader(log) as reader:
        running, text = is_running(reader), reader.latest_show()
    show = load_show_text(text, str(log), with_maps=False)
    places = (SOURCE_ID, *(feeder.id for feeder in show.feeders), *(circuit.id for circuit in show.circuits))
    if request.where and request.where.partition("/")[0] not in places:
        fail(f"legwatch: nothing was written: nothing is called {request.where}; known here: {', '.join(places)}")
    tank = 0.0 if show.source.fuel is None else show.source.fuel.tank_litres or 0.0
    if request.kind == "refuel" and tank and (request.amount or 0.0) > tank:
        why = f"{request.amount:g} litres are more than the tank of {tank:g} l that the show file gives"
        fail(f"legwatch: nothing was written: {why}; look at the figure, or write it down with `legwatch note`")
    if running:
        ask(log, [request])
        return
    at = now()
    with _opened(log, show, at) as writer:
        time_ms = writer.timeline.stamp(at)[0]
        writer.note(
            time_ms,
            request.who,
            request.text,
            kind=request.kind,
            place=request.where,
            number=request.amount,
            quantity=request.quantity or None,
        )
    click.echo("written; no logger is running on this log")


def _opened(log: Path, show: Show, at: Instant) -> LogWriter:
    try:
        return LogWriter.open(log, show, at)
    except LogProblem as problem:
        if problem.kind in ("no-permission", "read-only"):
            place = log if problem.kind == "read-only" else log.parent
            fail(f"legwatch: nothing was written: {_who_may(log, place)}")
        raise


def _who_may(log: Path, place: Path) -> str:
    """Say that ``place`` can't be written by this user, and who may."""
    try:
        if os.statvfs(log.parent).f_flag & os.ST_RDONLY:
            return f"{log} lies on a disk that is read-only now: look at it, and note on paper meanwhile"
        owner = log.owner()
    except (OSError, KeyError):
        owner = "the user who runs the logger"
    return f"this user may not write {place}; do it as {owner}, whose log it is"


def _answers(reader: LogReader, seen: int, numbers: set[str]) -> list[Event]:
    found: dict[str, Event] = {}
    until = monotonic() + ANSWER_S
    while monotonic() < until and len(found) < len(numbers):
        sleep(_LOOK_S)
        try:
            fresh = reader.events_after(seen)
        except LogProblem:
            continue
        for number, event in fresh:
            seen = number
            if event.kind in (DONE, REFUSED) and event.data.get("request") in numbers:
                found[str(event.data["request"])] = event
    return list(found.values())
