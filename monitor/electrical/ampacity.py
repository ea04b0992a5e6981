"""What a cable may carry, from its own figure or the tables; no correction for heat, bundles or drums."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.electrical.cable import awg_name
from monitor.electrical.tables import table

if TYPE_CHECKING:
    from monitor.show.model import Cable


def cable_amps(cable: Cable) -> float | None:
    """Give what a cable may carry, parallel sets together [A]: its own figure, else the table's; None without either.

    Sources: NEC table 400.5(A) for AWG, the most that a portable cable of the gauge carries; usual ratings of
    rubber-sheathed cable for mm2 (``config/standards``).
    """
    if cable.amps is not None:
        return cable.amps * cable.parallel
    tables = table("ampacity")
    amps = tables["awg"]["amps"].get(awg_name(cable.awg)) if cable.awg else tables["mm2"]["amps"].get(f"{cable.mm2:g}")
    return None if amps is None else float(amps) * cable.parallel


def fixed_breaker_amps(cable: Cable) -> float | None:
    """Give the largest breaker for building wire of the same gauge [A] (NEC table 310.16, 240.4).

    None for a cable with a figure of its own, in mm2, of parallel sets, or of a gauge that the table hasn't.
    """
    if cable.amps is not None or not cable.awg or cable.parallel > 1:
        return None
    amps = table("ampacity")["awg_fixed"]["amps"].get(awg_name(cable.awg))
    return None if amps is None else float(amps)
