"""After a restart: what the watch had added up, from the log.

The minutes of the log tell it: those of the source's legs from the log's begin (energy, low load, fuel, with the
refuels people entered), those of every circuit over the hours that heat remembers, and those of the runs over a day.
The last ``EXACT_S`` are lived through second by second by everything that looks back: settled values, demand, what was
there before. What is left between this and a run without a pause is what varies within a minute, and the pause itself.
"""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from monitor.alarms.conditions.past import MINUTE_S, PointMinute
from monitor.show.model import NEUTRAL, SOURCE_ID, Point

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from monitor.engine.watch import Watch
    from monitor.log.reader import LogReader, Minute
    from monitor.show.model import Show

EXACT_S = 300
HEAT_HOURS = 4.0  # a heat fraction at its ceiling has cooled away after two conventional times of at most two hours
RUN_HOURS = 24.0
_WHOLE = 0.9  # of the usual samples: such a minute is whole, since values stand for seconds over a poll that failed
_MINUTE_MS, _SECOND_MS, _HOUR_MS = 60_000, 1_000, 3_600_000
_ANY = 1_000_000  # notes
_LEAST_WATTS = 1.0


def rebuild(watch: Watch, show: Show, reader: LogReader) -> None:
    """Carry a new watch through the log's past; nothing is raised or cleared by it."""
    first_ms, last_ms = reader.first_time_ms(), reader.last_time_ms()
    refuels = [(n.time_ms, n.number) for n in reader.notes(_ANY) if n.kind == "refuel" and n.number is not None]
    if first_ms is not None and last_ms is not None:
        begin_ms = first_ms // _MINUTE_MS * _MINUTE_MS
        exact_ms = max(begin_ms, (last_ms - EXACT_S * _SECOND_MS) // _MINUTE_MS * _MINUTE_MS)
        past = _past(watch, show, reader, (begin_ms, exact_ms))
        for minute_ms in range(begin_ms, exact_ms, _MINUTE_MS):
            _refuel(watch, refuels, minute_ms)
            watch.conditions.recall(minute_ms, past.get(minute_ms, {}))
        _live_through(watch, reader, (exact_ms, last_ms), refuels)
    _refuel(watch, refuels, None)


def _refuel(watch: Watch, refuels: list[tuple[int, float]], until_ms: int | None) -> None:
    """Take the refuels up to a time [ms], or all that are left."""
    while refuels and (until_ms is None or refuels[0][0] <= until_ms):
        time_ms, litres = refuels.pop(0)
        watch.conditions.refuel(litres, time_ms)


def _live_through(watch: Watch, reader: LogReader, span: tuple[int, int], refuels: list[tuple[int, float]]) -> None:
    begin_ms, end_ms = span
    readings = reader.readings_since(begin_ms)
    for until_ms in [*sorted({time_ms for time_ms, _ in refuels if begin_ms < time_ms < end_ms}), end_ms]:
        part = next((n for n, reading in enumerate(readings) if reading.time_ms > until_ms), len(readings))
        watch.live_through(readings[:part], until_ms)
        readings = readings[part:]
        _refuel(watch, refuels, until_ms)


def _past(
    watch: Watch, show: Show, reader: LogReader, span: tuple[int, int]
) -> Mapping[int, Mapping[Point, PointMinute]]:
    """Give the minutes of a span that anything needs [ms]: by their begin, then by point."""
    begin_ms, end_ms = span
    found: defaultdict[int, dict[Point, PointMinute]] = defaultdict(dict)
    heat_ms = max(begin_ms, end_ms - round(HEAT_HOURS * _HOUR_MS))
    run_ms = max(begin_ms, end_ms - round(RUN_HOURS * _HOUR_MS))
    legs = [point for point in show.points() if point.place == SOURCE_ID and point.leg != NEUTRAL]
    rows = {point: reader.minutes(point, run_ms, end_ms) for point in watch.conditions.run_points}
    rows |= {point: reader.minutes(point, begin_ms, end_ms) for point in legs}
    circuits = frozenset(circuit.id for circuit in show.circuits)
    hot = {str(point): point for point in show.points() if point.place in circuits and point not in rows}
    rows |= {point: [] for point in hot.values()}
    for name, row in reader.minute_page(heat_ms, end_ms):
        if name in hot:
            rows[hot[name]].append(row)
    for point, of in rows.items():
        if point.place in circuits:
            for minute_ms in range(heat_ms, end_ms, _MINUTE_MS):
                found[minute_ms][point] = PointMinute(0.0)  # what heat hears nothing of is unknown to it
        for minute_ms, minute in _minutes(of):
            found[minute_ms][point] = minute
    return found


def _minutes(rows: list[Minute]) -> Iterator[tuple[int, PointMinute]]:
    """Give (begin [ms], minute) of one point."""
    usual = max((row.samples for row in rows), default=0)
    for row in rows:
        volts = row.volts[1] if row.volts else None
        yield row.begin_ms, PointMinute(_seconds(row, usual), volts, row.amps, row.watts_mean)


def _seconds(row: Minute, usual: int) -> float:
    """Give how much of a minute was read [s]: by the energy where there is any, else by its share of usual samples."""
    if not row.samples or row.samples >= _WHOLE * usual:
        return MINUTE_S if row.samples else 0.0
    if row.watts_mean is not None and row.watt_hours is not None and abs(row.watts_mean) >= _LEAST_WATTS:
        return min(MINUTE_S, max(0.0, 3600 * row.watt_hours / row.watts_mean))
    return MINUTE_S * row.samples / usual
