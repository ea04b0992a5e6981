"""From a meter that nobody has a map of to right numbers on the screen: probe, map, setup, check, log.

The far end is pyModbusTCP with a layout invented here, which the commands are not told: two channels in input
registers, each quantity in another encoding, and registers beside them that hold numbers of the same size.
"""

from __future__ import annotations

import json
import socket
import struct
import subprocess
import sys
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from pyModbusTCP.server import DataBank, ModbusServer

if TYPE_CHECKING:
    from collections.abc import Iterator

LEGWATCH = str(Path(sys.executable).with_name("legwatch"))
# Volts: u16 in tenths. Amps: i32 in milliamperes, low word first. Watts: float32. Hertz: u16 in hundredths.
VOLTS, AMPS, WATTS, HERTZ = (131, 153), (140, 162), (144, 166), 170


@dataclass
class Meter:
    """The meter, and what an instrument held to it would show."""

    bank: DataBank
    where: str

    def measures(self, volts: tuple[float, float], amps: tuple[float, float], hertz: float) -> None:
        """Let both channels measure."""
        for channel in (0, 1):
            self.bank.set_input_registers(VOLTS[channel], [round(10 * volts[channel])])
            high, low = struct.unpack(">HH", struct.pack(">i", round(1000 * amps[channel])))
            self.bank.set_input_registers(AMPS[channel], [low, high])
            watts = struct.pack(">f", 0.96 * volts[channel] * amps[channel])
            self.bank.set_input_registers(WATTS[channel], list(struct.unpack(">HH", watts)))
        self.bank.set_input_registers(HERTZ, [round(100 * hertz)])


@contextmanager
def meter() -> Iterator[Meter]:
    """Serve it."""
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = int(free.getsockname()[1])
    bank = DataBank(h_regs_size=1, i_regs_size=200, coils_size=1, d_inputs_size=1)
    bank.set_input_registers(100, [1208, 1190, 5990, 77, 12, 9600, 1, 0, 65535, 3])  # a maker's other numbers
    server = ModbusServer("127.0.0.1", port, no_block=True, data_bank=bank)
    server.start()
    try:
        yield Meter(bank, f"127.0.0.1:{port}")
    finally:
        server.stop()


def test_from_an_unknown_meter_to_right_numbers(tmp_path: Path) -> None:
    """Every step as the README tells it, each with what the step before gave."""

    def legwatch(*words: str, typed: tuple[str, ...] = ()) -> subprocess.CompletedProcess[str]:
        answers = "".join(f"{line}\n" for line in typed)
        return subprocess.run(
            [LEGWATCH, *words], input=answers, capture_output=True, text=True, timeout=60, check=False, cwd=tmp_path
        )

    with meter() as far:
        first = {"ch1.volts": 121.3, "ch2.volts": 119.6, "ch1.amps": 7.25, "ch2.amps": 3.118, "ch1.hertz": 59.97}
        second = {"ch1.volts": 118.7, "ch2.volts": 122.4, "ch1.amps": 11.42, "ch2.amps": 0.874, "ch1.hertz": 60.04}
        first |= {"ch1.watts": 0.96 * 121.3 * 7.25, "ch2.watts": 0.96 * 119.6 * 3.118}
        second |= {"ch1.watts": 0.96 * 118.7 * 11.42, "ch2.watts": 0.96 * 122.4 * 0.874}
        far.measures((121.3, 119.6), (7.25, 3.118), 59.97)
        assert "unit   1" in legwatch("probe", "--tcp", far.where, "--units", "1").stdout
        look = ("probe", "--tcp", far.where, "--units", "1", "--registers", "90-180", "--tolerance", "0.2%")
        for name, value in first.items():
            found = legwatch(*look, "--find", str(value), "--keep", f"{name}.json")
            assert found.returncode == 0, found.stdout + found.stderr
        far.measures((118.7, 122.4), (11.42, 0.874), 60.04)
        for name, value in second.items():
            words = ("--find", str(value), "--keep", f"{name}.json", "--as", name, "--map", "yard.toml")
            found = legwatch(*look, *words)
            if found.returncode == 1 and "ways fit" in found.stderr:
                found = legwatch(*look, *words, "--choose", "1")
            assert found.returncode == 0, f"{name}: {found.stdout}{found.stderr}"

        head = (
            "Sawmill, second unit",
            "1",
            "America/Halifax",
            "1",
            "1",
            "20",
            "",
            "83",
            "",
            "box1",
            "",
            "",
            "60",
            "",
            "",
        )
        peek = legwatch("setup", "peek.toml", typed=head).stdout
        network = next(line.split(")")[0].strip() for line in peek.splitlines() if "an address on the network" in line)
        meters = (network, far.where, "1", "1", "y", "1")
        saw = ("S1", "Saw", "box1", "L1", "20", "12 awg 40 ft", "", "1500", "Bench saw", "")
        lights = ("S2", "Lights", "box1", "L2", "20", "", "", "")
        setup = legwatch("setup", "sawmill.toml", typed=(*head, *meters, *saw, *lights, "", "", "", "y"))
        assert setup.returncode == 0, setup.stdout + setup.stderr
        assert "yard: ch1 118.7 V 11.42 A" in setup.stdout

        check = legwatch("check", "sawmill.toml", "--handheld", "S1=11.5A", "--by", "Noor")
        assert check.returncode == 0, check.stdout + check.stderr
        far.measures((117.9, 123.1), (14.6, 2.05), 60.01)
        once = legwatch("log", "sawmill.toml", "--once", "--json")
    assert once.returncode == 0, once.stdout + once.stderr
    rows = {row["point"]: row for row in json.loads(once.stdout)["readings"]}
    assert set(rows) == {"S1", "S2"}
    assert all(row["quality"] == "good" for row in rows.values())
    for point, volts, amps in (("S1", 117.9, 14.6), ("S2", 123.1, 2.05)):
        assert rows[point]["volts"] == pytest.approx(volts)
        assert rows[point]["amps"] == pytest.approx(amps)
        assert rows[point]["watts"] == pytest.approx(0.96 * volts * amps)
    assert rows["S1"]["hertz"] == pytest.approx(60.01)
