"""Each fault of a show file by itself: at its line, under its key, with what would do."""

from __future__ import annotations

from pathlib import Path

import pytest

from drivers.files.faults import FileFaults
from monitor.show.loading import load_show
from tests.monitor.show.files import BASE, broken, change, faults_of

LINE = '[[bus]] #HERE\nid = "line"\nprotocol = "modbus-rtu"'
NET = '[[bus]] #HERE\nid = "net"\nprotocol = "modbus-tcp"'
SOURCE = '[source]\nname = "Towed set"\nkind = "generator"\nsystem = "120/240"'
METER = '[[meter]]\nbus = "line"\nunit = 1'

# What stands in the sound file, what stands there instead, the fault's key, words of its text. The fault's line is the
# one with the mark, else the one of the change.
CASES: list[tuple[str, str, str, str]] = [
    # tables and keys
    ("[log]", "[loq] #HERE", "loq", 'unknown table; did you mean "log"?'),
    ("rated_kva = 25", "rated_kav = 25 #HERE", "source.rated_kav", 'unknown key; did you mean "rated_kva"?'),
    ('kind = "resistive" },', 'kind = "resistive", wats = 1 }, #HERE', "circuit[1].load[2].wats", 'mean "watts"?'),
    ("watts = 600, count = 2 },", "watts = -600, count = 2 }, #HERE", "circuit[1].load[1].watts", "greater than 0"),
    ("count = 2", "count = 0", "circuit[1].load[1].count", "greater than or equal to 1"),
    ('[show]\nname = "Quarry concert"\n', "[show] #HERE\n", "show.name", "is missing"),
    ('name = "Quarry concert"', 'name = " " #HERE', "show.name", "is empty"),
    ('name = "Quarry concert"', "name = 2026-01-01 #HERE", "show.name", "must be text in quotes"),
    ('region = "north-america"', 'region = "asia" #HERE', "show.region", '"north-america" or "europe"'),
    ("rated_kw = 20", 'rated_kw = "20" #HERE', "source.rated_kw", 'found "20"; must be a number'),
    ("rated_kw = 20", "rated_kw = nan #HERE", "source.rated_kw", "must be a finite number"),
    ("rated_kw = 20", "rated_kw = inf #HERE", "source.rated_kw", "must be a finite number"),
    ("rated_kw = 20", "rated_kw = true #HERE", "source.rated_kw", "must be a number"),
    ('unit = 1\nmap = "three', 'unit = 1.5 #HERE\nmap = "three', "meter[1].unit", "must be a whole number"),
    ('system = "120/240"', 'system = "120/208" #HERE', "source.system", '"208Y/120"'),
    ('system = "120/240"', 'system = "120/240"\nhertz = 400 #HERE', "source.hertz", "must be 50 or 60"),
    ("[log]\nkeep_days = 30", "[log]\nkeep_days = 0 #HERE", "log.keep_days", "greater than 0"),
    # show and source
    ('"America/Halifax"', '"America/Halifx" #HERE', "show.timezone", 'did you mean "America/Halifax"?'),
    ('"America/Halifax"', '"America" #HERE', "show.timezone", "no time zone"),
    ('"America/Halifax"', '"../../etc/passwd" #HERE', "show.timezone", "no time zone"),
    ('"America/Halifax"', '"" #HERE', "show.timezone", "no time zone"),
    (f"{SOURCE}\nrated_kw = 20", f"{SOURCE.replace(']', '] #HERE')}\nrated_kw = 35", "source", "are they swapped?"),
    (
        f"{SOURCE}\nrated_kw = 20\nrated_kva = 25",
        SOURCE.replace("]", "] #HERE"),
        "source",
        "needs rated_kw or rated_kva",
    ),
    (f"{SOURCE}", SOURCE.replace("]", "] #HERE").replace("generator", "house"), "source", "fuel: only for"),
    ("50 = 3.4, 100", '50 = 3.4, "50.0" = 3, 100', "source.fuel.litres_per_hour", "50 percent stands twice"),
    ("50 = 3.4, 100", "50 = -3.4, 100", "source.fuel.litres_per_hour", "can't be negative"),
    ("50 = 3.4, 100", "half = 3.4, 100", "source.fuel.litres_per_hour", 'found "half"'),
    ("tank_litres = 110,", "tank_litres = 110, reserve_litres = 120,", "source.fuel", "less than tank_litres"),
    # the tree
    ('id = "C1"', 'id = "A1" #HERE', "circuit[4].id", "already used on line 26"),
    ('id = "C1"', 'id = "boxA" #HERE', "circuit[4].id", "already used on line 15"),
    ('id = "C1"', 'id = "C/1" #HERE', "circuit[4].id", "letters, digits"),
    ('id = "boxB"\nfed_from = "boxA"', 'id = "boxB"\nfed_from = "boxa" #HERE', "feeder[2].fed_from", 'mean "boxA"?'),
    ('fed_from = "boxB"', 'fed_from = "A1" #HERE', "circuit[3].fed_from", "is a circuit"),
    (
        'id = "boxA"\nfed_from = "source"',
        'id = "boxA"\nfed_from = "boxB" #HERE',
        "feeder[1].fed_from",
        "boxA from boxB, boxB from boxA",
    ),
    (
        'id = "boxA"\nfed_from = "source"',
        'id = "boxA"\nfed_from = "boxA" #HERE',
        "feeder[1].fed_from",
        "boxA from boxA",
    ),
    ('legs = ["L2"]', 'legs = ["L3"] #HERE', "feeder[2].legs[1]", "has L1, L2"),
    ('legs = ["L2"]', "legs = [] #HERE", "feeder[2].legs", "is empty"),
    ('legs = ["L1", "L2"]', 'legs = ["L1", "L1"] #HERE', "circuit[2].legs[2]", "stands twice"),
    ('fed_from = "boxB"', 'fed_from = "boxB"\nlegs = ["L1"] #HERE', "circuit[3].legs[1]", "has no L1; it has L2"),
    (
        '[[circuit]]\nid = "B1"\nfed_from = "boxB"',
        '[[circuit]] #HERE\nid = "B1"\nfed_from = "boxA"',
        "circuit[3].legs",
        "is missing; boxA has L1, L2",
    ),
    # what opens, and what carries
    ("amps = 30", "amps = 30, poles = 1", "circuit[2].breaker.poles", "has 2 legs; must be 2"),
    ("poles = 2", "poles = 3", "feeder[1].breaker.poles", "must be 2"),
    ("amps = 30", 'amps = 30, standard = "IEC 60898-1"', "circuit[2].breaker", "class is missing"),
    ("amps = 30", 'amps = 30, class = "C"', "circuit[2].breaker.class", "UL 489 (the default in north-america)"),
    ("amps = 30", 'amps = 30, standard = "custom"', "circuit[2].breaker", "gates are missing"),
    ("amps = 30", "amps = 30, gates = [{ multiple = 2, latest = 60 }]", "circuit[2].breaker.gates", '"custom"'),
    (
        "amps = 30",
        'amps = 30, standard = "custom", gates = [{ multiple = 2, latest = 60 }, { multiple = 3, latest = 90 }]',
        "circuit[2].breaker.gates",
        "more current never takes longer",
    ),
    (
        "amps = 30",
        'amps = 30, standard = "custom", gates = [{ multiple = 2, soonest = 90, latest = 60 }]',
        "circuit[2].breaker.gates[1]",
        "soonest 90 s is after latest 60 s",
    ),
    ("awg = 6,", "awg = 5,", "feeder[1].cable.awg", "must be one of"),
    ("awg = 6,", "awg = 6, mm2 = 16,", "feeder[1].cable", "either awg or mm2"),
    ("metres = 30", "metres = 30, feet = 100", "feeder[1].cable", "either metres or feet"),
    (", metres = 30", "", "feeder[1].cable", "one-way length"),
    # buses and meters
    ('id = "spare"', 'id = "line" #HERE', "bus[3].id", "already used"),
    ('protocol = "modbus-rtu"', 'protocol = "modbus" #HERE', "bus[1].protocol", '"modbus-rtu"'),
    ('[[bus]]\nid = "line"\nprotocol = "modbus-rtu"\nport = "/dev/ttyUSB0"', LINE, "bus[1].port", "is missing"),
    ('[[bus]]\nid = "line"\nprotocol = "modbus-rtu"\nport', f"{LINE}\ntcp", "bus[1].port", "protocol over TCP"),
    ('[[bus]]\nid = "net"\nprotocol = "modbus-tcp"\ntcp', f"{NET}\nport", "bus[2].tcp", "serial protocol"),
    ('tcp = "192.0.2.7"', 'port = "/dev/ttyUSB1"\ntcp = "192.0.2.7" #HERE', "bus[2].tcp", "exclude each other"),
    ('"192.0.2.7"', '"192.0.2.7:70000" #HERE', "bus[2].tcp", "port 1 to 65535"),
    ('"192.0.2.7"', '"2001:db8::7" #HERE', "bus[2].tcp", "[address]:port"),
    ('"192.0.2.7"', '"tcp://192.0.2.7" #HERE', "bus[2].tcp", "host:port"),
    ('tcp = "192.0.2.7"', 'tcp = "192.0.2.7"\nbaud = 960 #HERE', "bus[2].baud", "must be one of"),
    ('bus = "line"', 'bus = "lines" #HERE', "meter[1].bus", 'did you mean "line"?'),
    ('unit = 1\nmap = "three', 'unit = 248 #HERE\nmap = "three', "meter[1].unit", "1 to 247"),
    ('[[meter]]\nbus = "line"\nunit = 1', '[[meter]] #HERE\nbus = "line"', "meter[1].unit", "is missing"),
    ('bus = "net"\nunit = 1', 'bus = "line"\nunit = 1 #HERE', "meter[2].unit", "already the meter on line 71"),
    ('"three-channel"', '"three-chanel" #HERE', "meter[1].map", 'did you mean "three-channel"?'),
    (f'{METER}\nmap = "three-channel"', METER.replace("]]", "]] #HERE"), "meter[1].map", "three-channel"),
    ('powered_from = "B1"', 'powered_from = "box-B" #HERE', "meter[2].powered_from", 'did you mean "boxB"?'),
    # points
    ('ch1 = "A1"', 'ch4 = "A1"', "meter[1].points.ch4", 'no channel "ch4"'),
    ('ch1 = "A1"', 'ch1 = "A9"', "meter[1].points.ch1", 'nothing is called "A9"'),
    ('ch1 = "A1"', 'ch1 = "A1/L2"', "meter[1].points.ch1", 'must be "A1/L1" or "A1"'),
    ('ch1 = "A1"', 'ch1 = "A1/"', "meter[1].points.ch1", 'has no ""'),
    ('ch1 = "A1"', 'ch1 = "A1/N"', "meter[1].points.ch1", 'has no "N"'),
    ('N = "source/N"', 'N = "C1/N"', "meter[2].points.N", 'must be "C1/L1" or "C1"'),
    ('ch2 = "A2/L1", ch3 = "A2/L2"', 'ch2 = "A2/N", ch3 = "A2"', "meter[1].points.ch2", 'has no "N"'),
    ('ch1 = "A1"', 'ch1 = "boxA"', "meter[1].points.ch1", 'name one: "boxA/L1" or "boxA/L2"'),
    ('ch1 = "A1"', 'ch1 = "boxB/L1"', "meter[1].points.ch1", 'must be "boxB/L2"'),
    ('ch1 = "A1"', 'ch1 = "A2"', "meter[1].points.ch1", "both as a whole and by leg"),
    ('ch1 = "A1"', 'ch1 = "A2/L2"', "meter[1].points.ch3", "already measured by ch1"),
    ('N = "source/N"', 'N = "source/L1"', "meter[2].points.N", "source/L1 is already measured by L1"),
    ('N = "source/N"', 'N = "A1/L1"', "meter[2].points.N", "A1 is already measured by ch1 of the meter on line"),
    ('points = { ch1 = "A1", ch2 = "A2/L1", ch3 = "A2/L2" }', "points = {} #HERE", "meter[1].points", "is empty"),
    ("over_plan_amps = 5", "over_plan_amp = 5", "circuit[3].alarms.over_plan_amp", 'did you mean "over_plan_amps"?'),
    ("continuous_percent = 90", "continuous_percent = 900 #HERE", "alarms.continuous_percent", "must be 10 to 125"),
    ("continuous_percent = 90", "continuous_percent = true #HERE", "alarms.continuous_percent", "must be a number"),
    ("continuous_percent = 90", "continuous_percent = nan #HERE", "alarms.continuous_percent", "must be 10 to 125"),
]


@pytest.mark.parametrize(("old", "new", "key", "words"), CASES, ids=[f"{c[2]}: {c[1][:30]}" for c in CASES])
def test_one_fault(old: str, new: str, key: str, words: str) -> None:
    """The fault is the only one, at its line and key, and says what would do."""
    text, line = broken(old, new)
    (fault,) = faults_of(text)
    assert (fault.file, fault.line, fault.key) == ("quarry.toml", line, key)
    assert words in fault.text


def test_the_base_is_sound() -> None:
    """What the cases break is sound before."""
    assert faults_of(BASE) == ()


def test_eight_faults_at_once() -> None:
    """Structural faults, faults between tables and a bad map name are told together, in the order of their lines."""
    text = change(
        BASE,
        ('region = "north-america"', 'region = "antarctica"'),
        ("rated_kva = 25", "rated_kav = 25"),
        ('fed_from = "boxB"', 'fed_from = "boxC"'),
        ("amps = 30", "amps = -30"),
        ('"192.0.2.7"', '"192.0.2.7:0"'),
        ('"three-channel"', '"four-channel"'),
        ('powered_from = "B1"', 'powered_from = "B7"'),
        ("continuous_percent = 90", "continuous_per_cent = 90"),
    )
    faults = faults_of(text)
    assert [fault.key for fault in faults] == [
        "show.region",
        "source.rated_kav",
        "circuit[2].breaker.amps",
        "circuit[3].fed_from",
        "bus[2].tcp",
        "meter[1].map",
        "meter[2].powered_from",
        "alarms.continuous_per_cent",
    ]
    assert [fault.line for fault in faults] == sorted(fault.line or 0 for fault in faults)


def test_one_bad_table_makes_no_faults_elsewhere() -> None:
    """What refers to a table with a fault of its own isn't called unknown."""
    text = change(BASE, ('id = "boxA"', 'id = "boxA"\nname = 3'))
    assert [fault.key for fault in faults_of(text)] == ["feeder[1].name"]


def test_a_file_with_nothing_says_what_it_needs() -> None:
    """An empty file is told of the two tables it must have."""
    assert [(fault.key, fault.line) for fault in faults_of("")] == [("show", None), ("source", None)]


@pytest.mark.parametrize("key", ["feeder", "circuit", "bus", "meter"])
def test_single_brackets_where_there_may_be_several(key: str) -> None:
    """``[circuit]`` for ``[[circuit]]`` is explained."""
    head = BASE[: BASE.index("[[feeder]]")]
    (fault,) = faults_of(f'{head}[{key}]\nid = "x"\n')
    assert f"[[{key}]]" in fault.text
    assert fault.line == head.count("\n") + 1


def test_faults_of_a_map_come_with_those_of_the_show(tmp_path: Path) -> None:
    """A broken register map beside the show file tells its own faults, under its own name, once."""
    (tmp_path / "mine.toml").write_text('[meter]\nname = "Mine"\n', encoding="utf-8")
    show = tmp_path / "show.toml"
    text = change(
        BASE, ('"three-channel"', '"mine"'), ('"two-leg-source"', '"mine.toml"'), ("rated_kw = 20", "kw = 20")
    )
    show.write_text(text, encoding="utf-8")
    with pytest.raises(FileFaults) as found:
        load_show(show)
    files = [Path(fault.file).name for fault in found.value.faults]
    assert files.count("show.toml") == 1
    assert files.count("mine.toml") == len(files) - 1 > 0
    assert len(set(found.value.faults)) == len(found.value.faults)


def test_a_missing_file_is_one_plain_fault(tmp_path: Path) -> None:
    """No traceback for a wrong path."""
    with pytest.raises(FileFaults, match="can't be read: No such file"):
        load_show(tmp_path / "nowhere.toml")
