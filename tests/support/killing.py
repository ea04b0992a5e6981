"""Loggers that are killed at any moment, and what their log then holds."""

from __future__ import annotations

import random
import sqlite3
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tests.support.loggers import Logger

if TYPE_CHECKING:
    from pathlib import Path

_LONGEST_S = 1.5
_AROUND_S = (-0.01, 0.05)  # of a whole second, when a cycle is committed


@dataclass
class Killed:
    """What many kills left.

    Attributes:
        kills: how many.
        acknowledged: readings that were in the log, by its own word, when the process was killed.
        lost: of those, not there afterwards.
        torn: polls of which a part is there.
        damaged: logs whose integrity check fails.
        ready_s: longest time from the start of the next logger to its first committed cycle [s].

    """

    kills: int = 0
    acknowledged: int = 0
    lost: int = 0
    torn: int = 0
    damaged: int = 0
    ready_s: float = 0.0

    def add(self, other: Killed) -> None:
        """Count another's in."""
        self.kills += other.kills
        self.acknowledged += other.acknowledged
        self.lost += other.lost
        self.torn += other.torn
        self.damaged += other.damaged
        self.ready_s = max(self.ready_s, other.ready_s)


def kill_many(show: Path, folder: Path, side_by_side: int, each: int, seed: int = 0) -> Killed:
    """Kill ``side_by_side`` loggers of one show ``each`` times, each on a log of its own that the next goes on with."""
    found = Killed()
    with ThreadPoolExecutor(side_by_side) as threads:
        for part in threads.map(lambda n: _kills(show, folder / str(n), each, seed + n), range(side_by_side)):
            found.add(part)
    return found


def _kills(show: Path, folder: Path, times: int, seed: int) -> Killed:
    chance, found = random.Random(seed), Killed()
    folder.mkdir()
    log = folder / "log.sqlite"
    for _ in range(times):
        with Logger(folder, "log", show, "--log", log) as logger:
            found.ready_s = max(found.ready_s, logger.ready())
            count, last_ms = _follow(logger, log, _moment(chance))
            logger.kill()
        found.kills += 1
        found.acknowledged += count
        found.lost += count - _rows(log, last_ms)[0]
    with Logger(folder, "log", show, "--log", log) as logger:
        found.ready_s = max(found.ready_s, logger.ready())
        logger.end()
    db = sqlite3.connect(log)
    found.damaged += db.execute("PRAGMA integrity_check").fetchall() != [("ok",)]
    torn = "SELECT count(*) FROM (SELECT 1 FROM reading GROUP BY time_ms HAVING count(*) != 2)"
    found.torn += db.execute(torn).fetchone()[0]  # one poll reads both points
    db.close()
    return found


def _moment(chance: random.Random) -> float:
    """Choose when to kill: at any time, or about when a cycle is being committed [s, wall clock]."""
    at = time.time() + chance.uniform(0.0, _LONGEST_S)
    return round(at) + chance.uniform(*_AROUND_S) if chance.random() < 0.5 else at


def _follow(logger: Logger, log: Path, until_s: float) -> tuple[int, int]:
    """Look into the log at each sign of life until the moment has come; give readings and newest time seen last."""
    seen = _rows(log)
    while (left_s := until_s - time.time()) > 0:
        if "WATCHDOG=1" in logger.heard(left_s):
            seen = _rows(log)
    return seen


def _rows(log: Path, up_to_ms: int | None = None) -> tuple[int, int]:
    db = sqlite3.connect(f"file:{log}?mode=ro", uri=True)
    limit = 2**62 if up_to_ms is None else up_to_ms
    count, last_ms = db.execute("SELECT count(*), max(time_ms) FROM reading WHERE time_ms <= ?", (limit,)).fetchone()
    db.close()
    return count, last_ms or 0
