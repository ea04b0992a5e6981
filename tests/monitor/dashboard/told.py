"""The quiet show with everything that only the logger knows: invented figures of a source and of two buses."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from monitor.engine.history import Sample
from monitor.engine.told import BusView, FuelView, HeatView, MeterCounts, MeterView, OutputView
from tests.monitor.dashboard import snapshots
from tests.monitor.dashboard.past import Past
from tests.monitor.dashboard.snapshots import NOW_MS, live, old

if TYPE_CHECKING:
    from monitor.engine.snapshot import Measured, Snapshot

MINUTE_MS = 60_000
OUTPUT = OutputView(
    demand_kw=12.8,
    demand_covered_s=900.0,
    highest_kw=14.2,
    highest_ms=NOW_MS - 23 * MINUTE_MS,
    energy_kwh=34.2,
    covered_s=11_400.0,
    peak_kw=15.0,
    load_factor=0.72,
    low_s=2_400.0,
    high_s=720.0,
    low_net_s=2_400.0,
)
FUEL = FuelView(
    tank_litres=110.0,
    reserve_litres=16.5,
    litres=61.0,
    hours_mean=5.1,
    hours_worst=3.9,
    hours_reserve=4.2,
    entered=True,
    since_ms=NOW_MS - 234 * MINUTE_MS,
)


def counts(good: int, faults: tuple[tuple[str, int], ...] = (), retries: int = 0) -> MeterCounts:
    """Give what came of a meter's polls."""
    polls = good + sum(number for _, number in faults)
    return MeterCounts(polls, good, faults, retries, 1.0, 0.06, 0.041, 0.083)


def meter(unit: int, latest: Measured, counted: MeterCounts | None, *points: str) -> MeterView:
    """Give a meter of these points."""
    named = tuple((f"ch{n}", point) for n, point in enumerate(points, 1))
    return MeterView(unit, "three-channel", named, latest, counted)


LINE = BusView(
    "rs485",
    "/dev/serial/by-id/usb-adapter-0042",
    "modbus-rtu",
    1.0,
    0.4,
    (
        meter(1, live(10.8), counts(5208, (("corrupt", 2),), 2), "A1", "A2", "A3"),
        meter(4, old(live(7.1), 95.0), counts(5100, (("silent", 110),), 120), "B5", "B6"),
        meter(5, live(62.4), counts(5210), "source/L1", "source/L2"),
    ),
    is_open=True,
)
NET = BusView(
    "net",
    "192.0.2.10:502",
    "modbus-tcp",
    1.0,
    0.4,
    (
        meter(
            1,
            snapshots.NEVER,
            replace(counts(0, (("silent", 50),), 0), per_second=None, busy=None, median_s=None, worst_s=None),
            "A4",
        ),
    ),
    is_open=False,
    problem="no connection to 192.0.2.10:502: look at cable, address and gateway",
)


def told() -> Snapshot:
    """Give the quiet show, its source and its buses told in full."""
    quiet = snapshots.quiet()
    source = replace(
        quiet.source,
        kva=13.9,
        rated_kva=25.0,
        kva_percent=55.6,
        neutral_estimate_amps=12.1,
        output=OUTPUT,
        fuel=FUEL,
    )
    circuits = (replace(quiet.circuits[0], heat=HeatView(None, 0.25)), *quiet.circuits[1:])
    return replace(quiet, source=source, circuits=circuits, buses=(LINE, NET), told=True)


def house() -> Snapshot:
    """Give a house's single leg: no rated power, no fuel."""
    shown = told()
    source = replace(
        shown.source,
        name="Wall box, hall",
        kind="house",
        system="230",
        legs=(snapshots.leg("L1", live(21.0, 229.4), 32.0),),
        nominal_hertz=50.0,
        hertz=49.98,
        kilowatts=4.7,
        rated_kw=None,
        percent=None,
        kva=4.8,
        rated_kva=None,
        kva_percent=None,
        neutral_estimate_amps=None,
        output=replace(OUTPUT, demand_kw=4.6, demand_covered_s=300.0, low_s=None, high_s=None, low_net_s=None),
        fuel=None,
    )
    return replace(shown, source=source)


def dip(ago_s: float) -> Sample | None:
    """Give the source so long ago: a dip of hertz and volts together a minute and a half ago, a gap before it."""
    if 170 < ago_s < 200:
        return None
    sunk = 80 < ago_s < 90
    volts, hertz = (114.6, 58.8) if sunk else (119.6, 60.02)
    return Sample(NOW_MS - round(1000 * ago_s), (50.0,) * 3, (volts,) * 3, (hertz,) * 3)


def minutes(number: int) -> tuple[Sample, ...]:
    """Give so many minutes of the source, a sample a second."""
    return tuple(sample for ago in range(60 * number, 0, -1) if (sample := dip(ago)) is not None)


class SourcePast(Past):
    """A past in which the source has the dip."""

    def samples(self, circuit: str, begin_ms: int, end_ms: int) -> tuple[Sample, ...]:
        """Give the source's five minutes, or a circuit's past."""
        return minutes(5) if circuit == "source" else super().samples(circuit, begin_ms, end_ms)
