"""Which legwatch this is."""

from __future__ import annotations

from functools import cache
from importlib.metadata import PackageNotFoundError, version


@cache
def software_version() -> str:
    """Give the version of the installed legwatch; empty where it runs without being installed."""
    try:
        return version("legwatch")
    except PackageNotFoundError:
        return ""
