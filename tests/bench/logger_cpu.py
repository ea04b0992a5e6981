"""Print the processor time of `legwatch log` at 48 circuits and 1 Hz over that of a bare minimalmodbus loop.

Two paced serial buses with eight three-channel meters each. Both programs run for two lengths of time, so that their
start does not count. The ratio must be at most 1.5. Run: python tests/bench/logger_cpu.py
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import threading
import time
from contextlib import ExitStack
from pathlib import Path

import minimalmodbus

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from drivers.maps.mapfile import load_map
from drivers.reading import Values
from drivers.virtual.image import one_meter, several_meters
from drivers.virtual.serial_slave import SerialSlave

BAUD, UNITS = 19200, range(1, 9)
SHORT_S, LONG_S = 5, 25
MAP = Path(__file__).resolve().parents[2] / "config/meters/three-channel.toml"
HEAD = """
[show]
name = "Bench"
region = "north-america"
timezone = "UTC"
[source]
name = "Set"
kind = "house"
system = "120/240"
"""


def show_text(ports: list[Path]) -> str:
    """Write the show file."""
    parts = [HEAD]
    for bus, port in enumerate(ports):
        parts.append(f'[[bus]]\nid = "b{bus}"\nport = "{port}"\nprotocol = "modbus-rtu"\nbaud = {BAUD}\n')
        for unit in UNITS:
            names = [f"c{bus}-{unit}-{channel}" for channel in (1, 2, 3)]
            parts += [
                f'[[circuit]]\nid = "{n}"\nfed_from = "source"\nlegs = ["L1"]\nbreaker = {{ amps = 20 }}\n'
                for n in names
            ]
            points = ", ".join(f'ch{channel} = "{name}"' for channel, name in enumerate(names, 1))
            parts.append(f'[[meter]]\nbus = "b{bus}"\nunit = {unit}\nmap = "three-channel"\npoints = {{ {points} }}\n')
    return "\n".join(parts)


def bare(ports: list[str], seconds: float) -> None:
    """Read the same blocks once a second with minimalmodbus and nothing else, one thread a bus."""

    def loop(port: str) -> None:
        meters = [minimalmodbus.Instrument(port, unit) for unit in UNITS]
        for meter in meters:
            meter.serial.baudrate, meter.serial.timeout = BAUD, 0.5
        due = time.monotonic()
        end = due + seconds
        while due < end:
            for meter in meters:
                meter.read_registers(0, 24, functioncode=4)
            due += 1.0
            time.sleep(max(0.0, due - time.monotonic()))

    threads = [threading.Thread(target=loop, args=(port,)) for port in ports]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()


def cpu_of(words: list[str]) -> float:
    """Run a command; give its processor time [s]."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(words, check=True, stdout=subprocess.DEVNULL)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    """Measure and print."""
    values = {f"ch{n}": Values(volts=119.0 + n, amps=9.0 + n, hertz=60.0, watts=1100.0 + n) for n in (1, 2, 3)}
    image = several_meters({unit: one_meter(load_map(MAP), lambda: values) for unit in UNITS})
    with tempfile.TemporaryDirectory() as name, ExitStack() as ends:
        folder = Path(name)
        ports = [folder / "bus0", folder / "bus1"]
        for port in ports:
            slave = SerialSlave(image, port, BAUD)
            slave.start()
            ends.callback(slave.stop)
        show = folder / "bench.toml"
        show.write_text(show_text(ports), encoding="utf-8")
        legwatch = [str(Path(sys.executable).with_name("legwatch")), "log", str(show)]
        loop = [sys.executable, __file__, *map(str, ports)]
        logged = [cpu_of([*legwatch, "--log", f"{folder}/{n}.sqlite", "--seconds", str(n)]) for n in (LONG_S, SHORT_S)]
        logger_s = logged[0] - logged[1]
        bare_s = cpu_of([*loop, str(LONG_S)]) - cpu_of([*loop, str(SHORT_S)])
    span = LONG_S - SHORT_S
    print(f"logger {100 * logger_s / span:.2f} % of a core, bare loop {100 * bare_s / span:.2f} %")
    print(f"ratio {logger_s / bare_s:.2f} (limit 1.5)")


if __name__ == "__main__":
    if len(sys.argv) > 1:
        bare(sys.argv[1:-1], float(sys.argv[-1]))
    else:
        main()
