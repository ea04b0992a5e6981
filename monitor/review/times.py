"""Times as people and programs get them: ISO 8601 in the show's zone, with its offset."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

_DAY = timedelta(days=1)
_DATE_ONLY = len("2026-11-25")


def iso(time_ms: int, timezone: str) -> str:
    """Write a time [ms since 1970 UTC] for programs, to the millisecond."""
    return _local(time_ms, timezone).isoformat(timespec="milliseconds")


def moment(time_ms: int, timezone: str) -> str:
    """Write a time [ms since 1970 UTC] for people: date, time and offset, to the second."""
    return _local(time_ms, timezone).strftime("%Y-%m-%d %H:%M:%S ") + offset(time_ms, timezone)


def clock(time_ms: int, timezone: str, *, tenths: bool = False) -> str:
    """Write the time of day, to the second or its tenth."""
    text = _local(time_ms, timezone).strftime("%H:%M:%S")
    return f"{text}.{time_ms % 1000 // 100}" if tenths else text


def day(time_ms: int, timezone: str) -> str:
    """Write the date."""
    return _local(time_ms, timezone).strftime("%Y-%m-%d")


def offset(time_ms: int, timezone: str) -> str:
    """Write the offset from UTC at a time, as ``-04:00``."""
    return _local(time_ms, timezone).isoformat()[-6:]


def offset_ms(time_ms: int, timezone: str) -> int:
    """Give the offset from UTC at a time [ms]."""
    offset_s = (_local(time_ms, timezone).utcoffset() or timedelta()).total_seconds()
    return round(offset_s * 1000)


def read(text: str, timezone: str, *, ends: bool = False) -> int:
    """Read a time that somebody wrote [ms since 1970 UTC].

    Args:
        text: ISO 8601; without an offset it is meant in the show's zone.
        timezone: of the show.
        ends: a date without a time is the end of that day, not its begin.

    Raises:
        ValueError: it is none.

    """
    time = datetime.fromisoformat(text.strip())
    if ends and len(text.strip()) == _DATE_ONLY:
        time += _DAY
    if time.tzinfo is None:
        time = time.replace(tzinfo=ZoneInfo(timezone))
    return round(time.timestamp() * 1000)


def span(seconds: float) -> str:
    """Write a length of time: ``45 s``, ``12 min 5 s``, ``3 h 20 min``, ``2 d 4 h``."""
    whole = round(seconds)
    if whole < 60:  # noqa: PLR2004 - a minute
        return f"{whole} s"
    for size, unit, part, small in ((86_400, "d", 3_600, "h"), (3_600, "h", 60, "min"), (60, "min", 1, "s")):
        if whole >= size:
            rest = whole % size // part
            return f"{whole // size} {unit} {rest} {small}" if rest else f"{whole // size} {unit}"
    raise AssertionError


def _local(time_ms: int, timezone: str) -> datetime:
    return datetime.fromtimestamp(time_ms / 1000, UTC).astimezone(ZoneInfo(timezone))
