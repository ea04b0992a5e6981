"""Print the processor time of `legwatch log` at 48 circuits and 1 Hz over that of a bare minimalmodbus loop.

Two paced serial buses with eight three-channel meters each. Both programs run in turn; what they take to start does
not count. The ratio must be at most 1.5. Run: python tests/bench/logger_cpu.py [ROUNDS]
"""

from __future__ import annotations

import statistics
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
SETTLE_S, SPAN_S = 6, 15
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


def running_cpu(words: list[str]) -> float:
    """Start a command, let it settle, and give its processor time per second from then on [s/s]."""
    process = subprocess.Popen(words, stdout=subprocess.DEVNULL)
    try:
        time.sleep(SETTLE_S)
        before, began = _cpu_s(process.pid), time.monotonic()
        time.sleep(SPAN_S)
        return (_cpu_s(process.pid) - before) / (time.monotonic() - began)
    finally:
        process.terminate()
        process.wait()


def _cpu_s(pid: int) -> float:
    """Add up the time that a process's threads have run [s] (first figure of schedstat, in ns)."""
    tasks = Path(f"/proc/{pid}/task").iterdir()
    return sum(int((task / "schedstat").read_text(encoding="ascii").split()[0]) for task in tasks) / 1e9


def main() -> None:
    """Measure both in turn, and print."""
    values = {f"ch{n}": Values(volts=119.0 + n, amps=9.0 + n, hertz=60.0, watts=1100.0 + n) for n in (1, 2, 3)}
    image = several_meters({unit: one_meter(load_map(MAP), lambda: values) for unit in UNITS})
    rounds = int(sys.argv[1]) if len(sys.argv) == 2 else 3
    ratios = []
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
        loop = [sys.executable, __file__, *map(str, ports), str(SETTLE_S + SPAN_S + 5)]
        for number in range(rounds):
            bare_s = running_cpu(loop)
            logger_s = running_cpu([*legwatch, "--log", f"{folder}/{number}.sqlite"])
            ratios.append(logger_s / bare_s)
            print(f"logger {100 * logger_s:.2f} % of a core, bare loop {100 * bare_s:.2f} %: {ratios[-1]:.2f}")
    print(f"ratio {statistics.median(ratios):.2f} (limit 1.5)")


if __name__ == "__main__":
    if len(sys.argv) > 2:
        bare(sys.argv[1:-1], float(sys.argv[-1]))
    else:
        main()
