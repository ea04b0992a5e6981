"""Show file texts for these tests, and a way to break them at a known line."""

from __future__ import annotations

from typing import TYPE_CHECKING

from drivers.files.faults import Fault, FileFaults
from monitor.places import data
from monitor.show.loading import load_show_text

if TYPE_CHECKING:
    from monitor.show.model import Show

MAPS = data("config/meters")
HERE = "#HERE"  # marks, in a replacement, the line where a fault must be told

BASE = """\
[show]
name = "Quarry concert"
region = "north-america"
timezone = "America/Halifax"

[source]
name = "Towed set"
kind = "generator"
system = "120/240"
rated_kw = 20
rated_kva = 25
fuel = { tank_litres = 110, litres_per_hour = { 50 = 3.4, 100 = 6.1, 25 = 2.3 } }

[[feeder]]
id = "boxA"
fed_from = "source"
breaker = { amps = 60, poles = 2 }
cable = { awg = 6, metres = 30 }

[[feeder]]
id = "boxB"
fed_from = "boxA"
legs = ["L2"]

[[circuit]]
id = "A1"
fed_from = "boxA"
legs = ["L1"]
breaker = { amps = 20 }
cable = { awg = "1/0", feet = 100 }
load = [
    { name = "Panel", watts = 600, count = 2 },
    { name = "Heater", watts = 1500, kind = "resistive" },
]

[[circuit]]
id = "A2"
fed_from = "boxA"
legs = ["L1", "L2"]
breaker = { amps = 30 }

[[circuit]]
id = "B1"
fed_from = "boxB"
breaker = { amps = 15 }
alarms = { over_plan_amps = 5 }

[[circuit]]
id = "C1"
fed_from = "source"
legs = ["L1"]
breaker = { amps = 50 }

[[bus]]
id = "line"
protocol = "modbus-rtu"
port = "/dev/ttyUSB0"

[[bus]]
id = "net"
protocol = "modbus-tcp"
tcp = "192.0.2.7"

[[bus]]
id = "spare"
protocol = "text"
port = "/dev/ttyUSB9"

[[meter]]
bus = "line"
unit = 1
map = "three-channel"
points = { ch1 = "A1", ch2 = "A2/L1", ch3 = "A2/L2" }

[[meter]]
bus = "net"
unit = 1
map = "two-leg-source"
powered_from = "B1"
points = { L1 = "source/L1", L2 = "source/L2", N = "source/N" }

[alarms]
continuous_percent = 90

[log]
keep_days = 30
"""


def load(text: str, *, with_maps: bool = True) -> Show:
    """Load ``text``, with the maps that come with legwatch unless told otherwise."""
    return load_show_text(text, "quarry.toml", [MAPS], with_maps=with_maps)


def change(text: str, *changes: tuple[str, str]) -> str:
    """Replace each first text, which must stand in ``text`` exactly once, by the second."""
    for old, new in changes:
        assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times"
        text = text.replace(old, new)
    return text


def faults_of(text: str, *, with_maps: bool = True) -> tuple[Fault, ...]:
    """Give the faults of ``text``; none where it loads."""
    try:
        load(text, with_maps=with_maps)
    except FileFaults as found:
        return found.faults
    return ()


def broken(old: str, new: str) -> tuple[str, int]:
    """Change ``BASE``; give the text and the line of the mark in it, or of the change where there is no mark."""
    text = change(BASE, (old, new))
    at = text.index(HERE) if HERE in text else BASE.index(old)
    return text, text.count("\n", 0, at) + 1
