"""What is known of the SQLite below the log."""

from __future__ import annotations

import sqlite3

# (fixed in, what can happen): https://www.sqlite.org/releaselog, as this project noted it, from memory
_TWO_WRITERS = (
    "two processes that write one log at the same moment may damage it, rarely; legwatch lets one logger write only:"
    " let no other program write into the log"
)
_FAULTS = (((3, 51, 3), _TWO_WRITERS),)


def sqlite_version() -> str:
    """Give the version of the SQLite that Python uses."""
    return sqlite3.sqlite_version


def known_faults() -> tuple[str, ...]:
    """Give what is known to be wrong with this version and touches a log."""
    return tuple(text for fixed, text in _FAULTS if sqlite3.sqlite_version_info < fixed)
