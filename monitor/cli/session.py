"""What the commands that run for a while share: a recorder, an end, and lines for machines."""

from __future__ import annotations

import atexit
import json
import signal
import threading
from typing import TYPE_CHECKING

import click

from monitor.dashboard.plain import snapshot_json, snapshot_lines
from monitor.electrical.fuel import source_faults

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from monitor.engine.feed import Feed
    from monitor.engine.snapshot import Snapshot
    from monitor.recorder.recorder import Recorder
    from monitor.show.model import Show

PERIOD_S = 1.0
_ENDS = (signal.SIGINT, signal.SIGTERM)


def default_log(show_path: Path) -> Path:
    """Give the log's place when none is named: beside the show file, under its name."""
    return show_path.with_suffix(".sqlite")


def tell_fuel(show: Show) -> None:
    """Tell at the start of a logger that fuel can't be watched, and why."""
    for text in source_faults(show.source):
        click.echo(f"fuel is not watched: {text}", err=True)


class Ending(threading.Event):
    """Set by Ctrl-C or by the service manager's SIGTERM; further ones change nothing, up to the process's last moment.

    Python puts the default handlers back while it ends: a second SIGTERM would kill what has ended in order.
    """

    def __init__(self) -> None:
        super().__init__()
        for number in _ENDS:
            signal.signal(number, lambda *_: self.set())
        atexit.register(_ignore)

    def every(self, period_s: float, seconds: float | None, action: Callable[[], None]) -> None:
        """Call ``action`` every ``period_s`` [s] until set, or for ``seconds`` [s]."""
        left = seconds
        while not self.wait(period_s if left is None else min(period_s, max(left, 0.0))):
            action()
            if left is not None:
                left -= period_s
                if left <= 0:
                    return


def _ignore() -> None:
    for number in _ENDS:
        signal.signal(number, signal.SIG_IGN)


def print_snapshots(feed: Feed, ending: Ending, seconds: float | None, *, as_json: bool) -> None:
    """Print the state once a second: a block of plain lines, or one JSON object a line."""

    def show() -> None:
        write(feed.snapshot(), as_json=as_json)

    ending.every(PERIOD_S, seconds, show)


def write(snapshot: Snapshot, *, as_json: bool) -> None:
    """Print one Snapshot."""
    if as_json:
        click.echo(json.dumps(snapshot_json(snapshot), ensure_ascii=False))
    else:
        click.echo("\n".join((*snapshot_lines(snapshot), "")))


class ChangesOnly:
    """Prints what begins and ends to be wrong, one line each: what a service's journal should hold."""

    def __init__(self, recorder: Recorder) -> None:
        self._recorder = recorder
        self._known: dict[tuple[str, str], str] = {}
        self._problem = ""

    def __call__(self) -> None:
        """Look once."""
        alarms, logger = self._recorder.standing()
        now = {(alarm.code, alarm.where): alarm.seen for alarm in alarms}
        for key in now.keys() - self._known.keys():
            click.echo(f"begins: {now[key]}")
        for key in self._known.keys() - now.keys():
            click.echo(f"ends: {self._known[key]}")
        if logger.problem != self._problem:
            self._problem = logger.problem
            click.echo(f"log: {self._problem or 'written again'}", err=bool(self._problem))
        self._known = now
