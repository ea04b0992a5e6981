"""The stage: real ports, real bytes, read by masters that this project did not write, and nothing left behind."""

from __future__ import annotations

import struct
import tempfile
import threading
from pathlib import Path
from shutil import copy
from typing import TYPE_CHECKING

import minimalmodbus
import pytest
from pyModbusTCP.client import ModbusClient

from drivers.clock import monotonic
from monitor.demo.stage import Stage
from monitor.places import data
from monitor.show.loading import load_show
from monitor.show.model import Point

if TYPE_CHECKING:
    from collections.abc import Iterator

WAIT_S = 10.0


@pytest.fixture
def stage() -> Iterator[Stage]:
    """The demo's own stage."""
    with Stage() as running:
        yield running


def serial_master(stage: Stage, unit: int) -> minimalmodbus.Instrument:
    """Open the serial bus with minimalmodbus."""
    bus = next(bus for bus in load_show(stage.show_path).buses if bus.port)
    master = minimalmodbus.Instrument(bus.port, unit)
    master.serial.baudrate, master.serial.parity, master.serial.timeout = bus.baud, bus.parity, 1.0
    master.close_port_after_each_call = True
    return master


def tcp_master(stage: Stage, unit: int) -> ModbusClient:
    """Open the TCP bus with pyModbusTCP."""
    bus = next(bus for bus in load_show(stage.show_path).buses if bus.host)
    return ModbusClient(bus.host, bus.tcp_port, unit_id=unit, timeout=1.0)


def wait_for(stage: Stage, seconds: float) -> None:
    """Wait until the scenario is that far."""
    give_up = monotonic() + WAIT_S
    while stage.at() < seconds:
        assert monotonic() < give_up, "the scenario does not go on"
        threading.Event().wait(0.02)


def near(stage: Stage, point: Point, quantity: str, shown: float, before: float) -> bool:
    """Say whether a figure is within 2 % of what was true while it was read (0.02 A more for small amps)."""
    after = true(stage, point, quantity)
    low, high = sorted((before, after))
    return 0.98 * low - 0.02 <= shown <= 1.02 * high + 0.02


def true(stage: Stage, point: Point, quantity: str) -> float:
    """Give what is true now."""
    return float(getattr(stage.moment.state.at[point], quantity))


def test_serial_meter_shows_the_model(stage: Stage) -> None:
    """Unit 1's float registers (three-channel map: volts, amps, watts, hertz a channel) hold the model's A1 and A3."""
    wait_for(stage, 1.0)
    for channel, place in ((0, "A1"), (2, "A3")):
        for offset, quantity in ((0, "volts"), (2, "amps"), (4, "watts")):
            before = true(stage, Point(place), quantity)
            words = serial_master(stage, 1).read_registers(8 * channel + offset, 2, functioncode=4)
            shown = struct.unpack(">f", struct.pack(">2H", *words))[0]
            assert near(stage, Point(place), quantity, shown, before), (place, quantity, shown, before)
    assert true(stage, Point("A3"), "amps") > 10


def test_serial_meter_with_powers_of_ten(stage: Stage) -> None:
    """Unit 3 (single-circuit map: raw number, power of ten beside it) shows 240 V on the two-hot circuit."""
    wait_for(stage, 1.0)
    before = true(stage, Point("A7"), "volts")
    raw, exponent = serial_master(stage, 3).read_registers(0, 2, functioncode=3)
    shown = raw * 10.0 ** (exponent - 65536 if exponent > 32767 else exponent)
    assert near(stage, Point("A7"), "volts", shown, before)
    assert shown == pytest.approx(240, rel=0.05)


def test_tcp_meters_show_the_model(stage: Stage) -> None:
    """Unit 11 (six-channel map: tenths of a volt from register 101) and unit 12 (floats of the source) over TCP."""
    wait_for(stage, 4.0)
    before = [true(stage, Point("B1"), quantity) for quantity in ("volts", "amps", "watts")]
    client = tcp_master(stage, 11)
    words = client.read_holding_registers(100, 3)
    for quantity, word, scale, was in zip(("volts", "amps", "watts"), words, (0.1, 0.01, 1.0), before, strict=True):
        assert near(stage, Point("B1"), quantity, word * scale, was)
    client.close()
    source = tcp_master(stage, 12)
    was = true(stage, Point("source", "L1"), "amps")
    shown = struct.unpack(">f", struct.pack(">2H", *source.read_input_registers(2, 2)))[0]
    assert near(stage, Point("source", "L1"), "amps", shown, was)
    was = true(stage, Point("source", "N"), "amps")
    shown = struct.unpack(">f", struct.pack(">2H", *source.read_input_registers(20, 2)))[0]
    assert near(stage, Point("source", "N"), "amps", shown, was)
    source.close()


def test_every_meter_of_the_show_answers(stage: Stage) -> None:
    """Each unit that the show names answers on its bus; the show's file tells nothing of a demo to who loads it."""
    show = load_show(stage.show_path)
    assert len(show.circuits) == 12
    assert {point.place for point in show.points()} >= {circuit.id for circuit in show.circuits}
    for meter in show.meters:
        assert meter.map is not None
        first = meter.map.values[0]
        function = 4 if first.table == "input" else 3
        if meter.bus == "line-a":
            assert len(serial_master(stage, meter.unit).read_registers(first.address, 2, functioncode=function)) == 2
        else:
            client = tcp_master(stage, meter.unit)
            read = client.read_input_registers if function == 4 else client.read_holding_registers
            assert len(read(first.address, 2)) == 2
            client.close()


def test_a_meter_that_is_silent_and_answers_again(tmp_path: Path) -> None:
    """While the scenario keeps it silent a read gets nothing, others answer; then it answers again."""
    copy(data("fixtures/demo/show.toml"), tmp_path)
    scenario = data("fixtures/demo/scenario.toml").read_text(encoding="utf-8")
    scenario = scenario.replace("at = 84", "at = 0").replace("at = 106", "at = 30")
    (tmp_path / "scenario.toml").write_text(scenario, encoding="utf-8")
    with Stage(speed=10, folder=tmp_path) as stage:
        silent = serial_master(stage, 2)
        silent.serial.timeout = 0.1
        with pytest.raises(minimalmodbus.NoResponseError):
            silent.read_registers(0, 2, functioncode=4)
        assert serial_master(stage, 1).read_registers(0, 2, functioncode=4)
        wait_for(stage, 31)
        assert serial_master(stage, 2).read_registers(0, 2, functioncode=4)


def test_speed(stage: Stage) -> None:
    """A stage at speed 20 is further than one at speed 1 that began before it."""
    with Stage(speed=20) as quick:
        wait_for(quick, 20)
        assert stage.at() < quick.at()


def left_behind() -> tuple[set[str], list[str], int]:
    """Name folders, threads and open files of the demo."""
    folders = {path.name for path in Path(tempfile.gettempdir()).glob("legwatch-demo-*")}
    names = ("demo-", "serial-slave", "tcp-slave")
    threads = [thread.name for thread in threading.enumerate() if thread.name.startswith(names)]
    told = Path("/proc/self/fd")
    return folders, threads, len(list(told.iterdir())) if told.is_dir() else 0


def test_nothing_is_left_behind() -> None:
    """Folder, threads, sockets and terminals are gone after the end, after an exception inside as well."""
    before = left_behind()

    def fall() -> None:
        with Stage() as stage:
            assert stage.show_path.is_file()
            raise KeyError

    with pytest.raises(KeyError):
        fall()
    assert left_behind() == before


def test_nothing_is_left_behind_by_a_start_that_fails(tmp_path: Path) -> None:
    """A faulty scenario ends the start, and nothing of it stays."""
    copy(data("fixtures/demo/show.toml"), tmp_path)
    scenario = data("fixtures/demo/scenario.toml").read_text(encoding="utf-8").replace("A5: Kettle", "A5: Urn")
    (tmp_path / "scenario.toml").write_text(scenario, encoding="utf-8")
    before = left_behind()
    with pytest.raises(ValueError, match="A5: Urn"), Stage(folder=tmp_path):
        pass
    assert left_behind() == before
