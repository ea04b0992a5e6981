"""SunSpec meters over real bytes: images made with pysunspec2, served by pymodbus and pyModbusTCP."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import pytest

from drivers.bus.settings import BusSettings, MeterSettings
from drivers.bus.worker import BusWorker
from drivers.reading import ChannelReading, Quality, Values
from drivers.sunspec.search import BASES, Search
from tests.support.cable import Cable
from tests.support.sunspec_devices import UNIT, image, model, rtu_device, tcp_device

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

ALL = ("l1", "l2", "l3", "total")
WYE = {
    "A": 602, "AphA": 201, "AphB": 200, "AphC": 201, "A_SF": -1,
    "PhV": 2301, "PhVphA": 2305, "PhVphB": 2298, "PhVphC": 2300, "PPV": 3985, "V_SF": -1,
    "Hz": 5001, "Hz_SF": -2,
    "W": 1385, "WphA": 463, "WphB": 460, "WphC": -462, "W_SF": 1,
    "TotWhImp": 123456, "TotWh_SF": 2,
}  # fmt: skip
SPLIT = {
    "A": 30, "AphA": 20, "AphB": 10, "A_SF": 0, "PhV": 120, "PhVphA": 121, "PhVphB": 119, "PPV": 240, "V_SF": 0,
    "Hz": 60, "W": 3600, "WphA": 2420, "WphB": 1190, "W_SF": 0,
}  # fmt: skip
ONE = {"A": 155, "AphA": 155, "A_SF": -1, "PhV": 1203, "V_SF": -1, "Hz": 5998, "Hz_SF": -2, "W": 1860, "W_SF": 0}
FLOATS = {
    "A": 21.5, "AphA": 10.5, "AphB": 5.5, "AphC": 5.5, "PhV": 230.0, "PhVphA": 231.25, "PhVphB": 229.5,
    "PhVphC": 230.0, "PPV": 398.5, "Hz": 49.75, "W": 4900.0, "WphA": 2400.0, "PF": 0.97,
}  # fmt: skip
DER = {
    "ACType": 1, "W": 241, "A": 30, "LLV": 2403, "LNV": 1201, "Hz": 60020, "Hz_SF": -3,
    "AL1": 105, "AL2": 96, "VL1": 1204, "VL2": 1199, "WL1": 126, "WL2": 115,
    "A_SF": -1, "V_SF": -1, "W_SF": 1,
}  # fmt: skip


@contextmanager
def device(protocol: str, registers: list[int], base: int, directory: Path) -> Iterator[BusSettings]:
    """Serve an image over one of the two ways; give the settings to reach it."""
    if protocol == "sunspec-tcp":
        with tcp_device(registers, base) as port:
            yield BusSettings("b", protocol, host="127.0.0.1", tcp_port=port, timeout_s=1.0)
        return
    with Cable(directory) as cable, rtu_device(registers, base, cable.far):
        yield BusSettings("b", protocol, port=str(cable.near), baud=115200, timeout_s=1.0)


def worker(settings: BusSettings, wanted: Sequence[str]) -> BusWorker:
    """Make a worker with one meter."""
    search = Search(tuple(wanted))
    return BusWorker(settings, [MeterSettings(UNIT, search.placeholder(), search)], lambda _: None)


def read(settings: BusSettings, wanted: Sequence[str] = ALL) -> dict[str, ChannelReading]:
    """Poll once; give the readings by channel."""
    one = worker(settings, wanted)
    (poll,) = one.poll_once()
    one.stop()
    return {reading.channel: reading for reading in poll.channels}


def rounded(values: Values) -> dict[str, float]:
    """Give what is measured, without binary dust."""
    return {q: round(v, 6) for q in Values.__slots__ if (v := getattr(values, q)) is not None}


@pytest.mark.parametrize("base", BASES)
@pytest.mark.parametrize("protocol", ["sunspec-rtu", "sunspec-tcp"])
def test_a_wye_meter_is_found_and_read_at_each_usual_base(protocol: str, base: int, tmp_path: Path) -> None:
    """Scale factors applied, per leg and in total; a total of three legs has no amps of any conductor."""
    with device(protocol, image(model(203, WYE)), base, tmp_path) as settings:
        found = read(settings)
    assert all(reading.quality is Quality.GOOD for reading in found.values())
    assert rounded(found["l1"].values) == {"volts": 230.5, "amps": 20.1, "hertz": 50.01, "watts": 4630}
    assert rounded(found["l3"].values) == {"volts": 230.0, "amps": 20.1, "hertz": 50.01, "watts": -4620}
    assert rounded(found["total"].values) == {"volts": 398.5, "hertz": 50.01, "watts": 13850, "watt_hours": 12345600}


@pytest.mark.parametrize("protocol", ["sunspec-rtu", "sunspec-tcp"])
@pytest.mark.parametrize(
    ("number", "points", "channel", "expected"),
    [
        (201, ONE, "l1", {"volts": 120.3, "amps": 15.5, "hertz": 59.98, "watts": 1860}),
        (201, ONE, "total", {"volts": 120.3, "amps": 15.5, "hertz": 59.98, "watts": 1860}),
        (201, {**ONE, "PhVphA": 1199}, "l1", {"volts": 119.9, "amps": 15.5, "hertz": 59.98, "watts": 1860}),
        (202, SPLIT, "l1", {"volts": 121, "amps": 20, "hertz": 60, "watts": 2420}),
        (202, SPLIT, "l2", {"volts": 119, "amps": 10, "hertz": 60, "watts": 1190}),
        (202, SPLIT, "total", {"volts": 240, "hertz": 60, "watts": 3600}),
        (204, WYE, "l2", {"volts": 229.8, "amps": 20.0, "hertz": 50.01, "watts": 4600}),
        (211, FLOATS, "total", {"volts": 230.0, "amps": 21.5, "hertz": 49.75, "watts": 4900, "power_factor": 0.97}),
        (212, FLOATS, "l2", {"volts": 229.5, "amps": 5.5, "hertz": 49.75}),
        (213, FLOATS, "l1", {"volts": 231.25, "amps": 10.5, "hertz": 49.75, "watts": 2400}),
        (214, FLOATS, "total", {"volts": 398.5, "hertz": 49.75, "watts": 4900, "power_factor": 0.97}),
        (701, DER, "l2", {"volts": 119.9, "amps": 9.6, "hertz": 60.02, "watts": 1150}),
        (701, DER, "total", {"volts": 240.3, "hertz": 60.02, "watts": 2410}),
        (701, {**DER, "ACType": 0}, "total", {"volts": 120.1, "amps": 3.0, "hertz": 60.02, "watts": 2410}),
    ],
)
def test_every_meter_model(
    protocol: str, number: int, points: dict[str, Any], channel: str, expected: dict[str, float], tmp_path: Path
) -> None:
    """Each model, one channel of it; what is not implemented is not measured."""
    with device(protocol, image(model(number, points)), BASES[0], tmp_path) as settings:
        reading = read(settings, (channel,))[channel]
    assert (reading.quality, reading.detail) == (Quality.GOOD, "")
    assert rounded(reading.values) == expected


def test_the_meter_stands_behind_other_models(tmp_path: Path) -> None:
    """The chain is walked past a model that is no meter, and one whose number nobody knows."""
    unknown = [64_999, 4, 1, 2, 3, 4]
    with device("sunspec-tcp", image(model(103, {"W": 5}), unknown, model(202, SPLIT)), 0, tmp_path) as settings:
        assert read(settings)["l2"].values.amps == 10


def test_a_second_meter_in_one_device_has_channels_of_its_own(tmp_path: Path) -> None:
    """Two models of one number: the second one's channels end in -2."""
    second = {**SPLIT, "AphA": 7}
    with device("sunspec-tcp", image(model(202, SPLIT), model(202, second)), BASES[0], tmp_path) as settings:
        found = read(settings, ("l1", "l1-2"))
    assert (found["l1"].values.amps, found["l1-2"].values.amps) == (20, 7)


def test_a_channel_that_the_meter_does_not_have_is_told(tmp_path: Path) -> None:
    """A split-phase meter has no third leg: a gap with its reason, and the others stand."""
    with device("sunspec-tcp", image(model(202, SPLIT)), BASES[0], tmp_path) as settings:
        found = read(settings, ("l1", "l3"))
    assert found["l1"].quality is Quality.GOOD
    assert found["l3"].quality is Quality.REFUSED
    assert "it has l1, l2, total" in found["l3"].detail


@pytest.mark.parametrize(
    ("registers", "told"),
    [
        ([1, 2, 3, 4], "no SunSpec marker at holding register 0, 40000, 50000"),
        (image(), "none of its SunSpec models is a meter (it has 1;"),
    ],
)
@pytest.mark.parametrize("protocol", ["sunspec-rtu", "sunspec-tcp"])
def test_a_device_that_is_no_such_meter_says_so(protocol: str, registers: list[int], told: str, tmp_path: Path) -> None:
    """No marker, or no meter model: refused, with what would do."""
    with device(protocol, registers, BASES[0], tmp_path) as settings:
        found = read(settings, ("total",))
    assert found["total"].quality is Quality.REFUSED
    assert told in found["total"].detail


def test_a_value_without_its_scale_factor_is_refused(tmp_path: Path) -> None:
    """Amps whose scale factor is not implemented can't be believed; volts beside them stand."""
    points = {name: value for name, value in SPLIT.items() if name != "A_SF"}
    with device("sunspec-tcp", image(model(202, points)), BASES[0], tmp_path) as settings:
        reading = read(settings)["l1"]
    assert reading.quality is Quality.IMPLAUSIBLE
    assert (reading.values.volts, reading.values.amps) == (121, None)


def test_nobody_there_is_silent(tmp_path: Path) -> None:
    """A line without a meter."""
    with Cable(tmp_path) as cable:
        settings = BusSettings("b", "sunspec-rtu", port=str(cable.near), baud=115200, timeout_s=0.05)
        found = read(settings, ("l1", "total"))
    assert {channel: reading.quality for channel, reading in found.items()} == {
        "l1": Quality.SILENT,
        "total": Quality.SILENT,
    }
