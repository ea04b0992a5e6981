"""What the log's tables need once a minute: finished minutes rolled up, old readings given up. Writes.

The roll-up is the insert of a view, so that the unfinished minute which people see and the finished one that is kept
come from the same lines of SQL, and a restart in the middle of a minute needs no care.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Mapping


def finish_minutes(db: sqlite3.Connection, minute: int, counters: Mapping[tuple[int, int], int]) -> None:
    """Move every minute before ``minute`` [minutes since 1970 UTC] into table ``minute``.

    Args:
        db: in a transaction of the caller's.
        minute: the first that is not finished.
        counters: (minute, point's id) -> the meter's own energy counter [0.1 Wh].

    """
    db.execute("INSERT INTO minute SELECT * FROM minute_unfinished WHERE minute < ?", (minute,))
    db.executemany(
        "UPDATE minute SET counter_dwh = ? WHERE minute = ? AND point = ?",
        [(raw, *key) for key, raw in counters.items() if key[0] < minute],
    )


def forget(db: sqlite3.Connection, before_ms: int, most: int) -> None:
    """Delete readings older than ``before_ms``, the oldest first and about ``most`` at a time; minutes stay.

    Args:
        db: in a transaction of the caller's.
        before_ms: readings from here on are kept [ms since 1970 UTC].
        most: bounds how long this takes.

    """
    row = db.execute("SELECT time_ms FROM reading ORDER BY time_ms LIMIT 1 OFFSET ?", (most,)).fetchone()
    db.execute("DELETE FROM reading WHERE time_ms < ?", (before_ms if row is None else min(before_ms, row[0]),))
