"""What holds for the whole house: one clock, one glossary, no word that the tool must never say."""

from __future__ import annotations

import ast
import re
from dataclasses import fields
from pathlib import Path

import pytest

from drivers.quantities import QUANTITIES
from drivers.reading import Values

ROOT = Path(__file__).resolve().parents[1]
MODULES = sorted(p for room in ("drivers", "monitor") for p in (ROOT / room).rglob("*.py"))
CLOCKS = {"time", "time_ns", "monotonic", "monotonic_ns", "perf_counter", "now", "utcnow", "today"}
# Never said by this tool (the trade's own list of what may cost a life), in any text that a user can meet.
FORBIDDEN = re.compile(
    r"\b(is|are|it's|now) (safe|dead|isolated)\b|safe to (reset|touch|use|close|energi[sz]e)|ok to (reset|energi[sz]e)"
    r"|nuisance|will (trip|open) in\b|trips in \d",
    re.IGNORECASE,
)


def names(path: Path) -> str:
    """Give a path as a test's name."""
    return str(path.relative_to(ROOT))


def test_the_glossary_and_the_readings_name_the_same_quantities() -> None:
    """One list of quantities, in one order."""
    assert [field.name for field in fields(Values)] == list(QUANTITIES)


@pytest.mark.parametrize("path", MODULES, ids=names)
def test_only_the_clock_asks_for_the_time(path: Path) -> None:
    """Everything else is given an Instant, so that a day can be replayed."""
    if path.name == "clock.py":
        return
    asked = [
        node
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Attribute)
        and node.attr in CLOCKS
        and isinstance(node.value, ast.Name)
        and node.value.id in {"time", "datetime", "date"}
    ]
    assert not asked, f"{names(path)}:{asked[0].lineno} asks for the time"


@pytest.mark.parametrize(
    "path",
    [
        *MODULES,
        ROOT / "README.md",
        *sorted((ROOT / "config").rglob("*.toml")),
        *sorted((ROOT / "fixtures").rglob("*.toml")),
    ],
    ids=names,
)
def test_nothing_promises_safety(path: Path) -> None:
    """No text says that something is without danger, and none counts down to a trip."""
    found = FORBIDDEN.search(path.read_text(encoding="utf-8"))
    assert found is None, f"{names(path)} says {found and found[0]!r}"


@pytest.mark.parametrize("path", MODULES, ids=names)
def test_files_stay_short(path: Path) -> None:
    """A file tells one story; 400 lines is the end of it."""
    assert path.read_text(encoding="utf-8").count("\n") <= 400
