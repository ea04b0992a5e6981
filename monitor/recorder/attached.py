"""A feed from a log that another process writes: the same Snapshots, from the file."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from drivers.clock import now
from monitor.engine.fold import Engine
from monitor.engine.snapshot import LoggerView, Snapshot
from monitor.log.problems import LogProblem
from monitor.log.reader import LogReader
from monitor.recorder.inbox import post
from monitor.recorder.live import read_live
from monitor.show.loading import load_show_text

if TYPE_CHECKING:
    from pathlib import Path

    from monitor.engine.requests import Request
    from monitor.log.reader import WriterState
    from monitor.recorder.live import Live
    from monitor.show.model import Show

LOOK_BACK_MS = 10_000  # buses commit side by side: rows a little older than the newest may still come
FIRST_LOOK_MS = 60_000
STOPPED_AFTER_S = 5.0  # no sign of life for this long: the logger is taken as stopped


class AttachedFeed:
    """Reads a log again and again and folds what is new.

    Raises:
        LogProblem: on making: the log can't be read, or holds no show yet.

    """

    def __init__(self, log_path: Path) -> None:
        self.log_path = log_path
        self._reader = LogReader(log_path)
        self._text = ""
        self._last: Snapshot | None = None
        self._load()

    def _load(self) -> None:
        """Start afresh when the show in the log is another than before."""
        text = self._reader.latest_show()
        if text == self._text:
            return
        self._text = text
        self.show: Show = load_show_text(text, str(self.log_path), (), with_maps=False)
        self._engine = Engine(self.show)
        self._seen_ms: int | None = None

    def snapshot(self) -> Snapshot:
        """Give the newest Snapshot (see ``monitor.engine.feed.Feed``); a log that can't be read now is told."""
        try:
            self._last = self._read()
        except LogProblem as problem:
            if self._last is None:
                raise
            logger = replace(self._last.logger, running=False, problem=str(problem))
            self._last = replace(self._last, logger=logger)
        return self._last

    def _read(self) -> Snapshot:
        self._load()
        state = self._reader.writer_state()
        now_ms = now().wall_ms + state.offset_ms
        live = self._live(state, now_ms)
        newest = self._reader.last_time_ms()
        since = (newest or now_ms) - FIRST_LOOK_MS if self._seen_ms is None else self._seen_ms - LOOK_BACK_MS
        readings = self._reader.readings_since(since)
        self._seen_ms = newest
        logger = self._logger(state, live, now_ms)
        self._engine.take(readings)
        tallied = None if live is None else live.tallied
        return self._engine.snapshot(now_ms, now_ms / 1000.0, logger, self._reader.alarms(), tallied)

    def _live(self, state: WriterState, now_ms: int) -> Live | None:
        """Give what the log's own logger says now beside the log; None where it says nothing, or another one did."""
        live = read_live(self.log_path)
        if live is None or (live.since_ms, live.pid) != (state.since_ms, state.pid):
            return None
        return live if now_ms - live.alive_ms <= STOPPED_AFTER_S * 1000 else None

    def _logger(self, state: WriterState, live: Live | None, now_ms: int) -> LoggerView:
        """Say how the logger is: the newer sign of life counts, that in the log or that beside it."""
        written_s = max(0.0, (now_ms - state.alive_ms) / 1000.0)
        alive_s = written_s if live is None else min(written_s, max(0.0, (now_ms - live.alive_ms) / 1000.0))
        running = state.running and alive_s <= STOPPED_AFTER_S
        problem = live.problem if live is not None and running else ""
        return LoggerView(
            running=running,
            last_commit_age_s=written_s,
            not_kept=live.not_kept if live is not None and problem else 0,
            problem=problem,
            log_path=str(self.log_path),
            cut_off=bool(problem) and written_s > STOPPED_AFTER_S,
        )

    def ask(self, request: Request) -> None:
        """Hand a request to the logger (see ``monitor.engine.requests.Desk``)."""
        post(self.log_path, request)
