"""A log of an invented evening with two incidents, for tests of the review, its reports and exports."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from drivers.clock import Instant
from drivers.reading import Quality, Values
from monitor.alarms.model import Alarm, AlarmChange, Priority
from monitor.engine.reading import Reading
from monitor.incidents.model import Found, Kind
from monitor.log.writer import LogWriter
from monitor.show.loading import load_show_text
from monitor.show.model import Point
from tests.monitor.log.findings import found_step, incident
from tests.monitor.log.logs import BEGIN_MS

if TYPE_CHECKING:
    from pathlib import Path

TEXT = """
[show]
name = "Weir <house> & lock"
region = "north-america"
timezone = "America/Halifax"

[source]
name = "Towed set"
kind = "generator"
system = "120/240"
hertz = 60
rated_kw = 20
rated_kva = 20
amps_per_leg = 83
[source.fuel]
kind = "diesel"
tank_litres = 110
litres_per_hour = { 25 = 2.3, 50 = 3.4, 75 = 4.9, 100 = 6.1 }

[[feeder]]
id = "boxA"
fed_from = "source"

[[circuit]]
id = "A1"
name = "Key side"
fed_from = "boxA"
legs = ["L1"]
breaker = { amps = 20 }
load = [{ name = "Key light", watts = 1200 }]

[[circuit]]
id = "A2"
fed_from = "boxA"
legs = ["L2"]
breaker = { amps = 20 }

[[bus]]
id = "rs485"
port = "/dev/ttyUSB0"
protocol = "modbus-rtu"

[[meter]]
bus = "rs485"
unit = 1
map = "three-channel"
powered_from = "source"
points = { ch1 = "A1", ch2 = "A2" }

[[meter]]
bus = "rs485"
unit = 2
map = "three-channel"
powered_from = "source"
points = { ch1 = "source/L1", ch2 = "source/L2" }
"""
SHOW = load_show_text(TEXT, "weir.toml", with_maps=False)
SECONDS, TRIP = 900, 600
HEATER_ON, NO_READINGS = TRIP - 140, range(400, 440)


def values(point: Point, second: int) -> Values:
    """Give what a point measures: a heater comes on at A1, and 140 s later A1 has no volts."""
    if point.place == "source":
        return Values(120.0, 40.0, 60.0, 4000.0)
    amps = 10.0 + (12.5 if point.place == "A1" and second >= HEATER_ON else 0.0)
    gone = point.place == "A1" and second >= TRIP
    return Values(0.0, 0.0, None, 0.0) if gone else Values(119.5, amps, 60.0, 119.5 * amps)


def evening(path: Path, name: str = "log.sqlite") -> Path:
    """Write the log and give its path."""
    log = path / name
    with LogWriter.open(log, SHOW, Instant(BEGIN_MS, 0.0)) as writer:
        for minute in range(SECONDS // 60):
            batch = [
                Reading(point, BEGIN_MS + 1000 * second, float(second), Quality.GOOD, values(point, second))
                for second in range(60 * minute, 60 * minute + 60)
                if second not in NO_READINGS
                for point in SHOW.points()
            ]
            if batch:
                writer.write_cycle(batch, (), Instant(batch[-1].time_ms, batch[-1].mono_s))
        writer.write_cycle((), (), Instant(BEGIN_MS + 1000 * SECONDS, float(SECONDS)), _alarms(), _found())
        writer.note(BEGIN_MS + 300_000, "Ada", "to the <brim>", kind="refuel", number=40.0, quantity="litres")
        writer.note(BEGIN_MS + 500_000, "Noor", "moved the heater", place="A1")
    return log


def _found() -> Found:
    steps = (found_step(60, 1195, 10.0, ("Key light",)), found_step(HEATER_ON, 1494, 12.5))
    trip = incident(1, TRIP, points=(Point("A1"),), end_s=TRIP + 60)
    return Found(steps, (trip, incident(2, 700, Kind.METER_SILENT, (Point("boxA"),))))


def _alarms() -> tuple[AlarmChange, ...]:
    begin_ms = BEGIN_MS + 1000 * HEATER_ON
    raised = Alarm(
        code="above-rating",
        where="A1",
        priority=Priority.HIGH,
        state="unacknowledged",
        since_ms=begin_ms,
        changed_ms=begin_ms + 10_000,
        seen="A1 carries 22.5 A, above its rating of 20 A",
        value=22.5,
        limit=20.0,
    )
    taken = replace(raised, state="acknowledged", who="Ada")
    return (
        AlarmChange(begin_ms + 10_000, raised, "normal"),
        AlarmChange(begin_ms + 40_000, taken, "unacknowledged"),
    )
