"""How often a bus can read its meters: from the sizes of their reads, the baud rate and what was measured. Pure.

A serial character takes 1 start bit, its data bits, a parity bit if any and its stop bits. A Modbus RTU read of n
registers is 8 characters out and 5 + 2 n back, with 3.5 characters of silence after each (1.75 ms above 19200 baud);
ASCII writes each byte as two characters: 17 out and 11 + 4 n back. Source: MODBUS over Serial Line V1.02, from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from drivers.bus.schedule import URGENT_TIMES
from drivers.bus.settings import FIELD_PROTOCOLS
from drivers.maps.blocks import plan_blocks

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from drivers.bus.settings import BusSettings
    from monitor.show.model import Meter

TURNAROUND_S = 0.02
"""What a meter takes to answer, until it was measured (a judgement: most answer in 5 to 50 ms)."""
_SILENCE, _FAST_BAUD, _FAST_SILENCE_S = 3.5, 19_200, 0.00175


@dataclass(frozen=True, slots=True)
class Budget:
    """The time of one bus.

    Attributes:
        bus: its id.
        meters: how many it has.
        counted: of how many the time is known.
        baud: line speed [bit/s], or None on the network.
        round_s: from one reading of a meter to its next one with the line fully used [s].
        asked_s: the interval that the show asks for [s].
        each_s: how often each is read, then [s].
        urgent_s: how often one meter near its limit is read where the line can't keep up [s]; else ``each_s``.
        measured: every time was measured, none is only worked out.

    """

    bus: str
    meters: int
    counted: int
    baud: int | None
    round_s: float
    asked_s: float
    each_s: float
    urgent_s: float
    measured: bool

    @property
    def keeps_up(self) -> bool:
        """The interval that the show asks for can be kept."""
        return self.round_s <= max(self.asked_s, 0.0) or self.asked_s == 0


def budget(bus: BusSettings, meters: Sequence[Meter], measured: Mapping[int, float]) -> Budget | None:
    """Work out how often each meter of a bus is read; None where its meters send by themselves.

    Args:
        bus: the bus.
        meters: those of the show on it.
        measured: time of one poll by unit [s], of those that answered.

    """
    if bus.protocol in FIELD_PROTOCOLS or not meters:
        return None
    worked_out = {meter.unit: line_seconds(bus, meter) for meter in meters}
    costs = [
        max(measured[unit], line_s or 0.0) if unit in measured else (line_s or 0.0) + TURNAROUND_S
        for unit, line_s in worked_out.items()
        if unit in measured or line_s is not None
    ]
    round_s = sum(costs)
    each_s = max(round_s, bus.interval_s)
    urgent_s = max(bus.interval_s / URGENT_TIMES, 2 * max(costs, default=0.0)) if each_s > bus.interval_s else each_s
    baud = bus.baud if bus.port else None
    known = all(meter.unit in measured for meter in meters)
    return Budget(bus.id, len(meters), len(costs), baud, round_s, bus.interval_s, each_s, min(urgent_s, each_s), known)


def line_seconds(bus: BusSettings, meter: Meter) -> float | None:
    """Give the time that the reads of one poll are on the line [s]; None where its reads are not known beforehand.

    It is 0 on the network, where only the meter's own time counts.
    """
    if meter.map is None:
        return None
    if not bus.port:
        return 0.0
    character_s = (1 + bus.data_bits + (bus.parity != "N") + bus.stop_bits) / bus.baud
    silence_s = _FAST_SILENCE_S if bus.baud > _FAST_BAUD else _SILENCE * character_s
    ascii_form = bus.protocol == "modbus-ascii"
    return sum(
        (28 + 4 * block.count if ascii_form else 13 + 2 * block.count) * character_s + 2 * silence_s
        for block in plan_blocks(meter.map)
    )
