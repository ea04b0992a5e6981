"""Between readings in SI units and the scaled integers of the log's tables."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from drivers.reading import Quality, Values
from monitor.engine.reading import Reading
from monitor.show.model import Point

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

Row = tuple[int, int, int | None, int | None, int | None, int | None, int | None, int]

# Table quality; a code, once written, never changes its meaning.
QUALITY_CODES: Mapping[Quality, int] = MappingProxyType(
    {
        Quality.GOOD: 0,
        Quality.SILENT: 1,
        Quality.CORRUPT: 2,
        Quality.REFUSED: 3,
        Quality.IMPLAUSIBLE: 4,
        Quality.SUSPECT: 5,
    }
)
QUALITY_MEANINGS: Mapping[Quality, str] = MappingProxyType(
    {
        Quality.GOOD: "measured",
        Quality.SILENT: "no reply, no port or no connection",
        Quality.CORRUPT: "bytes came, but no whole and matching frame",
        Quality.REFUSED: "the meter answered with an exception",
        Quality.IMPLAUSIBLE: "a whole frame with a value that can't be; other values of the reading may stand",
        Quality.SUSPECT: "a whole frame that may answer an earlier question",
    }
)
_HERTZ_FROM = 50_000  # 50 Hz [0.001 Hz]
_QUALITIES = {code: quality for quality, code in QUALITY_CODES.items()}


def scale(value: float | None, factor: int) -> int | None:
    """Give ``value`` times ``factor`` as the nearest whole number; None stays None."""
    return None if value is None else round(value * factor)


def to_row(reading: Reading, point_id: int) -> Row:
    """Give the row of table ``reading``, in the order of its columns."""
    v = reading.values
    return (
        reading.time_ms,
        point_id,
        scale(v.volts, 1_000),
        scale(v.amps, 1_000),
        None if v.hertz is None else round(v.hertz * 1_000) - _HERTZ_FROM,
        scale(v.watts, 10),
        scale(v.power_factor, 10_000),
        QUALITY_CODES[reading.quality],
    )


def from_row(row: Sequence[int | None], place: str, leg: str, detail: str | None) -> Reading:
    """Give the reading of a row of table ``reading``; its monotonic clock is the log's clock in seconds."""
    time_ms, _, volts, amps, hertz, watts, power_factor, quality = row
    values = Values(
        volts=_over(volts, 1_000),
        amps=_over(amps, 1_000),
        hertz=None if hertz is None else (hertz + _HERTZ_FROM) / 1_000,
        watts=_over(watts, 10),
        power_factor=_over(power_factor, 10_000),
    )
    time_ms = time_ms or 0
    return Reading(Point(place, leg), time_ms, time_ms / 1000.0, _QUALITIES[quality or 0], values, detail or "")


def _over(raw: int | None, factor: int) -> float | None:
    return None if raw is None else raw / factor
