"""A program of the user's, run when an alarm changes: a lamp, a radio, a message.

What is told goes as arguments, never through a shell. One run at a time, in a thread of its own, with a time limit; a
program that is slow or fails holds up neither polling nor the log, and what went wrong is told.
"""

from __future__ import annotations

import os
import queue
import subprocess
import threading
from datetime import UTC, datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from pathlib import Path

    from monitor.alarms.model import AlarmChange

LIMIT_S = 10.0
WAITING_MAX = 100


class AlarmProgram:
    """Runs ``program STATE PRIORITY CODE WHERE TIME SENTENCE`` for each change of an alarm's state.

    Args:
        program: path of an executable.
        report: called with a plain sentence when a run fails; from this program's thread.
        limit_s: time after which a run is ended [s].

    Raises:
        ValueError: there is no such executable.

    """

    def __init__(self, program: Path, report: Callable[[str], None], limit_s: float = LIMIT_S) -> None:
        if not os.access(program, os.X_OK) or program.is_dir():
            raise ValueError(f"{program} is no program that can be run: give the path of an executable file")
        self._program, self._report, self._limit_s = program.resolve(), report, limit_s
        self._waiting: queue.Queue[AlarmChange] = queue.Queue(WAITING_MAX)
        self._thread = threading.Thread(target=self._run, name="alarm-program", daemon=True)
        self._thread.start()

    def tell(self, changes: Iterable[AlarmChange]) -> None:
        """Queue a run for each change of state; where too many wait, the newest is told as not run."""
        for change in changes:
            if change.before == change.alarm.state:
                continue
            try:
                self._waiting.put_nowait(change)
            except queue.Full:
                self._report(f"{self._program} is too slow: not run for {change.alarm.code} at {change.alarm.where}")

    def _run(self) -> None:
        while True:
            self._run_once(self._waiting.get())

    def _run_once(self, change: AlarmChange) -> None:
        alarm = change.alarm
        time = datetime.fromtimestamp(change.time_ms / 1000, UTC).isoformat(timespec="seconds")
        words = [str(self._program), alarm.state, alarm.priority.value, alarm.code, alarm.where, time, alarm.seen]
        try:
            done = subprocess.run(  # noqa: S603 - arguments are data, no shell
                words, stdin=subprocess.DEVNULL, capture_output=True, timeout=self._limit_s, check=False
            )
        except subprocess.TimeoutExpired:
            self._report(f"{self._program} took more than {self._limit_s:g} s and was ended")
        except OSError as error:
            self._report(f"{self._program} can't be run: {error.strerror}")
        else:
            if done.returncode:
                self._report(f"{self._program} ended with code {done.returncode}")
