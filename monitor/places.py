"""Where the files that come with legwatch are: beside the packages in a checkout, inside them when installed."""

from __future__ import annotations

from pathlib import Path

_HERE = Path(__file__).resolve().parent


def data(name: str) -> Path:
    """Give the path of ``config/...`` or ``fixtures/demo/...`` that came with this copy."""
    installed = _HERE / "_data" / name
    return installed if installed.exists() else _HERE.parent / name
