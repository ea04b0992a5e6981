"""The load schedule: its figures against arithmetic and published examples, its findings, its forms."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest
from rich.cells import cell_len

from drivers.files.faults import FileFaults
from monitor.plan.loadlist import to_csv, with_loads
from monitor.plan.schedule import make_schedule
from monitor.plan.text import plan_lines
from monitor.show.loading import load_show_text
from tests.monitor.plan.shows import HEAD, LEGWATCH, circuit, codes, plan, watts


def test_amps_are_watts_over_volts_and_power_factor(tmp_path: Path) -> None:
    """1200 W at power factor 0.8 on 120 V is 12.5 A; paper amps are watts / 100 (common practice, no source)."""
    code, data = plan(tmp_path, circuit("A1", '["L1"]', watts(1200, 0.8)))
    row = data["circuits"][0]
    assert code == 0
    assert row["planned_amps"] == pytest.approx(12.5)
    assert row["paper_amps"] == pytest.approx(12.0)
    assert row["continuous_limit_amps"] == pytest.approx(16.0)
    assert row["headroom_amps"] == pytest.approx(3.5)
    assert row["planned_watts"] == 1200
    assert data["source"]["planned_kw"] == pytest.approx(1.2)
    assert data["source"]["planned_kva"] == pytest.approx(1.5)


@pytest.mark.parametrize(
    ("amps", "neutral"),
    # Wye neutrals as published: 5/8/10 A give 4.36 A; 10/15/20 give 8.66; 5/5/0 give 5; 5/5/5 give 0 (standards of
    # linear loads at one power factor; textbook pages and a trade forum).
    [((5, 8, 10), 4.3589), ((10, 15, 20), 8.6603), ((5, 5, 0), 5.0), ((5, 5, 5), 0.0)],
)
def test_wye_neutral_as_published(amps: tuple[int, ...], neutral: float, tmp_path: Path) -> None:
    """The planned neutral of a 208Y/120 source."""
    tables = [circuit(f"A{n}", f'["L{n}"]', watts(120 * a)) for n, a in enumerate(amps, 1) if a]
    _, data = plan(tmp_path, *tables, head={"system": "208Y/120"})
    assert data["neutral_amps"] == pytest.approx(neutral, abs=1e-3)
    assert [leg["planned_amps"] for leg in data["legs"]] == pytest.approx(list(amps))


def test_drop_as_published(tmp_path: Path) -> None:
    """16 AWG, 100 ft one way, 4 A: 3.992 V (NEC table 8's 4.99 ohm/kft in a published worked example, "4.0 V")."""
    _, data = plan(tmp_path, circuit("A1", '["L1"]', watts(480), cable="{ awg = 16, feet = 100 }"))
    assert data["circuits"][0]["drop_volts"] == pytest.approx(3.992, abs=1e-3)
    assert data["circuits"][0]["drop_percent"] == pytest.approx(100 * 3.992 / 120, abs=1e-3)


def test_european_circuit_has_no_80_percent_rule(tmp_path: Path) -> None:
    """230 V: amps are watts / 230, and the continuous limit is the rating itself."""
    extra = {"breaker": '{ amps = 16, class = "C" }'}
    code, data = plan(
        tmp_path, circuit("A1", '["L1"]', watts(3450), **extra), head={"region": "europe", "system": "230"}
    )
    assert data["circuits"][0]["planned_amps"] == pytest.approx(15.0)
    assert data["circuits"][0]["continuous_limit_amps"] == pytest.approx(16.0)
    assert code == 0


def test_feeders_add_up_by_leg_and_two_hot_loads_leave_the_neutral_alone(tmp_path: Path) -> None:
    """A 240 V load of 10 A stands on both legs of its box and not in its neutral."""
    box = '[[feeder]]\nid = "boxA"\nfed_from = "source"\nbreaker = { amps = 60, poles = 2 }\n'
    _, data = plan(
        tmp_path,
        box,
        circuit("A1", '["L1", "L2"]', watts(2400), fed_from='"boxA"'),
        circuit("A2", '["L1"]', watts(600), fed_from='"boxA"'),
    )
    feeder = data["feeders"][0]
    assert feeder["planned_amps_by_leg"] == pytest.approx({"L1": 15.0, "L2": 10.0})
    assert feeder["neutral_amps"] == pytest.approx(5.0)
    assert feeder["planned_watts"] == 3000
    assert feeder["headroom_amps"] == pytest.approx(48.0 - 15.0)


@pytest.mark.parametrize(
    ("tables", "head", "expected"),
    [
        ([circuit("A1", '["L1"]', watts(2040))], {}, ("over-continuous", "A1")),
        ([circuit("A1", '["L1"]', watts(2520))], {}, ("over-rating", "A1")),
        ([circuit("A1", '["L1"]', watts(480), cable="{ awg = 16, metres = 9 }")], {}, ("breaker-above-cable", "A1")),
        ([circuit("A1", '["L1"]', watts(1800), cable="{ awg = 12, metres = 60 }")], {}, ("drop-branch", "A1")),
        ([circuit("A1", '["L1"]', watts(1800), cable="{ awg = 12, metres = 80 }")], {}, ("drop-total", "A1")),
        ([circuit("A1", '["L1"]', watts(1800))], {"kw": "1"}, ("source-over-rating", "source")),
        ([circuit("A1", '["L1"]', watts(1800))], {"kw": "20"}, ("source-low-load", "source")),
        ([circuit("A1", '["L1"]', watts(1800))], {"kw": "2"}, ("source-high-load", "source")),
        ([circuit("A1", '["L1"]', watts(1800))], {"more": "amps_per_leg = 20"}, ("unbalanced", "source")),
        ([circuit("A1", '["L1"]', watts(1800))], {"more": "amps_per_leg = 14"}, ("leg-over-rating", "source/L1")),
        (
            [circuit("A1", '["L1"]', watts(600, 0.7, kind='"motor"', start_multiple="6"))],
            {"more": "amps_per_leg = 30"},
            ("motor-start", "source/L1"),
        ),
        (
            [circuit("A1", '["L1"]', watts(1800))],
            {"more": "fuel = { tank_litres = 10, litres_per_hour = { 25 = 2.3, 100 = 6.1 } }"},
            ("fuel-day", "source"),
        ),
        (
            [circuit("A1", '["L1"]', watts(1800))],
            {"more": "fuel = { tank_litres = 10, litres_per_hour = { 25 = 2.3, 100 = 2.0 } }"},
            ("fuel-points", "source"),
        ),
    ],
)
def test_each_finding(tables: list[str], head: dict[str, str], expected: tuple[str, str], tmp_path: Path) -> None:
    """Each finding shows where its condition holds; only what is wrong makes the exit code 1."""
    code, data = plan(tmp_path, *tables, head=head)
    assert expected in codes(data)
    assert (code == 1) == any(f["severity"] == "wrong" for f in data["findings"])


def test_fuel_points_without_rated_kw_are_told(tmp_path: Path) -> None:
    """A set rated in kVA alone: its points can't be used, and the plan says so instead of leaving fuel out."""
    fuel = "fuel = { tank_litres = 10, litres_per_hour = { 50 = 3.4, 100 = 6.1 } }"
    head = {"kw": f"10\nrated_kva = 25\n{fuel}"}
    code, data = plan(tmp_path, circuit("A1", '["L1"]', watts(600)), head=head)
    assert (code, ("fuel-points", "source") in codes(data)) == (0, False)
    text = (tmp_path / "show.toml").read_text(encoding="utf-8").replace("rated_kw = 10\n", "")
    (tmp_path / "kva.toml").write_text(text, encoding="utf-8")
    result = subprocess.run(
        [LEGWATCH, "plan", str(tmp_path / "kva.toml")], capture_output=True, text=True, timeout=30, check=False
    )
    assert result.returncode == 0
    assert "no fuel is worked out; add rated_kw" in " ".join(result.stdout.split())


def test_one_motor_start_is_one_finding(tmp_path: Path) -> None:
    """A motor on three legs stands against the leg that carries most, once."""
    motor = watts(6000, 0.8, kind='"motor"', start_multiple="6")
    table = circuit("A1", '["L1", "L2", "L3"]', motor, breaker="{ amps = 40 }")
    head = {"system": "208Y/120", "more": "amps_per_leg = 60"}
    _, data = plan(tmp_path, table, circuit("A2", '["L2"]', watts(600)), head=head)
    assert [f["where"] for f in data["findings"] if f["code"] == "motor-start"] == ["source/L2"]


def test_a_modest_plan_has_no_findings(tmp_path: Path) -> None:
    """Nothing stands out where nothing should."""
    tables = [circuit(f"A{n}", f'["L{1 + n % 2}"]', watts(1500)) for n in range(4)]
    code, data = plan(tmp_path, *tables, head={"kw": "10"})
    assert (code, data["findings"]) == (0, [])


def test_add_names_the_limiting_place(tmp_path: Path) -> None:
    """The box's leg has less room than the circuit: it is the one that is named."""
    box = '[[feeder]]\nid = "boxA"\nfed_from = "source"\nbreaker = { amps = 30, poles = 2 }\n'
    tables = [box, *(circuit(f"A{n}", '["L1"]', watts(1200), fed_from='"boxA"') for n in (1, 2))]
    code, data = plan(tmp_path, *tables, words=("--add", "A1=600W"))
    assert code == 1
    assert data["add"]["fits"] is False
    assert data["add"]["limited_by"] == "boxA/L1"
    assert data["add"]["headroom_amps"] == pytest.approx(4.0)
    fits, data = plan(tmp_path, *tables, words=("--add", "A1=0.36kW@0.9"))
    assert fits == 0
    assert data["add"]["added_amps"] == pytest.approx(360 / 0.9 / 120)


def test_balance_moves_as_few_as_possible(tmp_path: Path) -> None:
    """15 + 5 + 10 A on L1, nothing on L2: one move of the 15 A circuit makes both legs even."""
    sizes = {"A1": 1800, "A2": 600, "A3": 1200}
    _, data = plan(tmp_path, *(circuit(n, '["L1"]', watts(w)) for n, w in sizes.items()), words=("--balance",))
    assert data["moves"] == [{"circuit": "A1", "from": "L1", "to": "L2"}]
    assert {leg["leg"]: leg["planned_amps"] for leg in data["legs_after"]} == pytest.approx({"L1": 15.0, "L2": 15.0})


@pytest.mark.parametrize(("words", "told"), [("A9=100W", "A1"), ("A1=12", "ID=WATTS"), ("A1=100W@0", "power factor")])
def test_a_wrong_add_is_used_wrongly(words: str, told: str, tmp_path: Path) -> None:
    """An unknown circuit, no unit, a power factor of nothing: one message, exit 2."""
    path = tmp_path / "show.toml"
    head = HEAD.format(region="north-america", system="120/240", kw="20", more="")
    path.write_text(head + circuit("A1", '["L1"]', watts(100)), encoding="utf-8")
    result = subprocess.run(
        [LEGWATCH, "plan", str(path), "--add", words], capture_output=True, text=True, timeout=30, check=False
    )
    assert result.returncode == 2
    assert told in result.stderr


@pytest.mark.parametrize("width", [80, 120])
def test_printed_plan_keeps_its_width(width: int, tmp_path: Path) -> None:
    """Every line of the example's plan fits its columns; the cautions close it."""
    example = Path(__file__).parents[3] / "config/example-show.toml"
    words = [LEGWATCH, "plan", str(example), "--width", str(width), "--balance", "--add", "W1=100W"]
    result = subprocess.run(words, capture_output=True, text=True, timeout=30, check=False, cwd=tmp_path)
    lines = result.stdout.splitlines()
    assert max(map(len, lines[:-1])) <= width
    assert "Window side" in result.stdout
    assert "no protective device" in lines[-1]


def test_printed_names_keep_their_columns() -> None:
    """Wide and combining signs take the cells that a terminal gives them; circuits stand by their boxes."""
    names = {"A1": "電燈 照明 電燈 照明", "B1": "e\u0301clairage", "A2": "Key side"}
    boxes = [f'[[feeder]]\nid = "{box}"\nfed_from = "source"\nbreaker = {{ amps = 60 }}' for box in ("A", "B")]
    tables = [
        f'[[circuit]]\nid = "{id_}"\nname = "{name}"\nfed_from = "{id_[0]}"\nlegs = ["L1"]\nbreaker = {{ amps = 20 }}'
        for id_, name in names.items()
    ]
    head = HEAD.format(region="north-america", system="120/240", kw="20", more="")
    show = load_show_text("\n".join([head, *boxes, *tables]), "show.toml")
    lines = list(plan_lines(make_schedule(show), ()))
    rows = [line for line in lines if line.startswith(tuple(names))]
    assert [row[:2] for row in rows] == ["A1", "A2", "B1"]
    assert len({cell_len(row[: row.index(" L1 ")]) for row in rows}) == 1


SHOW = HEAD.format(region="north-america", system="120/240", kw="20", more="") + "\n".join(
    (circuit("A1", '["L1"]', watts(1200, 0.9)), circuit("A2", '["L2"]', watts(600)))
)


def test_a_load_list_comes_back_as_it_went_out(tmp_path: Path) -> None:
    """Out to CSV and in again: the same plan."""
    motor = circuit("A3", '["L2"]', watts(1234.56789, 0.8125, kind='"motor"', start_multiple="6.5", count="3"))
    show = load_show_text(SHOW + motor, "show.toml")
    path = tmp_path / "loads.csv"
    path.write_text(to_csv(show), encoding="utf-8")
    assert with_loads(show, path).circuits == show.circuits


def test_a_load_list_from_a_spreadsheet_with_semicolons(tmp_path: Path) -> None:
    """Semicolons, decimal commas, a byte order mark and columns in another order are read."""
    path = tmp_path / "loads.csv"
    path.write_text("\ufeffName;Circuit;Watts;Count\nPanel;A2;300,5;2\n", encoding="utf-8")
    show = with_loads(load_show_text(SHOW, "show.toml"), path)
    assert [(c.id, [(p.name, p.watts, p.count) for p in c.load]) for c in show.circuits] == [
        ("A1", []),
        ("A2", [("Panel", 300.5, 2)]),
    ]


def test_every_fault_of_a_load_list_with_its_line(tmp_path: Path) -> None:
    """Three bad rows are three faults at their lines; nothing is half taken."""
    path = tmp_path / "loads.csv"
    path.write_text("circuit,name,watts\nA9,x,1\nA1,y,many\nA2,z,5\nA2,z,-5\n", encoding="utf-8")
    with pytest.raises(FileFaults) as caught:
        with_loads(load_show_text(SHOW, "show.toml"), path)
    assert [fault.line for fault in caught.value.faults] == [2, 3, 5]
    assert '"A9"' in caught.value.faults[0].text


def test_a_load_list_without_its_columns(tmp_path: Path) -> None:
    """A missing and a misspelt column are named together."""
    path = tmp_path / "loads.csv"
    path.write_text("circuit,name,wats\n", encoding="utf-8")
    with pytest.raises(FileFaults, match=r"(?s)\"watts\" is missing.*did you mean \"watts\""):
        with_loads(load_show_text(SHOW, "show.toml"), path)
