"""What a reader of the log gives: minutes, entries of people, the logger, versions of the show file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, TypeAlias

from monitor.log.resume import MINUTE_MS

Figures: TypeAlias = tuple[int, str, float | None, float | None, float | None, float | None]
"""A reading for a table: time [ms, the log's clock], point's name, volts [V], amps [A], hertz [Hz], watts [W]."""

FIGURES = (
    "SELECT r.time_ms, r.point, p.name, r.volts_mv / 1000.0, r.amps_ma / 1000.0, (r.hertz_50_mhz + 50000) / 1000.0,"
    " r.watts_dw / 10.0 FROM reading r CROSS JOIN point p ON p.id = r.point"
    " WHERE (r.time_ms, r.point) > (?, ?) AND r.time_ms < ? ORDER BY r.time_ms, r.point LIMIT ?"
)
_SUMS = ", ".join(
    f"sum({q}_n), min({q}_min_{u}), sum({q}_sum_{u}), max({q}_max_{u})"
    for q, u in (("volts", "mv"), ("amps", "ma"), ("hertz", "mhz"))
)
SLOTS = (
    f"SELECT p.name, m.minute / ? * ? AS first, m.point, sum(good), sum(bad), {_SUMS},"  # noqa: S608 - fixed names
    " sum(watts_n), sum(watts_sum_dw), sum(energy), max(counter_dwh)"
    " FROM minute_all m CROSS JOIN point p ON p.id = m.point WHERE m.minute >= ? AND m.minute < ?"
    " GROUP BY m.point, m.minute / ? ORDER BY m.point, first"
)
ABOVE = (
    "WITH highest AS MATERIALIZED (SELECT key AS name, value AS ma FROM json_each(?))"
    " SELECT p.name, sum(m.amps_max_ma > highest.ma) FROM minute_all m CROSS JOIN point p ON p.id = m.point"
    " CROSS JOIN highest ON highest.name = p.name"
    " WHERE m.minute >= ? AND m.minute < ? AND m.amps_max_ma IS NOT NULL GROUP BY p.name"
)


@dataclass(frozen=True, slots=True)
class Minute:
    """One minute of one point; None is "not measured".

    Attributes:
        begin_ms: on the log's clock.
        volts: (lowest, mean, highest) [V].
        amps: (lowest, mean, highest) [A].
        hertz: (lowest, mean, highest) [Hz].
        watts_mean: [W].
        watt_hours: worked out from the readings [Wh]; how: view ``minute_unfinished``.
        counter_watt_hours: the meter's own energy counter, last in the minute [Wh].
        samples: good readings.
        bad: readings that were not good.

    """

    begin_ms: int
    volts: tuple[float, float, float] | None
    amps: tuple[float, float, float] | None
    hertz: tuple[float, float, float] | None
    watts_mean: float | None
    watt_hours: float | None
    counter_watt_hours: float | None
    samples: int
    bad: int


@dataclass(frozen=True, slots=True)
class Note:
    """What somebody entered.

    Attributes:
        time_ms: on the log's clock.
        who: the name.
        kind: ``note``, ``refuel`` or ``handheld``.
        place: what it is about, or empty.
        number: litres added, or what the instrument showed; None for a note.
        quantity: what ``number`` counts, or None.
        text: the words.

    """

    time_ms: int
    who: str
    kind: str
    place: str
    number: float | None
    quantity: str | None
    text: str


@dataclass(frozen=True, slots=True)
class WriterState:
    """The logger that writes the log, or wrote it last.

    Attributes:
        running: False after an orderly end. After a crash it is still True: look at ``alive_ms``.
        pid: its process id.
        host: its computer.
        since_ms: when it opened the log [ms, the log's clock].
        alive_ms: its last commit [ms, the log's clock].
        offset_ms: the log's clock less the logger's wall clock [ms].

    """

    running: bool
    pid: int
    host: str
    since_ms: int
    alive_ms: int
    offset_ms: int


@dataclass(frozen=True, slots=True)
class ShowVersion:
    """One version of the show file.

    Attributes:
        number: from 1, in this log.
        from_ms: from when on it was in force [ms, the log's clock].
        sha256: of its text in UTF-8.
        text: the file as it was read.

    """

    number: int
    from_ms: int
    sha256: str
    text: str


def read_minute(row: tuple[Any, ...]) -> Minute:
    """Give the minute of a row of view ``minute_all``; two weeks of a point are 20,160 calls, so by position."""
    minute, _, good, bad, v_n, v_low, v_sum, v_high, a_n, a_low, a_sum, a_high, *rest = row
    h_n, h_low, h_sum, h_high, w_n, w_sum, energy, counter = rest
    return Minute(
        minute * MINUTE_MS,
        (v_low / 1000, v_sum / (1000 * v_n), v_high / 1000) if v_n else None,
        (a_low / 1000, a_sum / (1000 * a_n), a_high / 1000) if a_n else None,
        (h_low / 1000, h_sum / (1000 * h_n), h_high / 1000) if h_n else None,
        w_sum / (10 * w_n) if w_n else None,
        None if energy is None else energy / 72e6,
        None if counter is None else counter / 10,
        good,
        bad,
    )
