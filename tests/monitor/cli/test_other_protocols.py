"""SunSpec, telegrams and text lines in one show, through the commands as a user gives them."""

from __future__ import annotations

import json
import sqlite3
from contextlib import ExitStack, contextmanager
from typing import TYPE_CHECKING

import pytest

from tests.monitor.cli.test_commands import legwatch
from tests.support.cable import Cable
from tests.support.senders import AskedMeter, printing, printing_tcp
from tests.support.sunspec_devices import image, model, rtu_device, tcp_device
from tests.support.telegrams import checked, readout

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

SHOW = """
[show]
name = "Boathouse"
region = "europe"
timezone = "Europe/Oslo"
[source]
name = "House supply"
kind = "house"
system = "400Y/230"
amps_per_leg = 63
[[circuit]]
id = "A1"
fed_from = "source"
legs = ["L1"]
breaker = {{ amps = 16, class = "C" }}
[[circuit]]
id = "A2"
fed_from = "source"
legs = ["L2"]
breaker = {{ amps = 16, class = "C" }}
[[circuit]]
id = "A3"
fed_from = "source"
legs = ["L3"]
breaker = {{ amps = 16, class = "C" }}
[[circuit]]
id = "A4"
fed_from = "source"
legs = ["L1"]
breaker = {{ amps = 16, class = "C" }}
[[circuit]]
id = "A5"
fed_from = "source"
legs = ["L2"]
breaker = {{ amps = 16, class = "C" }}
[[bus]]
id = "house"
protocol = "sunspec-tcp"
tcp = "127.0.0.1:{tcp}"
[[bus]]
id = "rack"
protocol = "sunspec-rtu"
port = "{rtu}/near"
baud = 115200
[[bus]]
id = "head"
protocol = "iec62056-21"
port = "{head}/near"
[[bus]]
id = "p1"
protocol = "iec62056-21"
port = "{p1}/near"
baud = 115200
[[bus]]
id = "box"
protocol = "text"
port = "{box}/near"
baud = 115200
[[bus]]
id = "wifi"
protocol = "text"
tcp = "127.0.0.1:{wifi}"
[[meter]]
bus = "house"
unit = 1
points = {{ l1 = "source/L1", l2 = "source/L2", l3 = "source/L3" }}
[[meter]]
bus = "rack"
unit = 1
points = {{ total = "A1" }}
[[meter]]
bus = "head"
points = {{ l1 = "A2" }}
[[meter]]
bus = "p1"
points = {{ l3 = "A3" }}
[[meter]]
bus = "box"
map = "text-lines"
points = {{ ch1 = "A4" }}
[[meter]]
bus = "wifi"
map = "own"
points = {{ load = "A5" }}
"""
OWN = """
[meter]
name = "Own box"
source = "invented for this test"
protocol = "text"
[[value]]
channel = "load"
quantity = "volts"
field = "mains.v"
[[value]]
channel = "load"
quantity = "amps"
field = "mains.i"
unit = "mA"
[[example]]
text = '{"mains": {"v": 230.5, "i": 4200}}'
expect = { load = { volts = 230.5, amps = 4.2 } }
"""
WYE = {
    "AphA": 101, "AphB": 102, "AphC": 103, "A_SF": -1, "PhVphA": 2301, "PhVphB": 2302, "PhVphC": 2303, "V_SF": -1,
    "Hz": 5000, "Hz_SF": -2, "WphA": 2300, "WphB": 2310, "WphC": 2320, "W_SF": 0,
}  # fmt: skip
ONE = {"A": 71, "A_SF": -1, "PhV": 2311, "V_SF": -1, "Hz": 5002, "Hz_SF": -2, "W": 1640, "W_SF": 0}
EXPECTED = {
    "source/L1": (230.1, 10.1, 50.0, 2300.0),
    "source/L2": (230.2, 10.2, 50.0, 2310.0),
    "source/L3": (230.3, 10.3, 50.0, 2320.0),
    "A1": (231.1, 7.1, 50.02, 1640.0),
    "A2": (231.4, 12.25, 50.01, 2800.0),
    "A3": (229.0, 5.5, None, 1250.0),
    "A4": (230.4, 3.25, 49.99, 748.0),
    "A5": (230.5, 4.2, None, None),
}
ASKED = readout("1-0:32.7.0(231.4*V)", "1-0:31.7.0(12.25*A)", "1-0:21.7.0(2.800*kW)", "1-0:14.7.0(50.01*Hz)")
SENT = checked("1-0:72.7.0(229.0*V)\n1-0:71.7.0(5.5*A)\n1-0:61.7.0(1.250*kW)\n1-0:62.7.0(0.000*kW)")
PRINTED = b"v1=230.4,a1=3.25,w1=748,hz=49.99\r\n"
WIFI = b'{"mains": {"v": 230.5, "i": 4200}}\n'


@contextmanager
def boathouse(directory: Path) -> Iterator[Path]:
    """Set up a far end for each bus, and a show file that names them."""
    with ExitStack() as stack:
        cables = {}
        for name in ("rtu", "head", "p1", "box"):
            (directory / name).mkdir()
            cables[name] = stack.enter_context(Cable(directory / name))
        stack.enter_context(rtu_device(image(model(201, ONE)), 40_000, cables["rtu"].far))
        head = cables["head"]
        stack.enter_context(AskedMeter(head.far, head.near, b"/XMP5EXAMPLE\r\n", lambda _: [ASKED], b"\x06050\r\n"))
        stack.enter_context(printing(cables["p1"].far, lambda _: SENT, 0.5))
        stack.enter_context(printing(cables["box"].far, lambda _: PRINTED, 0.5))
        tcp = stack.enter_context(tcp_device(image(model(203, WYE)), 0))
        wifi = stack.enter_context(printing_tcp(lambda _: WIFI, 0.5))
        names = {name: str(directory / name) for name in cables}
        (directory / "own.toml").write_text(OWN, encoding="utf-8")
        show = directory / "boathouse.toml"
        show.write_text(SHOW.format(tcp=tcp, wifi=wifi, **names), encoding="utf-8")
        yield show


def test_once(tmp_path: Path) -> None:
    """``log --once --json`` has every point, of every protocol; exit 0."""
    with boathouse(tmp_path) as show:
        result = legwatch("log", show, "--once", "--json")
    assert result.returncode == 0, result.stdout + result.stderr
    rows = json.loads(result.stdout)["readings"]
    assert {r["point"]: r["quality"] for r in rows} == dict.fromkeys(EXPECTED, "good")
    found = {r["point"]: tuple(r[q] for q in ("volts", "amps", "hertz", "watts")) for r in rows}
    assert found == {point: pytest.approx(values) for point, values in EXPECTED.items()}


def test_check(tmp_path: Path) -> None:
    """``check`` reads them all and names each."""
    with boathouse(tmp_path) as show:
        result = legwatch("check", show)
    assert result.returncode == 0, result.stdout + result.stderr
    assert all(point in result.stdout for point in EXPECTED)


def test_a_log(tmp_path: Path) -> None:
    """The logger writes readings of every point, good ones with these numbers and no others."""
    log = tmp_path / "boathouse.sqlite"
    with boathouse(tmp_path) as show:
        result = legwatch("log", show, "--log", log, "--seconds", "8")
    assert result.returncode == 0, result.stdout + result.stderr
    with sqlite3.connect(log) as database:
        rows = database.execute(
            "select point, volts, amps, hertz, watts, count(*) from readings "
            "where quality = 'good' group by 1, 2, 3, 4, 5"
        ).fetchall()
    assert {row[0]: row[1:5] for row in rows} == {point: pytest.approx(v) for point, v in EXPECTED.items()}
    assert len(rows) == len(EXPECTED)
    assert min(row[5] for row in rows) >= 2


def test_faults_of_each_kind_say_where_and_what_to_do(tmp_path: Path) -> None:
    """A show file with a mistake on each of the new buses: all of them at once, with line and key; exit 1."""
    text = SHOW.format(tcp=1, wifi=1, rtu="/x", head="/y", p1="/z", box="/w")
    for old, new in (
        ('total = "A1"', 'totl = "A1"'),
        ('points = {{ l1 = "A2" }}'.format(), 'points = { L1 = "A2" }'),
        ('map = "own"', 'map = "ownn"'),
        ('unit = 1\npoints = { l1 = "source/L1"', 'points = { l1 = "source/L1"'),
    ):
        assert old in text
        text = text.replace(old, new)
    (tmp_path / "own.toml").write_text(OWN, encoding="utf-8")
    show = tmp_path / "show.toml"
    show.write_text(text, encoding="utf-8")
    result = legwatch("check", show)
    assert result.returncode == 1
    told = result.stdout + result.stderr
    for key in ("meter[1].unit", "meter[2].points.totl", "meter[3].points.L1", "meter[6].map"):
        assert key in told
    assert 'did you mean "own"?' in told
