"""What the commands that look back share: a stretch of a log's time, and a file to write that is not the log."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

import click

from monitor.cli.errors import fail
from monitor.review.times import read

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

F = TypeVar("F", bound="Callable[..., object]")
EVER_MS = 1 << 52


def stretch_options(command: F) -> F:
    """Add ``--since`` and ``--until``."""
    help_ = "ISO 8601; without an offset in the show's zone; a date alone is the {} of that day."
    until = click.option("--until", metavar="TIME", help=f"Up to this time. {help_.format('end')}")
    return click.option("--since", metavar="TIME", help=f"From this time on. {help_.format('begin')}")(until(command))


def stretch(since: str | None, until: str | None, timezone: str) -> tuple[int, int]:
    """Give begin and end [ms, the log's clock]; leaves with a message where one can't be read or they are swapped."""
    begin_ms = 0 if since is None else _read("--since", since, timezone, ends=False)
    end_ms = EVER_MS if until is None else _read("--until", until, timezone, ends=True)
    if end_ms <= begin_ms:
        fail(f"legwatch: --until {until} does not lie after --since {since}")
    return begin_ms, end_ms


def refuse_log(path: Path, log_file: Path) -> None:
    """Leave with a message where ``path``, which is to be written, is the log."""
    if path.exists() and log_file.exists() and path.samefile(log_file):
        fail(f"legwatch: {path} is the log itself: name another file with -o")


def _read(option: str, text: str, timezone: str, *, ends: bool) -> int:
    try:
        return read(text, timezone, ends=ends)
    except (ValueError, OverflowError):
        fail(f'legwatch: {option} "{text}" is no time: write it as 2026-11-25, 2026-11-25T21:14 or with an offset')
