"""The journal of alarms: written with its cycle, read back as it was."""

from __future__ import annotations

import sqlite3
from dataclasses import replace
from typing import TYPE_CHECKING

from monitor.alarms.model import Alarm, AlarmChange, Priority
from monitor.log.reader import LogReader
from tests.monitor.log.logs import BEGIN_MS, instant, opened

if TYPE_CHECKING:
    from pathlib import Path

ALARM = Alarm(
    code="volts-low",
    where="A1",
    priority=Priority.HIGH,
    state="unacknowledged",
    since_ms=BEGIN_MS - 9_000,
    changed_ms=BEGIN_MS,
    seen="A1 reads 108.0 V, below 114.0 V",
    value=108.0,
    limit=114.0,
    folded=("A2 reads 109.0 V",),
)


def change(alarm: Alarm, before: str, second: int) -> AlarmChange:
    """Give a change at a second after the start."""
    time_ms = BEGIN_MS + 1000 * second
    return AlarmChange(time_ms, replace(alarm, changed_ms=time_ms), before)


def test_changes_come_back_as_they_were(tmp_path: Path) -> None:
    """Every field of every change, in order; the last state of each alarm that is not normal."""
    acked = replace(ALARM, state="acknowledged", who="Ada")
    other = replace(ALARM, code="hertz-low", where="source", state="shelved", why="known", until_ms=BEGIN_MS + 60_000)
    gone = replace(ALARM, where="A9", state="normal", value=None, folded=())
    changes = [change(ALARM, "normal", 1), change(other, "normal", 1), change(gone, "acknowledged", 2)]
    changes.append(change(acked, "unacknowledged", 3))
    path = tmp_path / "log.sqlite"
    with opened(path) as writer:
        writer.write_cycle((), (), instant(1), changes[:2])
        writer.write_cycle((), (), instant(2), changes[2:])
    with LogReader(path) as reader:
        assert reader.alarm_changes() == changes
        assert reader.alarm_changes(BEGIN_MS + 2000) == changes[2:]
        assert reader.alarms() == (changes[1].alarm, changes[3].alarm)
    with sqlite3.connect(path) as db:
        seen = db.execute("SELECT time_utc, code, who, why, until_utc FROM alarms WHERE code = 'hertz-low'").fetchall()
    assert seen == [("2026-09-21T14:14:01.000Z", "hertz-low", None, "known", "2026-09-21T14:15:00.000Z")]


def test_only_a_raise_says_when_its_words_were_seen(tmp_path: Path) -> None:
    """With an acknowledgement or a return the words are those of before: when they were seen is not known."""
    path = tmp_path / "log.sqlite"
    acked = replace(ALARM, state="acknowledged", who="Ada")
    with opened(path) as writer:
        writer.write_cycle((), (), instant(1), [change(ALARM, "normal", 1), change(acked, "unacknowledged", 9)])
    with LogReader(path) as reader:
        raised, answered = reader.alarm_changes()
    assert raised.alarm.seen_ms == BEGIN_MS + 1000
    assert answered.alarm.seen_ms is None
