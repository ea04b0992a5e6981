"""The tables of ``config/standards``, each read once."""

from __future__ import annotations

import tomllib
from functools import cache
from typing import Any

from monitor.places import data


@cache
def table(name: str) -> dict[str, Any]:
    """Give the table ``config/standards/NAME.toml``; treat it as frozen."""
    return tomllib.loads(data(f"config/standards/{name}.toml").read_text(encoding="utf-8"))
