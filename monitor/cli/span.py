"""A stretch of the log's time, in words."""

from __future__ import annotations

from datetime import UTC, datetime


def span_of(first_ms: int | None, last_ms: int | None) -> str:
    """Say from when to when in UTC; empty where there is nothing."""
    if first_ms is None or last_ms is None:
        return ""
    first, last = (datetime.fromtimestamp(ms / 1000, UTC).isoformat(timespec="seconds") for ms in (first_ms, last_ms))
    return f" from {first} to {last}"
