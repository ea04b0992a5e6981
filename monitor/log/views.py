"""The log's views, as SQL: what people and programs read, in real units and with times as text.

Names and columns of the plural views are fixed: other programs read them. Select by time on the tables
(``reading.time_ms``) where a log is long: a view must write out every time before it can compare.
"""

# ruff: noqa: S608 - the SQL is put together from this file's own constants

from __future__ import annotations


def _utc(column: str) -> str:
    return f"strftime('%Y-%m-%dT%H:%M:%fZ', {column} / 1000.0, 'unixepoch')"


_QUANTITIES = (("volts", "mv"), ("amps", "ma"), ("hertz", "mhz"))
_FOLDED = ",\n  ".join(
    f"count({name}_{unit}) AS {name}_n, min({name}_{unit}) AS {name}_min_{unit}, "
    f"sum({name}_{unit}) AS {name}_sum_{unit}, max({name}_{unit}) AS {name}_max_{unit}"
    for name, unit in _QUANTITIES
)
_SCALED = ",\n  ".join(
    f"m.{name}_min_{unit} / 1000.0 AS {name}_min, m.{name}_sum_{unit} / (1000.0 * m.{name}_n) AS {name}_mean, "
    f"m.{name}_max_{unit} / 1000.0 AS {name}_max"
    for name, unit in _QUANTITIES
)

READINGS = f"""\
-- time_utc [ISO 8601], volts [V], amps [A], hertz [Hz], watts [W]; NULL is "not measured", never zero.
SELECT {_utc("r.time_ms")} AS time_utc, p.name AS point,
  r.volts_mv / 1000.0 AS volts, r.amps_ma / 1000.0 AS amps, (r.hertz_50_mhz + 50000) / 1000.0 AS hertz,
  r.watts_dw / 10.0 AS watts, r.power_factor_e4 / 10000.0 AS power_factor, q.name AS quality
FROM reading r CROSS JOIN point p ON p.id = r.point CROSS JOIN quality q ON q.id = r.quality"""  # CROSS: in time order

MINUTE_UNFINISHED = f"""\
-- Table minute, continued: the minutes that are not in it yet, from the readings. The logger fills the table from here.
-- energy: for each two readings of a point that follow each other, both with watts and at most writer.hold_ms apart,
-- their mean times the time between them, counted in the minute of the later one. Nothing is counted across a gap of
-- the kinds not-logging and clock-step. Unit: 0.05 W times 1 ms = 1/72000000 Wh, so that it stays whole.
WITH bound AS (
  SELECT (SELECT coalesce(max(minute) + 1, 0) * 60000 FROM minute) AS from_ms,
    (SELECT coalesce(max(hold_ms), 0) FROM writer) AS hold_ms
), pair AS (
  SELECT r.*, r.hertz_50_mhz + 50000 AS hertz_mhz,
    lag(r.time_ms) OVER by_point AS before_ms, lag(r.watts_dw) OVER by_point AS before_dw
  FROM reading r WHERE r.time_ms >= (SELECT from_ms - hold_ms FROM bound)
  WINDOW by_point AS (PARTITION BY r.point ORDER BY r.time_ms)
)
SELECT time_ms / 60000 AS minute, point, sum(quality = 0) AS good, sum(quality <> 0) AS bad,
  {_FOLDED},
  count(watts_dw) AS watts_n, sum(watts_dw) AS watts_sum_dw,
  sum(CASE WHEN time_ms - before_ms <= (SELECT hold_ms FROM bound) AND NOT EXISTS (
    SELECT 1 FROM gap g
    WHERE g.point = pair.point AND g.begin_ms = before_ms AND g.reason IN ('not-logging', 'clock-step')
  ) THEN (watts_dw + before_dw) * (time_ms - before_ms) END) AS energy,
  NULL AS counter_dwh
FROM pair WHERE time_ms >= (SELECT from_ms FROM bound)
GROUP BY time_ms / 60000, point"""

MINUTE_ALL = """\
-- Every minute: the finished ones and those that are still to be finished.
SELECT * FROM minute UNION ALL SELECT * FROM minute_unfinished"""

MINUTES = f"""\
-- time_utc: the minute's begin; samples: its good readings; watt_hours: see view minute_unfinished, NULL where no
-- energy was measured.
SELECT {_utc("m.minute * 60000")} AS time_utc, p.name AS point,
  {_SCALED},
  m.watts_sum_dw / (10.0 * m.watts_n) AS watts_mean, m.energy / 72e6 AS watt_hours, m.good AS samples
FROM minute_all m CROSS JOIN point p ON p.id = m.point"""

GAPS = f"""\
SELECT p.name AS point, {_utc("g.begin_ms")} AS begin_utc, {_utc("g.end_ms")} AS end_utc, -- NULL while it lasts
  (g.end_ms - g.begin_ms) / 1000.0 AS seconds, g.reason, g.detail
FROM gap g JOIN point p ON p.id = g.point ORDER BY g.begin_ms, g.point"""

EVENTS = f"""\
SELECT {_utc("time_ms")} AS time_utc, kind, place, text, data FROM event ORDER BY id"""

ALARMS = f"""\
SELECT {_utc("time_ms")} AS time_utc, code, place, priority, before, state, {_utc("since_ms")} AS since_utc,
  who, why, {_utc("until_ms")} AS until_utc, value, threshold, text, folded
FROM alarm ORDER BY id"""

STEPS = f"""\
-- watts [W] and amps [A]: positive on, negative off.
SELECT {_utc("s.time_ms")} AS time_utc, p.name AS point, s.watts_dw / 10.0 AS watts, s.amps_ma / 1000.0 AS amps, s.match
FROM step s JOIN point p ON p.id = s.point ORDER BY s.id"""

INCIDENTS = f"""\
-- points, evidence, not_shown and alternatives are JSON lists: see table incident.
SELECT number, kind, points, {_utc("begin_ms")} AS begin_utc, {_utc("earliest_ms")} AS earliest_utc,
  {_utc("end_ms")} AS end_utc, confidence, evidence, not_shown, alternatives, last_on, last_on_planned
FROM incident ORDER BY number"""

NOTES = f"""\
SELECT {_utc("time_ms")} AS time_utc, who, kind, place, number, quantity, text FROM note ORDER BY id"""

SHOWS = f"""\
SELECT id, {_utc("time_ms")} AS time_utc, sha256, text FROM show_version ORDER BY id"""

VIEWS = {  # of schema 1
    "readings": READINGS,
    "minute_unfinished": MINUTE_UNFINISHED,
    "minute_all": MINUTE_ALL,
    "minutes": MINUTES,
    "gaps": GAPS,
    "events": EVENTS,
    "alarms": ALARMS,
    "steps": STEPS,
    "notes": NOTES,
    "shows": SHOWS,
}
