"""What was planned beside what was measured."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import median
from typing import TYPE_CHECKING

from monitor.electrical.headroom import continuous_limit
from monitor.electrical.loads import planned_amps, planned_watts
from monitor.review.past import metered

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from monitor.engine.reading import Reading
    from monitor.log.reader import LogReader
    from monitor.show.model import Circuit, Show

_SAMPLES, _CLEAR_MS, _LOOK_MS = 10, 2_000, 60_000  # the ten good samples that end 2 s before


@dataclass(frozen=True, slots=True)
class PlanRow:
    """One circuit's plan, rating and measured values.

    Attributes:
        circuit: as in the show.
        planned_amps: in each hot leg [A]; None where nothing is planned.
        planned_watts: [W]; None where nothing is planned.
        continuous_amps: the site's limit for continuous load [A].
        amps: measured, the highest leg [A]; None: not measured.
        volts: measured, the lowest leg [V].
        watts: measured, all legs [W].

    """

    circuit: Circuit
    planned_amps: float | None
    planned_watts: float | None
    continuous_amps: float
    amps: float | None
    volts: float | None
    watts: float | None

    @property
    def over_plan_amps(self) -> float | None:
        """Measured less planned [A]; None where either is missing."""
        return None if self.amps is None or self.planned_amps is None else self.amps - self.planned_amps


def before(reader: LogReader, show: Show, circuits: Iterable[Circuit], time_ms: int) -> tuple[PlanRow, ...]:
    """Give circuits as they were just before a time: medians of ten good samples that end 2 s before it.

    Args:
        reader: of the log.
        show: in force then.
        circuits: of the show.
        time_ms: [ms, the log's clock].

    """
    return tuple(_row(reader, show, circuit, time_ms) for circuit in circuits)


def _row(reader: LogReader, show: Show, circuit: Circuit, time_ms: int) -> PlanRow:
    legs = [
        reader.readings_between(point, time_ms - _LOOK_MS, time_ms - _CLEAR_MS + 1)
        for point in metered(show, (circuit.id,))
    ]
    amps, volts, watts = ([_middle(leg, quantity) for leg in legs] for quantity in ("amps", "volts", "watts"))
    known = [value for value in watts if value is not None]
    percent = show.setting("continuous_percent", circuit)
    planned = bool(circuit.load)
    return PlanRow(
        circuit=circuit,
        planned_amps=planned_amps(circuit, show.source.system) if planned else None,
        planned_watts=planned_watts(circuit) if planned else None,
        continuous_amps=continuous_limit(circuit.breaker, percent),
        amps=max((value for value in amps if value is not None), default=None),
        volts=min((value for value in volts if value is not None), default=None),
        watts=sum(known) if known and len(known) == len(legs) else None,
    )


def _middle(readings: Sequence[Reading], quantity: str) -> float | None:
    found = [value for reading in readings if (value := getattr(reading.values, quantity)) is not None]
    return median(found[-_SAMPLES:]) if found else None
