"""Contract of the tables: each names its source, and what comes from memory is marked."""

from __future__ import annotations

import pytest

from monitor.electrical.supply import performance
from monitor.electrical.tables import table

SOURCED = [
    *(("breakers", (standard,)) for standard in table("breakers")),
    *(("supply", (region, at)) for region in ("north-america", "europe") for at in ("service", "utilization")),
    ("supply", ("iso8528",)),
    ("supply", ("hertz",)),
    *(("conductors", (name,)) for name in table("conductors")),
    *(("fuel", (name,)) for name in table("fuel")),
]


@pytest.mark.parametrize(("name", "path"), SOURCED)
def test_every_table_names_its_source(name: str, path: tuple[str, ...]) -> None:
    """A table without a source is no table."""
    rows = table(name)
    for key in path:
        rows = rows[key]
    assert len(rows["source"]) > 10


def test_every_gate_says_whether_it_was_seen() -> None:
    """Each gate is marked as seen or from memory, and its ratings leave no hole within the range."""
    for rules in table("breakers").values():
        assert all(isinstance(row["seen"], bool) for row in rules["gates"])
        for multiple, kind, curve in {(r["multiple"], r["kind"], r.get("class")) for r in rules["gates"]}:
            rows = [
                row
                for row in rules["gates"]
                if (row["multiple"], row["kind"], row.get("class")) == (multiple, kind, curve)
            ]
            borders = sorted((row.get("above", 0), row.get("up_to", rules["up_to_amps"])) for row in rows)
            assert [low for low, _ in borders] == [0, *(high for _, high in borders[:-1])]
            assert borders[-1][1] == rules["up_to_amps"]


def test_remembered_sizes_are_sizes() -> None:
    """Each conductor that is marked as from memory stands in its table."""
    for key, sizes in (("awg", "ohms_per_kft"), ("mm2", "ohms_per_km")):
        rules = table("conductors")[key]
        assert set(rules["memory"]) <= set(rules[sizes])


def test_only_g2_is_seen() -> None:
    """Of ISO 8528-5 only class G2 was seen; what has no numbers gives none."""
    known = {name: performance(name) for name in ("G1", "G2", "G3", "G4", "source", None)}
    assert [name for name, row in known.items() if row and row.seen] == ["G2"]
    assert [name for name, row in known.items() if row is None] == ["G4", "source", None]
