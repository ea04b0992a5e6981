"""Findings on runs, legs and starts, drops with what they leave out, and moves with what they put wrong."""

from __future__ import annotations

import subprocess
from typing import TYPE_CHECKING

import pytest

from tests.monitor.plan.shows import LEGWATCH, circuit, codes, feeder, plan, watts

if TYPE_CHECKING:
    from pathlib import Path

FOUND_ON_RUNS = [
    # 16 AWG carries 13 A with two loaded conductors (NEC 400.5(A)(1)); 17 A planned, nothing before it
    (
        [feeder("b", "cable = { awg = 16, metres = 2 }"), circuit("A1", '["L1"]', watts(2040), fed_from='"b"')],
        ("over-cable", "b", "wrong"),
    ),
    # the breaker before a feeder without one is the next on the way up
    (
        [
            feeder("a", "breaker = { amps = 60, poles = 2 }"),
            feeder("b", "cable = { awg = 10, metres = 2 }", "a"),
            circuit("A1", '["L1"]', watts(600), fed_from='"b"'),
        ],
        ("breaker-above-cable", "b", "wrong"),
    ),
    # 8 AWG: 80 A as portable single conductors (400.5(A)(2)), 50 A as building wire (310.16, from memory)
    (
        [
            feeder("b", "breaker = { amps = 60, poles = 2 }\ncable = { awg = 8, metres = 2 }"),
            circuit("A1", '["L1"]', watts(600), fed_from='"b"'),
        ],
        ("breaker-above-cable", "b", "advice"),
    ),
    # 240.4(D): 12 AWG takes 20 A; as cord 25 A
    (
        [circuit("A1", '["L1"]', watts(600), breaker="{ amps = 25 }", cable="{ awg = 12, metres = 2 }")],
        ("breaker-above-cable", "A1", "advice"),
    ),
    (
        [circuit("A1", '["L1"]', watts(600), breaker="{ amps = 30 }", cable="{ awg = 12, metres = 2 }")],
        ("breaker-above-cable", "A1", "wrong"),
    ),
    (
        [feeder("b", "cable = { awg = 12, metres = 70 }"), circuit("A1", '["L1"]', watts(1200), fed_from='"b"')],
        ("drop-feeder", "b", "advice"),
    ),
]


@pytest.mark.parametrize(("tables", "expected"), FOUND_ON_RUNS)
def test_findings_on_runs(tables: list[str], expected: tuple[str, str, str], tmp_path: Path) -> None:
    """Cables against their load and against the breaker before them, on circuits and on feeders."""
    _, data = plan(tmp_path, *tables)
    assert expected in {(f["code"], f["where"], f["severity"]) for f in data["findings"]}


@pytest.mark.parametrize(
    "cable",
    ["{ awg = 12, metres = 2 }", "{ awg = 14, metres = 2, amps = 20 }", "{ awg = 14, metres = 2, parallel = 2 }"],
)
def test_a_cable_that_fits_its_breaker_is_no_finding(cable: str, tmp_path: Path) -> None:
    """20 A on 12 AWG, on a cable with its own figure, on two sets of 14 AWG."""
    tables = [circuit(n, f'["{leg}"]', watts(600), cable=cable) for n, leg in (("A1", "L1"), ("A2", "L2"))]
    _, data = plan(tmp_path, *tables, head={"kw": "2"})
    assert data["findings"] == []


def test_the_start_that_brings_a_leg_highest_is_found(tmp_path: Path) -> None:
    """The larger start stands on an empty leg, a smaller one on a full leg: the full leg passes its rating."""
    tables = [
        circuit("A1", '["L1"]', watts(960, kind='"motor"', start_multiple="5")),
        circuit("A2", '["L2"]', watts(840, kind='"motor"', start_multiple="5")),
        circuit("A3", '["L2"]', watts(1800)),
    ]
    _, data = plan(tmp_path, *tables, head={"more": "amps_per_leg = 45"})
    found = [f for f in data["findings"] if f["code"] == "motor-start"]
    assert [f["where"] for f in found] == ["source/L2"]
    assert "A2" in found[0]["text"]
    assert "50.0 A" in found[0]["text"]  # 7 A of it running, 15 A of A3, 4 x 7 A more while it starts


def test_a_start_on_a_set_that_tells_only_its_kilowatts(tmp_path: Path) -> None:
    """5 kW on two legs of 120 V are 20.8 A a leg; a motor without its start_multiple is named."""
    tables = [
        circuit("A1", '["L1"]', watts(600, kind='"motor"', start_multiple="6")),
        circuit("A2", '["L2"]', watts(600, kind='"motor"')),
    ]
    _, data = plan(tmp_path, *tables, head={"kw": "5"})
    assert {("motor-start", "source/L1"), ("motor-start-unknown", "source")} <= codes(data)


def test_legs_far_apart_are_told_below_half_load_too(tmp_path: Path) -> None:
    """30 A against nothing on legs of 100 A; 15 A against nothing is left alone."""
    heaters = [circuit(n, '["L1"]', watts(1800)) for n in ("A1", "A2")]
    head = {"more": "amps_per_leg = 100"}
    assert ("unbalanced", "source") in codes(plan(tmp_path, *heaters, head=head)[1])
    assert ("unbalanced", "source") not in codes(plan(tmp_path, *heaters[:1], head=head)[1])


def test_a_drop_with_a_cable_missing_on_the_way_is_told_as_the_least(tmp_path: Path) -> None:
    """The box's cable is known, the circuit's not: what is known is given, with what it leaves out."""
    tables = [feeder("b", "cable = { awg = 6, metres = 30 }"), circuit("A1", '["L1"]', watts(1200), fed_from='"b"')]
    _, data = plan(tmp_path, *tables)
    row = data["circuits"][0]
    assert row["drop_volts"] == pytest.approx(2 * 30 / 0.3048 / 1000 * 0.491 * 10)
    assert (row["drop_without"], data["feeders"][0]["drop_without"]) == (["A1"], [])
    assert (row["drop_base"], row["drop_base_volts"]) == ("L-N", 120)
    assert "table 8, 75 degrees C" in data["drop_basis"]
    printed = subprocess.run(
        [LEGWATCH, "plan", str(tmp_path / "show.toml")], capture_output=True, text=True, timeout=30, check=False
    )
    assert ">1.0 V 0.8 %" in printed.stdout


def test_moves_of_two_hot_circuits_and_what_they_put_wrong(tmp_path: Path) -> None:
    """On a wye a pair moves to another pair, written L1-L2; a box that gets too much by it is told."""
    box = feeder("b", "breaker = { amps = 26, poles = 3 }")
    tables = [box, *(circuit(n, '["L1", "L2"]', watts(3000), breaker="{ amps = 30 }") for n in ("A1", "A2", "A3"))]
    _, data = plan(tmp_path, *tables, head={"system": "208Y/120"}, words=("--balance",))
    assert sorted((m["from"], m["to"]) for m in data["moves"]) == [("L1-L2", "L1-L3"), ("L1-L2", "L2-L3")]
    assert data["balance"]["exact"] is True
    assert data["balance"]["floor_amps"] == pytest.approx(max(leg["planned_amps"] for leg in data["legs_after"]))
    tables = [
        feeder("b", "breaker = { amps = 20, poles = 2 }"),
        circuit("A1", '["L1"]', watts(1800), movable="false"),
        circuit("B1", '["L1"]', watts(1200), fed_from='"b"'),
        circuit("B2", '["L2"]', watts(960), fed_from='"b"', movable="false"),
    ]
    _, data = plan(tmp_path, *tables, words=("--balance",))
    assert data["moves"] == [{"circuit": "B1", "from": "L1", "to": "L2"}]
    assert ("over-continuous", "b/L2") in {(f["code"], f["where"]) for f in data["balance"]["findings_after"]}
