"""From a show file to the wires of the model."""

from __future__ import annotations

from cmath import exp, pi
from math import pi as circle
from typing import TYPE_CHECKING

from monitor.demo.network import Box, Branch, Network
from monitor.electrical.loads import LEG_TO_NEUTRAL
from monitor.show.model import SOURCE_ID

if TYPE_CHECKING:
    from monitor.show.model import Cable, Show

_WINDING_PER_UNIT = complex(0.05, 0.14)  # of volts over amps per leg: resistance and transient reactance, invented
_ANY_AMPS = 100.0  # per leg, for a source that names none
_COPPER_OHM_METRES = 1.7241e-8  # at 20 degrees Celsius, annealed copper (IEC 60028, from memory)
_COPPER_PER_DEGREE = 0.00393  # IEC 60028, from memory
_NO_CABLE_OHMS = 0.001
_LEG_DEGREES = {1: (0.0,), 2: (0.0, 180.0), 3: (0.0, -120.0, 120.0)}
WARM_CELSIUS = 40.0


def network(show: Show) -> Network:
    """Give the wires of ``show``: every run as warm copper, the generator's windings as an impedance.

    Raises:
        ValueError: a circuit on three legs, which the model does not have.

    """
    source = show.source
    volts = LEG_TO_NEUTRAL[source.system]
    winding = _WINDING_PER_UNIT * volts / (source.amps_per_leg or _ANY_AMPS)
    boxes = [Box(SOURCE_ID, None, winding, 0.0)]
    index = {SOURCE_ID: 0}
    for feeder in show.feeders:
        ohms = run_ohms(feeder.cable)
        index[feeder.id] = len(boxes)
        boxes.append(Box(feeder.id, index[feeder.fed_from], ohms, ohms))
    conductor = {leg: place for place, leg in enumerate(source.legs)}
    branches = []
    for circuit in show.circuits:
        if len(circuit.legs) > 2:  # noqa: PLR2004 - a pair of legs
            raise ValueError(f"{circuit.id}: the model has no circuits on three legs")
        hot, back = (*(conductor[leg] for leg in circuit.legs), len(source.legs))[:2]
        branches.append(Branch(circuit.id, index[circuit.fed_from], hot, back, run_ohms(circuit.cable)))
    return Network(len(source.legs), tuple(boxes), tuple(branches))


def leg_turns(legs: int) -> tuple[complex, ...]:
    """Give the direction of each leg's volts: opposite on two legs, a third of a turn apart on three."""
    return tuple(exp(1j * pi * degrees / 180) for degrees in _LEG_DEGREES[legs])


def run_ohms(cable: Cable | None, celsius: float = WARM_CELSIUS) -> float:
    """Give the resistance of one conductor of a run [ohm]: resistivity times length over cross-section.

    An AWG size is 0.127 mm times 92^((36 - n) / 39) across (ASTM B258, from memory); 1/0 to 4/0 are n = 0 to -3.
    """
    if cable is None:
        return _NO_CABLE_OHMS
    mm2 = cable.mm2 or awg_mm2(cable.awg)
    warm = 1 + _COPPER_PER_DEGREE * (celsius - 20)
    return _COPPER_OHM_METRES * warm * cable.metres / (mm2 * 1e-6) / cable.parallel


def awg_mm2(size: str) -> float:
    """Give the cross-section of an American wire gauge size [mm2]."""
    gauge = 1 - int(size[:-2]) if size.endswith("/0") else int(size)
    across = 0.127 * 92 ** ((36 - gauge) / 39)
    return float(circle / 4 * across**2)
