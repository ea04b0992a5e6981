"""The log's tables, as SQL.

SQL and not sqlite-utils' ``create()``, because that knows neither comments nor WITHOUT ROWID. The comments stand
inside the statements, so that SQLite keeps them: ``.schema`` of any tool shows them.
Tables have names in the singular and scaled integers; people and programs read the views, whose names are plural.
"""

from __future__ import annotations

SHOW_VERSION = """\
CREATE TABLE show_version (
  -- Each version of the show file that was in force while this log was written.
  id      INTEGER PRIMARY KEY,
  time_ms INTEGER NOT NULL,       -- from when on [ms since 1970 UTC, the log's clock]
  sha256  TEXT NOT NULL,          -- of text in UTF-8, lower-case hexadecimal
  text    TEXT NOT NULL           -- the file as it was read
) STRICT"""

POINT = """\
CREATE TABLE point (
  -- The places where meters measure.
  id    INTEGER PRIMARY KEY,
  place TEXT NOT NULL,            -- a circuit, a feeder or 'source'
  leg   TEXT NOT NULL,            -- L1 to L3 or N; '' is the whole of a circuit
  name  TEXT NOT NULL UNIQUE,     -- place, or place/leg
  UNIQUE (place, leg)
) STRICT"""

QUALITY = """\
CREATE TABLE quality (
  -- What a reading is worth.
  id      INTEGER PRIMARY KEY,
  name    TEXT NOT NULL UNIQUE,
  meaning TEXT NOT NULL
) STRICT"""

READING = """\
CREATE TABLE reading (
  -- Every reading. A NULL is "not measured", never zero. Time comes first in the key, so that a commit writes few
  -- pages. Volt-amperes and vars follow from volts, amps and watts and are not kept; a meter's own energy counter
  -- is kept once a minute.
  time_ms         INTEGER NOT NULL,  -- ms since 1970 UTC; this log's clock, which never goes back
  point           INTEGER NOT NULL REFERENCES point (id),
  volts_mv        INTEGER,           -- 0.001 V
  amps_ma         INTEGER,           -- 0.001 A
  hertz_50_mhz    INTEGER,           -- 0.001 Hz above 50 Hz (below: negative), which takes a byte less than from 0
  watts_dw        INTEGER,           -- 0.1 W, as the meter measured it
  power_factor_e4 INTEGER,           -- 0.0001, as the meter measured it
  quality         INTEGER NOT NULL REFERENCES quality (id),
  PRIMARY KEY (time_ms, point)
) WITHOUT ROWID, STRICT"""

MINUTE = """\
CREATE TABLE minute (
  -- Each finished minute of each point, from its readings. Every value that stands counts, even where another
  -- quantity of the same reading was refused.
  minute       INTEGER NOT NULL,     -- time_ms / 60000, whole
  point        INTEGER NOT NULL REFERENCES point (id),
  good         INTEGER NOT NULL,     -- readings with quality 0
  bad          INTEGER NOT NULL,     -- readings with another quality
  volts_n      INTEGER NOT NULL,     -- readings that have volts
  volts_min_mv INTEGER,              -- 0.001 V
  volts_sum_mv INTEGER,
  volts_max_mv INTEGER,
  amps_n       INTEGER NOT NULL,
  amps_min_ma  INTEGER,              -- 0.001 A
  amps_sum_ma  INTEGER,
  amps_max_ma  INTEGER,
  hertz_n       INTEGER NOT NULL,
  hertz_min_mhz INTEGER,             -- 0.001 Hz
  hertz_sum_mhz INTEGER,
  hertz_max_mhz INTEGER,
  watts_n      INTEGER NOT NULL,
  watts_sum_dw INTEGER,              -- 0.1 W
  energy       INTEGER,              -- 1/72000000 Wh, see view minute_unfinished; NULL where none was measured
  counter_dwh  INTEGER,              -- 0.1 Wh: the meter's own energy counter, last in the minute
  PRIMARY KEY (minute, point)
) WITHOUT ROWID, STRICT"""

GAP = """\
CREATE TABLE gap (
  -- Time without good readings at a point; end_ms is NULL while it lasts.
  point    INTEGER NOT NULL REFERENCES point (id),
  begin_ms INTEGER NOT NULL,      -- the first reading that was not good; for the last two reasons the last before
  reason   TEXT NOT NULL,         -- silent, corrupt, refused, implausible, suspect, not-logging, clock-step
  end_ms   INTEGER,               -- the first reading after the gap
  detail   TEXT NOT NULL,         -- plain words
  PRIMARY KEY (point, begin_ms, reason),
  CHECK (end_ms >= begin_ms)
) WITHOUT ROWID, STRICT"""

EVENT = """\
CREATE TABLE event (
  -- What happened, beside the readings.
  id      INTEGER PRIMARY KEY,
  time_ms INTEGER NOT NULL,
  kind    TEXT NOT NULL,          -- clock-step ...
  place   TEXT NOT NULL,          -- a point, circuit, meter or bus, or ''
  text    TEXT NOT NULL,          -- one plain sentence
  data    TEXT NOT NULL           -- a JSON object with the figures, units in its keys
) STRICT"""

ALARM = """\
CREATE TABLE alarm (
  -- Each change of state of each alarm, in the order it happened: the last row of a code and place is its state
  -- (life cycle and words after ISA-18.2 / IEC 62682).
  id        INTEGER PRIMARY KEY,
  time_ms   INTEGER NOT NULL,
  code      TEXT NOT NULL,        -- which alarm
  place     TEXT NOT NULL,        -- at which point, circuit, feeder or meter
  priority  TEXT NOT NULL,
  state     TEXT NOT NULL,        -- normal, unacknowledged, acknowledged, returned-unacknowledged, latched ..., shelved
  before    TEXT NOT NULL,        -- the state before; the same where only what it explains has changed
  since_ms  INTEGER NOT NULL,     -- when its condition was first seen in this round
  who       TEXT,                 -- who acknowledged, shelved or reset it; NULL where nobody did: it changed by itself
  why       TEXT,                 -- the reason given for shelving
  until_ms  INTEGER,              -- shelved until
  value     REAL,                 -- what was seen, in the unit that text says
  threshold REAL,                 -- against which limit
  text      TEXT NOT NULL,        -- one plain sentence
  folded    TEXT NOT NULL         -- sentences of what it explains, as a JSON list
) STRICT"""

STEP_1 = """\
CREATE TABLE step (
  -- Loads coming on (positive) and going off (negative); only logs of schema 1 have it like this.
  id       INTEGER PRIMARY KEY,
  time_ms  INTEGER NOT NULL,
  point    INTEGER NOT NULL REFERENCES point (id),
  watts_dw INTEGER,               -- 0.1 W; NULL where the meter has no watts
  amps_ma  INTEGER,               -- 0.001 A
  match    TEXT                   -- the planned load's name; NULL: nobody planned it
) STRICT"""

NOTE = """\
CREATE TABLE note (
  -- What people entered.
  id       INTEGER PRIMARY KEY,
  time_ms  INTEGER NOT NULL,
  who      TEXT NOT NULL,
  kind     TEXT NOT NULL CHECK (kind IN ('note', 'refuel', 'handheld')),
  place    TEXT NOT NULL,         -- what it is about, or ''
  number   REAL,                  -- refuel: litres added; handheld: what the instrument showed
  quantity TEXT,                  -- what number counts: litres, volts, amps ...
  text     TEXT NOT NULL,
  CHECK ((number IS NULL) = (quantity IS NULL))
) STRICT"""

WRITER = """\
CREATE TABLE writer (
  -- The logger that writes this log, or wrote it last: one row.
  id        INTEGER PRIMARY KEY CHECK (id = 1),
  pid       INTEGER NOT NULL,
  host      TEXT NOT NULL,
  since_ms  INTEGER NOT NULL,     -- when it opened the log [the log's clock]
  alive_ms  INTEGER NOT NULL,     -- its last sign of life [the log's clock]
  offset_ms INTEGER NOT NULL,     -- the log's clock less the computer's clock
  running   INTEGER NOT NULL,     -- 0 after an orderly end; after a crash alive_ms tells
  hold_ms   INTEGER NOT NULL      -- longest time between two readings of a point that counts as unbroken
) STRICT"""

TABLES = (SHOW_VERSION, POINT, QUALITY, READING, MINUTE, GAP, EVENT, ALARM, STEP_1, NOTE, WRITER)  # of schema 1

STEP = """\
CREATE TABLE step (
  -- Loads coming on (positive) and going off (negative).
  id          INTEGER PRIMARY KEY,
  time_ms     INTEGER NOT NULL,      -- the first reading that shows it
  earliest_ms INTEGER NOT NULL,      -- the last reading that doesn't: the moment lies between
  point       INTEGER NOT NULL REFERENCES point (id),  -- the circuit as a whole
  watts_dw    INTEGER,               -- 0.1 W; NULL where the meter has no watts
  amps_ma     INTEGER,               -- 0.001 A in a hot leg
  match       TEXT,                  -- names of the planned loads it is taken for; NULL: nobody planned it
  pieces      TEXT NOT NULL DEFAULT '[]',  -- the same as a JSON list, a name as often as there are pieces
  behaviour   TEXT NOT NULL DEFAULT '',    -- steady, inrush, motor start, fade, cycling
  confidence  REAL,                  -- of match, 0 to 1
  over_gap    INTEGER NOT NULL DEFAULT 0,  -- 1: it lies in a time without readings or without volts
  since_ms    INTEGER,               -- of a cycling load: when its cycles began
  note        TEXT NOT NULL DEFAULT ''     -- what this log can't tell about it
) STRICT"""

INCIDENT = """\
CREATE TABLE incident (
  -- What happened, as far as the readings show it. A row is replaced when more is known of the same incident.
  number          INTEGER PRIMARY KEY,
  kind            TEXT NOT NULL,     -- what it is taken for first
  points          TEXT NOT NULL,     -- where, as a JSON list of [place, leg]; the lowest common parent first
  begin_ms        INTEGER NOT NULL,  -- the first reading that shows it
  earliest_ms     INTEGER NOT NULL,  -- the last reading that doesn't: the moment lies between
  end_ms          INTEGER,           -- NULL while it lasts, or where its end is not known
  confidence      REAL NOT NULL,     -- of kind, 0 to 1
  evidence        TEXT NOT NULL,     -- a JSON list of {"text", "speaks": "for", "against" or "beside"}
  not_shown       TEXT NOT NULL,     -- what this log can't show, a JSON list of sentences
  alternatives    TEXT NOT NULL,     -- what else it may have been, a JSON list of {"kind", "confidence"}
  last_on         TEXT,              -- the load that came on last before it; NULL: not known
  last_on_planned INTEGER            -- 1 where that load stands in the plan, 0 where not; NULL: not known
) STRICT"""

INDEXES = (
    "CREATE INDEX step_by_time ON step (time_ms)",
    "CREATE INDEX incident_by_time ON incident (begin_ms)",
    "CREATE INDEX alarm_by_time ON alarm (time_ms)",
    "CREATE INDEX event_by_time ON event (time_ms)",
    "CREATE INDEX minute_by_point ON minute (point, minute)",  # two weeks of one circuit without those of the others
)
