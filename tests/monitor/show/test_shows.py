"""Whole show files: what is written arrives in the dataclasses, defaults filled in."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from drivers.bus.settings import BusSettings
from drivers.files.faults import FileFaults
from monitor.places import data
from monitor.show.draft import KEYS
from monitor.show.loading import load_show, load_show_text
from monitor.show.model import Breaker, Cable, Fuel, Gate, Load, Point
from tests.monitor.show.files import BASE, MAPS, change, faults_of, load

if TYPE_CHECKING:
    from pathlib import Path

EXAMPLES = ("example-show.toml", "example-show-europe.toml")

# The file as the project's design first sketched it, with the circuit it left out.
SKETCH = """
[show]
name = "Tram depot, nights"
region = "north-america"
timezone = "America/Halifax"
[source]
name = "Towable set"
kind = "generator"
system = "120/240"
hertz = 60
rated_kw = 20
rated_kva = 25
amps_per_leg = 104
governor = "isochronous"
performance_class = "G2"
fuel = { kind = "diesel", tank_litres = 110, usable_percent = 90, litres_per_hour = { 25 = 2.3, 50 = 3.4, 75 = 4.9, 100 = 6.1 } }
[[feeder]]
id = "boxA"
fed_from = "source"
breaker = { amps = 60, standard = "UL 489", poles = 2 }
cable = { awg = 6, metres = 30 }
[[circuit]]
id = "A1"
name = "Key side"
fed_from = "boxA"
legs = ["L1"]
breaker = { amps = 20, standard = "UL 489" }
cable = { awg = 12, metres = 15 }
volts_tap = "load"
tags = ["motor"]
load = [ { name = "LED panel 600", watts = 600, power_factor = 0.97, count = 2 } ]
[[circuit]]
id = "A2"
fed_from = "boxA"
legs = ["L1", "L2"]
breaker = { amps = 20 }
[[bus]]
id = "rs485"
port = "/dev/serial/by-id/usb-..."
protocol = "modbus-rtu"
baud = 9600
parity = "N"
[[meter]]
bus = "rs485"
unit = 1
map = "three-channel"
powered_from = "source"
points = { ch1 = "A1", ch2 = "A2", ch3 = "boxA/L1" }
[alarms]
continuous_percent = 80
"""  # noqa: E501 - one line in the sketch


def test_the_sketch() -> None:
    """Every name of the sketch means what it says."""
    show = load(SKETCH)
    assert (show.name, show.region, show.timezone) == ("Tram depot, nights", "north-america", "America/Halifax")
    source = show.source
    assert (source.system, source.legs, source.hertz, source.amps_per_leg) == ("120/240", ("L1", "L2"), 60, 104)
    assert (source.rated_kw, source.rated_kva, source.governor, source.performance_class) == (
        20,
        25,
        "isochronous",
        "G2",
    )
    assert source.fuel == Fuel(110, ((25, 2.3), (50, 3.4), (75, 4.9), (100, 6.1)), "diesel", 90)
    (box,) = show.feeders
    assert (box.name, box.legs, box.breaker, box.cable) == (
        "boxA",
        ("L1", "L2"),
        Breaker(60, poles=2),
        Cable(30, awg="6"),
    )
    a1, a2 = show.circuits
    assert (a1.name, a1.legs, a1.breaker, a1.tags) == ("Key side", ("L1",), Breaker(20), frozenset({"motor"}))
    assert a1.load == (Load("LED panel 600", 600, 0.97, 2),)
    assert (a2.name, a2.breaker.poles) == ("A2", 2)
    assert show.buses == (BusSettings("rs485", "modbus-rtu", "/dev/serial/by-id/usb-..."),)
    (meter,) = show.meters
    assert meter.map is not None
    assert meter.points == (("ch1", Point("A1")), ("ch2", Point("A2")), ("ch3", Point("boxA", "L1")))
    assert show.text == SKETCH


def test_the_examples_that_come_with_legwatch() -> None:
    """Both load, from their files, with maps for every meter."""
    for name in EXAMPLES:
        show = load_show(data(f"config/{name}"))
        assert all(meter.map is not None for meter in show.meters)
        assert {point.place for point in show.points()} >= {circuit.id for circuit in show.circuits}


def test_the_examples_show_every_key() -> None:
    """A key that the file may have stands in one of the examples, in use or in a comment beside."""
    words = set(re.findall(r"\w+", "".join(data(f"config/{name}").read_text(encoding="utf-8") for name in EXAMPLES)))
    missing = {key for keys in KEYS.values() for key in keys} - words
    assert missing == set()


def test_europe() -> None:
    """Region europe picks 50 Hz, IEC 60898-1 and its own settings; a circuit takes the one leg of its feeder."""
    show = load_show(data("config/example-show-europe.toml"))
    by_id = {circuit.id: circuit for circuit in show.circuits}
    assert show.source.hertz == 50
    assert (by_id["P1"].breaker.standard, by_id["P1"].breaker.curve) == ("IEC 60898-1", "C")
    assert (by_id["Q2"].legs, by_id["P3"].breaker.poles) == (("L3",), 3)
    assert by_id["Q1"].breaker.gates[2] == Gate(12, None, 0.1)
    assert (show.setting("continuous_percent"), show.setting("volts_low_percent")) == (100, 90)


def test_one_leg_system() -> None:
    """On 230 V nothing needs legs; the source's one leg may be named or not."""
    show = load(
        """
        show = { name = "Kiosk", region = "europe", timezone = "Europe/Vienna" }
        source = { kind = "generator", system = "230", rated_kva = 7, governor = "inverter" }
        circuit = [{ id = "K1", fed_from = "source", breaker = { amps = 16, class = "B", poles = 2 } }]
        bus = [{ id = "net", protocol = "modbus-tcp", tcp = "[2001:db8::7]:1502" }]
        meter = [{ bus = "net", unit = 255, map = "three-channel.toml", points = { ch1 = "source", ch2 = "K1/L1" } }]
        """
    )
    assert show.points() == (Point("source", "L1"), Point("K1"))
    assert (show.buses[0].host, show.buses[0].tcp_port) == ("2001:db8::7", 1502)


def test_points_of_feeders_and_the_neutral() -> None:
    """A feeder with one leg need not name it; "N" is the neutral of a feeder or the source."""
    text = change(BASE, ('ch1 = "A1", ch2 = "A2/L1", ch3 = "A2/L2"', 'ch1 = "boxB", ch2 = "boxA/N", ch3 = "A2"'))
    points = [str(point) for point in load(text).points()]
    assert points == ["boxB/L2", "boxA/N", "A2", "source/L1", "source/L2", "source/N"]


def test_cable_lengths_and_sizes() -> None:
    """Feet become metres (1 ft = 0.3048 m, international foot); gauges keep their spelling."""
    cable = load(BASE).circuits[0].cable
    assert cable is not None
    assert cable.awg == "1/0"
    assert cable.metres == pytest.approx(30.48)


def test_a_long_list_of_names_is_cut() -> None:
    """Where no name is near, twenty are named and the rest counted."""
    circuits = "".join(
        f'[[circuit]]\nid = "K{n}"\nfed_from = "source"\nlegs = ["L1"]\nbreaker = {{ amps = 20 }}\n' for n in range(30)
    )
    (fault,) = faults_of(change(BASE, ('ch1 = "A1"', 'ch1 = "-----"')) + circuits)
    assert fault.text.endswith("K14, K15 and 17 more")


def test_fuel_points_rise_in_percent() -> None:
    """The file's order of fuel points does not matter."""
    fuel = load(BASE).source.fuel
    assert fuel is not None
    assert fuel.litres_per_hour == ((25, 2.3), (50, 3.4), (100, 6.1))


@pytest.mark.parametrize(
    ("protocol", "way", "line"),
    [
        ("modbus-ascii", 'port = "/dev/ttyUSB9"', (9600, "E", 7)),
        ("modbus-ascii", 'port = "/dev/ttyUSB9"\nparity = "N"\ndata_bits = 8', (9600, "N", 8)),
        ("sunspec-rtu", 'port = "/dev/ttyUSB9"', (9600, "N", 8)),
        ("sunspec-tcp", 'tcp = "192.0.2.9"', (9600, "N", 8)),
        ("modbus-rtu-over-tcp", 'tcp = "192.0.2.9:4001"', (9600, "N", 8)),
        ("iec62056-21", 'port = "/dev/ttyUSB9"', (300, "E", 7)),
        ("text", 'tcp = "logger.example:7000"', (9600, "N", 8)),
    ],
)
def test_every_protocol(protocol: str, way: str, line: tuple[int, str, int]) -> None:
    """Each protocol loads with the defaults of its line."""
    bus = load(change(BASE, ('protocol = "text"\nport = "/dev/ttyUSB9"', f'protocol = "{protocol}"\n{way}'))).buses[2]
    assert (bus.protocol, bus.baud, bus.parity, bus.data_bits) == (protocol, *line)


SPARE = 'protocol = "text"\nport = "/dev/ttyUSB9"'


def test_a_sunspec_meter_needs_no_map() -> None:
    """The meter itself says where its registers are."""
    extra = '\n[[meter]]\nbus = "spare"\nunit = 1\npoints = { total = "C1" }\n'
    sunspec = 'protocol = "sunspec-rtu"\nport = "/dev/ttyUSB9"'
    meter = load(change(BASE, (SPARE, sunspec)) + extra).meters[2]
    assert (meter.map, meter.fields, meter.points) == (None, None, (("total", Point("C1")),))


def test_a_telegram_meter_needs_neither_map_nor_unit() -> None:
    """Where it names no map, the codes of the one that comes with legwatch are read."""
    extra = '\n[[meter]]\nbus = "spare"\npoints = { total = "C1" }\n'
    meter = load(change(BASE, (SPARE, SPARE.replace("text", "iec62056-21"))) + extra).meters[2]
    assert meter.fields is not None
    assert (meter.map, meter.fields.channels) == (None, ("l1", "l2", "l3", "total"))


@pytest.mark.parametrize(
    ("protocol", "meter", "key", "told"),
    [
        ("text", 'points = { ch1 = "C1" }', "map", "text needs a map: known here: text-lines"),
        ("text", 'map = "text-lines"\npoints = { ch7 = "C1" }', "points.ch7", 'no channel "ch7"; did you mean "ch'),
        ("text", 'map = "three-channel"\npoints = { ch1 = "C1" }', "map", '"three-channel" maps modbus'),
        ("iec62056-21", 'points = { L1 = "C1" }', "points.L1", 'did you mean "l1"?'),
        ("sunspec-rtu", 'unit = 1\nmap = "telegram"\npoints = { l1 = "C1" }', "map", "take it out"),
        ("sunspec-rtu", 'unit = 1\npoints = { l4 = "C1" }', "points.l4", "known here: l1, l2, l3, total"),
        ("sunspec-rtu", 'points = { l1 = "C1" }', "unit", "needs the meter's unit number"),
        ("modbus-rtu", 'unit = 1\nmap = "text-lines"\npoints = { ch1 = "C1" }', "map", "the bus speaks modbus-rtu"),
    ],
)
def test_a_meter_that_does_not_fit_its_bus(protocol: str, meter: str, key: str, told: str) -> None:
    """What is missing or wrong, and what would do."""
    text = change(BASE, (SPARE, SPARE.replace("text", protocol)))
    with pytest.raises(FileFaults) as found:
        load(f'{text}\n[[meter]]\nbus = "spare"\n{meter}\n')
    (fault,) = found.value.faults
    assert (fault.key, fault.line is not None) == (f"meter[3].{key}", True)
    assert told in fault.text


@pytest.mark.parametrize("unit", ["", "unit = 2\n"])
def test_one_meter_on_a_bus_where_meters_send(unit: str) -> None:
    """Two would read each other's lines, whatever numbers they are given."""
    meter = '\n[[meter]]\nbus = "spare"\nmap = "text-lines"\n'
    with pytest.raises(FileFaults) as found:
        load(f'{BASE}{meter}points = {{ ch1 = "C1" }}\n{meter}{unit}points = {{ ch2 = "B1" }}\n')
    (fault,) = [fault for fault in found.value.faults if fault.key == "meter[4].bus"]
    assert "one meter a bus" in fault.text


def test_text_over_tcp_needs_its_port() -> None:
    """No port is usual for it."""
    text = change(BASE, (SPARE, 'protocol = "text"\ntcp = "192.0.2.9"'))
    with pytest.raises(FileFaults, match="has no usual port"):
        load(text)


def test_a_map_beside_the_show_file_goes_first(tmp_path: Path) -> None:
    """The name is looked for beside the show file before it is among legwatch's own."""
    folder = tmp_path
    own = (MAPS / "three-channel.toml").read_text(encoding="utf-8").replace('name = "', 'name = "Own ', 1)
    (folder / "three-channel.toml").write_text(own, encoding="utf-8")
    (folder / "show.toml").write_text(BASE, encoding="utf-8")
    meter_map = load_show(folder / "show.toml").meters[0].map
    assert meter_map is not None
    assert meter_map.name.startswith("Own ")


def test_a_logged_text_loads_without_its_maps() -> None:
    """An attached screen has the text and no maps: meters come without, everything else is the same."""
    text = change(BASE, ('"three-channel"', '"somewhere/else"'), ('ch1 = "A1"', 'k9 = "A1"'))
    show = load_show_text(text, "log", with_maps=False)
    assert [meter.map for meter in show.meters] == [None, None]
    assert show.points() == load(BASE).points()


def test_windows_line_ends_and_mark(tmp_path: Path) -> None:
    """A file with a byte order mark and CRLF loads as its plain twin does."""
    path = tmp_path / "show.toml"
    path.write_bytes(b"\xef\xbb\xbf" + BASE.replace("\n", "\r\n").encode())
    assert load_show(path) == load(BASE)
