"""After a restart: what the watch had added up, from the log.

Heat remembers hours. The minutes of the log tell which circuits were above their rating at all in that time; those
are carried through every second of it, the others are cold. The last ``EXACT_S`` are lived through by everything that
looks back: demand, settled values, what was there before.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.show.model import Point

if TYPE_CHECKING:
    from collections.abc import Iterator

    from monitor.engine.watch import Watch
    from monitor.log.reader import LogReader
    from monitor.show.model import Circuit, Show

EXACT_S = 300
HOURS = 4.0  # a heat fraction at its ceiling has cooled away after two conventional times of at most two hours
HOLD_S = 3  # a value counts for as long, as it does live
_MINUTE_MS, _SECOND_MS = 60_000, 1_000


def rebuild(watch: Watch, show: Show, reader: LogReader) -> None:
    """Carry a new watch through the log's recent past; nothing is raised or cleared by it."""
    last_ms = reader.last_time_ms()
    if last_ms is None:
        return
    exact_ms = (last_ms - EXACT_S * _SECOND_MS) // _MINUTE_MS * _MINUTE_MS
    measured = frozenset(show.points())
    for circuit in show.circuits:
        points = [point for point in _points(circuit) if point in measured]
        begin_ms = _first_warm(reader, circuit, points, exact_ms)
        if begin_ms is not None:
            watch.conditions.warm(circuit.id, tuple(_loads(reader, points, begin_ms, exact_ms)))
    watch.live_through(reader.readings_since(exact_ms), last_ms)


def _points(circuit: Circuit) -> tuple[Point, ...]:
    return (Point(circuit.id), *(Point(circuit.id, leg) for leg in circuit.legs))


def _first_warm(reader: LogReader, circuit: Circuit, points: list[Point], end_ms: int) -> int | None:
    """Give the begin of the first minute in which a circuit was above its rating [ms]; None: in none."""
    begin_ms = end_ms - round(HOURS * 3600 * _SECOND_MS)
    found = (minute for point in points for minute in reader.minutes(point, begin_ms, end_ms))
    return min((m.begin_ms for m in found if m.amps and m.amps[2] > circuit.breaker.amps), default=None)


def _loads(reader: LogReader, points: list[Point], begin_ms: int, end_ms: int) -> Iterator[tuple[float | None, float]]:
    """Give (amps or None, seconds) second by second: the highest leg, None where nothing was measured."""
    by_second: dict[int, float] = {}
    for point in points:
        for reading in reader.readings_between(point, begin_ms, end_ms):
            if reading.values.amps is not None:
                second = reading.time_ms // _SECOND_MS
                by_second[second] = max(reading.values.amps, by_second.get(second, 0.0))
    amps, age = None, 0
    for second in range(begin_ms // _SECOND_MS, end_ms // _SECOND_MS):
        amps, age = (by_second[second], 0) if second in by_second else (amps, age + 1)
        yield (amps if age <= HOLD_S else None), 1.0
