"""What a log holds when a logger opens it: where its time stands, and what each point's last reading left."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from monitor.log.gaps import Trail
from monitor.show.model import Point

if TYPE_CHECKING:
    import sqlite3

_RECENT_MS = 600_000  # how far back a point's last reading is looked for among the readings themselves
MINUTE_MS = 60_000


@dataclass(frozen=True, slots=True)
class Resume:
    """The state of a log.

    Attributes:
        last_ms: the last time in it; None for a new log.
        next_minute: the first minute that is not in table ``minute`` yet [minutes since 1970 UTC].
        point_ids: the points it knows.
        trails: of every point that has readings, as an earlier run left them.

    """

    last_ms: int | None
    next_minute: int
    point_ids: dict[Point, int]
    trails: dict[Point, Trail]


def resume(db: sqlite3.Connection) -> Resume:
    """Read the state of a log; quick however long the log is."""
    ids = {Point(place, leg): key for key, place, leg in db.execute("SELECT id, place, leg FROM point")}
    (minute,) = db.execute("SELECT max(minute) FROM minute").fetchone()
    last_readings = _last_readings(db, set(ids.values()))
    times = [
        *last_readings.values(),
        *(time for (time,) in db.execute("SELECT max(time_ms) FROM event") if time is not None),
        *(time for (time,) in db.execute("SELECT max(time_ms) FROM note") if time is not None),
        *(time for (time,) in db.execute("SELECT alive_ms FROM writer")),
    ]
    trails = {point: Trail(last_readings[key], None) for point, key in ids.items() if key in last_readings}
    return Resume(max(times, default=None), 0 if minute is None else minute + 1, ids, trails)


def _last_readings(db: sqlite3.Connection, point_ids: set[int]) -> dict[int, int]:
    """Give the time of each point's last reading, by its id.

    Readings are kept by time, so a point that was taken out of the show long ago would cost a walk through all of
    them: such a point is looked up in the minutes first.
    """
    (newest,) = db.execute("SELECT max(time_ms) FROM reading").fetchone()
    found: dict[int, int] = dict(
        db.execute(
            "SELECT point, max(time_ms) FROM reading WHERE time_ms > ? GROUP BY point", ((newest or 0) - _RECENT_MS,)
        )
    )
    if point_ids <= found.keys():
        return found
    for point, minute in db.execute("SELECT point, max(minute) FROM minute GROUP BY point").fetchall():
        if point in found:
            continue
        begin = minute * MINUTE_MS
        (last,) = db.execute(
            "SELECT max(time_ms) FROM reading WHERE time_ms >= ? AND time_ms < ? AND point = ?",
            (begin, begin + MINUTE_MS, point),
        ).fetchone()
        found[point] = last or begin + MINUTE_MS - 1  # its readings were given up by the retention
    return found
