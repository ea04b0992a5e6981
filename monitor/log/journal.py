"""The journal of alarms: each change of state as a row; the last row of a code and place is its state."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from monitor.alarms.lifecycle import State
from monitor.alarms.model import Alarm, AlarmChange, Priority

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterable

_COLUMNS = "time_ms, before, code, place, priority, state, since_ms, who, why, until_ms, value, threshold, text, folded"
CHANGES = f"SELECT {_COLUMNS} FROM alarm WHERE time_ms >= ? AND time_ms < ? ORDER BY id"  # noqa: S608 - fixed names
NEWEST = f"SELECT {_COLUMNS} FROM alarm ORDER BY id DESC LIMIT ?"  # noqa: S608 - fixed names
STANDING = (
    f"SELECT {_COLUMNS} FROM alarm WHERE state != 'normal'"  # noqa: S608 - fixed names
    " AND id IN (SELECT max(id) FROM alarm GROUP BY code, place) ORDER BY id"
)


def write_changes(db: sqlite3.Connection, changes: Iterable[AlarmChange]) -> None:
    """Insert a row a change. Writes; the caller's transaction."""
    marks = ", ".join("?" * (_COLUMNS.count(",") + 1))
    db.executemany(f"INSERT INTO alarm ({_COLUMNS}) VALUES ({marks})", map(_row, changes))  # noqa: S608 - fixed names


def _row(change: AlarmChange) -> tuple[Any, ...]:
    alarm = change.alarm
    return (
        change.time_ms,
        change.before,
        alarm.code,
        alarm.where,
        alarm.priority.value,
        alarm.state,
        alarm.since_ms,
        alarm.who or None,
        alarm.why or None,
        alarm.until_ms,
        alarm.value,
        alarm.limit,
        alarm.seen,
        json.dumps(alarm.folded, ensure_ascii=False),
    )


def read_change(row: tuple[Any, ...]) -> AlarmChange:
    """Give the change of a row of ``CHANGES`` or ``STANDING``."""
    time_ms, before, code, where, priority, state, since_ms, who, why, until_ms, value, limit, seen, folded = row
    alarm = Alarm(
        code=code,
        where=where,
        priority=Priority(priority),
        state=state,
        since_ms=since_ms,
        changed_ms=time_ms,
        seen=seen,
        value=value,
        limit=limit,
        folded=tuple(json.loads(folded)),
        who=who or "",
        why=why or "",
        until_ms=until_ms,
        seen_ms=time_ms if _raised(before, state) else None,
    )
    return AlarmChange(time_ms, alarm, before)


def _raised(before: str, state: str) -> bool:
    """Whether the words of a change were seen at its time: with any other change they are those seen last before."""
    return state == State.UNACKNOWLEDGED and before not in {state, State.SHELVED}
