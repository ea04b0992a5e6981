"""Where alarms and events go besides the log: a user's program, a stream of JSON lines."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import click

from monitor.cli.errors import fail
from monitor.recorder.alarm_program import AlarmProgram
from monitor.review.times import iso

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from monitor.alarms.model import AlarmChange
    from monitor.engine.events import Event

    Tell = Callable[[tuple[Event, ...], tuple[AlarmChange, ...]], None]


def outputs(program: Path | None, report: Callable[[str], None], timezone: str, *, stream: bool) -> Tell | None:
    """Give what the recorder is to call each cycle; None where nothing is wanted.

    Args:
        program: to run on alarms, or None.
        report: takes a sentence when the program fails.
        timezone: of the show, for the times in the stream.
        stream: print events and alarm changes as JSON lines.

    """
    try:
        runner = AlarmProgram(program, report) if program else None
    except ValueError as error:
        fail(f"legwatch: --on-alarm: {error}")
    if runner is None and not stream:
        return None

    def tell(events: tuple[Event, ...], changes: tuple[AlarmChange, ...]) -> None:
        if runner is not None:
            runner.tell(changes)
        if stream:
            for event in events:
                click.echo(json.dumps(event_data(event, timezone), ensure_ascii=False))
            for change in changes:
                click.echo(json.dumps(change_data(change, timezone), ensure_ascii=False))

    return tell


def event_data(event: Event, timezone: str) -> dict[str, Any]:
    """Give an event as plain data; times in the show's zone."""
    return {
        "type": "event",
        "time": iso(event.time_ms, timezone),
        "kind": event.kind,
        "where": event.where,
        "text": event.text,
        "data": dict(event.data),
    }


def change_data(change: AlarmChange, timezone: str) -> dict[str, Any]:
    """Give a change of an alarm as plain data; times in the show's zone."""
    alarm = change.alarm
    return {
        "type": "alarm",
        "time": iso(change.time_ms, timezone),
        "code": alarm.code,
        "where": alarm.where,
        "priority": alarm.priority.value,
        "before": change.before,
        "state": alarm.state,
        "since": iso(alarm.since_ms, timezone),
        "text": alarm.seen,
        "seen": None if alarm.seen_ms is None else iso(alarm.seen_ms, timezone),
        "value": alarm.value,
        "limit": alarm.limit,
        "folded": list(alarm.folded),
        "who": alarm.who or None,
        "why": alarm.why or None,
        "until": None if alarm.until_ms is None else iso(alarm.until_ms, timezone),
    }
