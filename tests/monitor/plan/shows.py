"""Small shows as text, and ``legwatch plan`` run on them; all of it is invented."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

LEGWATCH = str(Path(sys.executable).with_name("legwatch"))

HEAD = """
[show]
name = "Ferry slip, dusk"
region = "{region}"
timezone = "America/Halifax"
[source]
name = "Set"
kind = "generator"
system = "{system}"
rated_kw = {kw}
{more}
"""


def circuit(name: str, legs: str, load: str, **extra: str) -> str:
    """Write one circuit table."""
    lines = {"breaker": "{ amps = 20 }", "fed_from": '"source"', **extra}
    keys = "\n".join(f"{key} = {value}" for key, value in lines.items())
    return f'[[circuit]]\nid = "{name}"\nlegs = {legs}\nload = [ {load} ]\n{keys}\n'


def watts(number: float, factor: float = 1.0, **extra: str) -> str:
    """Write one load."""
    more = "".join(f", {key} = {value}" for key, value in extra.items())
    return f'{{ name = "x", watts = {number}, power_factor = {factor}{more} }}'


def plan(
    tmp_path: Path, *tables: str, words: tuple[str, ...] = (), head: dict[str, str] | None = None
) -> tuple[int, dict[str, Any]]:
    """Run ``legwatch plan --json`` on a show; give exit code and data."""
    filled = {"region": "north-america", "system": "120/240", "kw": "20", "more": "", **(head or {})}
    path = tmp_path / "show.toml"
    path.write_text(HEAD.format(**filled) + "\n".join(tables), encoding="utf-8")
    result = subprocess.run(
        [LEGWATCH, "plan", str(path), "--json", *words], capture_output=True, text=True, timeout=30, check=False
    )
    assert result.returncode in (0, 1), result.stderr
    data: dict[str, Any] = json.loads(result.stdout)
    return result.returncode, data


def codes(data: dict[str, Any]) -> set[tuple[str, str]]:
    """Give the findings' codes and places."""
    return {(f["code"], f["where"]) for f in data["findings"]}


def feeder(name: str, more: str = "", above: str = "source") -> str:
    """Write one feeder table."""
    return f'[[feeder]]\nid = "{name}"\nfed_from = "{above}"\n{more}\n'
