"""``legwatch alarms``."""

from __future__ import annotations

import json
import textwrap
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from monitor.alarms.lifecycle import State
from monitor.alarms.rules import rules
from monitor.alarms.saying import became
from monitor.alarms.stats import stats
from monitor.cautions import SHORT
from monitor.cli.asking import is_running
from monitor.cli.errors import guarded
from monitor.cli.outputs import change_data
from monitor.cli.prose import say
from monitor.log.reader import LogReader
from monitor.review.times import clock, iso, moment
from monitor.show.loading import load_show_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from monitor.alarms.model import Alarm, AlarmChange
    from monitor.alarms.stats import Stats

WIDTH = 80
_LEAST = 0.01  # a figure below is only said to be


@click.command(epilog=SHORT)
@click.argument("log_file", metavar="LOG", type=click.Path(path_type=Path))
@click.option("--history", is_flag=True, help="Every change of every alarm, with who and when.")
@click.option("--stats", "counting", is_flag=True, help="How many there were, beside published guidance.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@guarded
def command(log_file: Path, *, history: bool, counting: bool, as_json: bool) -> None:
    """List the alarms that stand in LOG: what is seen, what it may mean, what to do, what it can't know.

    Alarms are named by their CODE and WHERE, as `legwatch ack` and `legwatch shelve` take them.
    """
    with LogReader(log_file) as reader:
        zone = load_show_text(reader.latest_show(), str(log_file), with_maps=False).timezone
        changes = reader.alarm_changes()
        standing = reader.alarms()
        begin_ms, end_ms = reader.first_time_ms() or 0, reader.last_time_ms() or 0
        running = is_running(reader)
    if counting:
        counted = stats(changes, begin_ms, end_ms)
        lines = (
            [json.dumps(_stats_data(counted, zone), indent=1, ensure_ascii=False)]
            if as_json
            else _counted(counted, zone)
        )
        for line in lines:
            click.echo(line)
        return
    if as_json:
        if history:
            rows = [change_data(change, zone) for change in changes]
        else:
            rows = [_data(alarm, changes, zone) for alarm in standing]
        click.echo(json.dumps({"logger_running": running, "alarms": rows}, indent=1, ensure_ascii=False))
        return
    if not running:
        last = moment(end_ms, zone) if end_ms else "no reading"
        click.echo(f"No logger writes this log now: it is as it was left. Last reading: {last}\n")
    lines = _history(changes, zone) if history else _standing(standing, zone)
    for line in lines:
        click.echo(line)
    click.echo()
    say(SHORT)


def _stats_data(counted: Stats, zone: str) -> dict[str, Any]:
    data = asdict(counted)
    for part in (data, *data["floods"]):
        part |= {end: iso(part.pop(f"{end}_ms"), zone) for end in ("begin", "end")}
    return data


def _data(alarm: Alarm, changes: list[AlarmChange], zone: str) -> dict[str, object]:
    newest = next(c for c in reversed(changes) if (c.alarm.code, c.alarm.where) == (alarm.code, alarm.where))
    rule = rules().get(alarm.code)
    words = {"means": list(rule.means), "do": rule.do, "cannot_know": rule.unknown} if rule else {}
    return {**change_data(newest, zone), **words}


def _standing(alarms: tuple[Alarm, ...], zone: str) -> Iterator[str]:
    if not alarms:
        yield "No alarm stands."
    for alarm in alarms:
        yield f"{alarm.code} {alarm.where}  {alarm.priority}, {alarm.state}, since {moment(alarm.since_ms, zone)}"
        yield from _wrapped(f"{_when(alarm, zone)}: {alarm.seen}")
        rule = rules().get(alarm.code)
        if rule is not None:
            yield from _wrapped(f"It may mean: {'; '.join(rule.means)}.")
            yield from _wrapped(f"{'Was due' if alarm.state == State.RETURNED else 'Do now'}: {rule.do}")
            yield from _wrapped(f"Not known: {rule.unknown}")
        if alarm.folded:
            yield from _wrapped(f"It explains: {'; '.join(alarm.folded)}")
        if alarm.who:
            until = "" if alarm.until_ms is None else f" until {moment(alarm.until_ms, zone)}"
            yield from _wrapped(f"By {alarm.who}{until}{': ' + alarm.why if alarm.why else ''}")
        yield ""


def _when(alarm: Alarm, zone: str) -> str:
    """Say of when the words of an alarm are: the log has them as they were at its last change."""
    if alarm.seen_ms is None:
        return f"Before {clock(alarm.changed_ms, zone)}"
    return f"At {clock(alarm.seen_ms, zone)}"


def _history(changes: list[AlarmChange], zone: str) -> Iterator[str]:
    if not changes:
        yield "No alarm was ever raised."
    for change in changes:
        alarm = change.alarm
        by = f", by {alarm.who}" if alarm.who else ""
        why = f" ({alarm.why})" if alarm.why else ""
        yield f"{moment(change.time_ms, zone)}  {alarm.code} {alarm.where}: {became(change)}{by}{why}"
        yield from _wrapped(alarm.seen)


def _counted(counted: Stats, zone: str) -> Iterator[str]:
    hours = (counted.end_ms - counted.begin_ms) / 3_600_000
    long = f"{hours:.1f} h" if hours >= 1 else f"{60 * hours:.0f} min"
    yield f"{counted.alarms} alarms in {long}, from {moment(counted.begin_ms, zone)}"
    for figure in counted.figures:
        value = "not known" if figure.value is None else f"{_short(figure.value)} {figure.unit}"
        verdict = {True: "within", False: "outside", None: figure.why_not or "no verdict"}[figure.within]
        yield from _wrapped(f"{figure.name}: {value}; {verdict}. Guidance: {figure.guidance} [{figure.source}]")
    for flood in counted.floods:
        over = "" if flood.over else ", not over yet"
        yield f"flood: {flood.alarms} alarms, {moment(flood.begin_ms, zone)} to {moment(flood.end_ms, zone)}{over}"
    for name, places in (("chattering", counted.chattering), ("stale", counted.stale)):
        for code, where in places:
            yield f"{name}: {code} {where}"
    for cause in counted.top:
        yield f"{cause.times:>5} x {cause.code} {cause.where} ({cause.percent:.0f} %)"


def _short(value: float) -> str:
    return f"under {_LEAST:g}" if 0 < value < _LEAST else f"{value:.3g}"


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent="    ", subsequent_indent="      ", break_on_hyphens=False)
