"""Print a bus worker's rate and processor time over those of a bare minimalmodbus loop that reads the same blocks.

Twelve three-channel float32 meters on one cable paced at 9600 baud; the meters and the cable run in this process,
the two programs in processes of their own, in turn, their starts not counted. The rate (as fast as the line goes)
must be at least 0.97 of the loop's, the processor time at one poll a second and meter at most 1.3 times the loop's.
Run: python tests/bench/bus_rate.py [SECONDS]
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

import minimalmodbus

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from drivers.bus.settings import BusSettings, MeterSettings
from drivers.bus.worker import BusWorker
from drivers.maps.blocks import plan_blocks
from tests.support.cable import Cable
from tests.support.responder import Responder, meter_map

if TYPE_CHECKING:
    from collections.abc import Callable

Figures = tuple[float, float]
BAUD, UNITS, TIMEOUT_S = 9600, range(1, 13), 0.5
MAP = meter_map((0, 6), (6, 6), (12, 6))  # read as one block of 18
ROUNDS, WARM_UP_S = 3, 1.5


def bare(port: str, interval_s: float, seconds: float) -> Figures:
    """Read every meter in turn with minimalmodbus and nothing else."""
    meters = [minimalmodbus.Instrument(port, unit) for unit in UNITS]
    meters[0].serial.baudrate, meters[0].serial.timeout = BAUD, TIMEOUT_S
    blocks = plan_blocks(MAP)

    def run(for_s: float) -> int:
        polls, end_s = 0, time.monotonic() + for_s
        while time.monotonic() < end_s:
            next_s = time.monotonic() + interval_s
            for meter in meters:
                for block in blocks:
                    meter.read_registers(block.address, block.count, 4)
                polls += 1
            if (left_s := next_s - time.monotonic()) > 0:
                time.sleep(left_s)
        return polls

    run(WARM_UP_S)
    return timed(lambda: run(seconds))


def worker(port: str, interval_s: float, seconds: float) -> Figures:
    """Let a bus worker poll every meter, all of them well."""
    settings = BusSettings("b", "modbus-rtu", port=port, baud=BAUD, timeout_s=TIMEOUT_S, interval_s=interval_s)
    bus = BusWorker(settings, [MeterSettings(unit, MAP) for unit in UNITS], lambda _: None)
    bus.start()

    def polls() -> int:
        meters = bus.stats().meters
        assert all(meter.polls == meter.good for meter in meters), meters
        return sum(meter.polls for meter in meters)

    def more() -> int:
        before = polls()
        time.sleep(seconds)
        return polls() - before

    time.sleep(WARM_UP_S)
    counted = timed(more)
    bus.stop()
    return counted


def timed(program: Callable[[], int]) -> Figures:
    """Run a program that gives its polls; give polls a second and processor time a poll [s]."""
    used_s, begun_s = time.process_time(), time.monotonic()
    polls = program()
    return polls / (time.monotonic() - begun_s), (time.process_time() - used_s) / polls


def measure(name: str, port: Path, interval_s: float, seconds: float) -> Figures:
    """Run one program in a process of its own; give polls a second and processor time a poll [s]."""
    command = [sys.executable, __file__, name, str(port), str(interval_s), str(seconds)]
    rate, cpu_s = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
    return float(rate), float(cpu_s)


def compare(port: Path, interval_s: float, seconds: float) -> Figures:
    """Measure both in turn, several times; give the median ratios of rate and processor time."""
    pairs = [[measure(name, port, interval_s, seconds) for name in ("bare", "worker")] for _ in range(ROUNDS)]
    for (bare_rate, bare_cpu_s), (rate, cpu_s) in pairs:
        print(f"  loop {bare_rate:.2f}/s {bare_cpu_s * 1e3:.2f} ms, worker {rate:.2f}/s {cpu_s * 1e3:.2f} ms")
    rates = sorted(ours[0] / loop[0] for loop, ours in pairs)
    costs = sorted(ours[1] / loop[1] for loop, ours in pairs)
    return rates[ROUNDS // 2], costs[ROUNDS // 2]


def main(seconds: float) -> int:
    """Measure, print, and give 0 where both limits are kept."""
    with tempfile.TemporaryDirectory() as directory, Cable(Path(directory), baud=BAUD) as cable, Responder(cable.far):
        print("polls a second and processor time a poll, as fast as the line goes:")
        rate, _ = compare(cable.near, 0.0, seconds)
        print("the same at one poll a second and meter:")
        _, cost = compare(cable.near, 1.0, seconds)
    print(f"rate {rate:.3f} of the bare loop's (at least 0.97), processor time {cost:.2f} of it (at most 1.3)")
    return 0 if rate >= 0.97 and cost <= 1.3 else 1


if __name__ == "__main__":
    if len(sys.argv) == 5:
        program = {"bare": bare, "worker": worker}[sys.argv[1]]
        print(json.dumps(program(sys.argv[2], float(sys.argv[3]), float(sys.argv[4]))))
    else:
        sys.exit(main(float(sys.argv[1]) if len(sys.argv) > 1 else 8.0))
