"""What is true at every point of the model that a meter could be fitted to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from monitor.show.model import NEUTRAL, Point

if TYPE_CHECKING:
    from collections.abc import Mapping

    from monitor.demo.network import Network, Solution
    from monitor.show.model import Show


@dataclass(frozen=True, slots=True)
class Electrical:
    """What is true at one point.

    Attributes:
        volts: [V].
        amps: [A].
        watts: [W].
        vars: reactive power, lagging positive [var].

    """

    volts: float
    amps: float
    watts: float
    vars: float


@dataclass(frozen=True, slots=True)
class State:
    """The set over one step.

    Attributes:
        time_s: end of the step, since the begin [s].
        hertz: [Hz].
        at: every point a meter could measure. Circuits are measured in their box, on the side of the breaker that
            the show names for their taps; the volts of a neutral are those against the source's.
        far_volts: at the loads of each circuit, behind its run [V]; 0 where it is open.
        opened: circuits and boxes whose breaker is open.
        residual_amps: how far the solution is from standing still [A].

    """

    time_s: float
    hertz: float
    at: Mapping[Point, Electrical]
    far_volts: Mapping[str, float]
    opened: frozenset[str]
    residual_amps: float


def observe(
    show: Show,
    network: Network,
    solution: Solution,
    live: frozenset[int],
    opened: frozenset[str],
    clock: tuple[float, float],
) -> State:
    """Read a solved moment at every point.

    Args:
        show: names the points and the taps' sides.
        network: the wires.
        solution: the solved moment.
        live: indices of boxes with power.
        opened: places whose breaker is open.
        clock: time since the begin [s], and hertz.

    """
    legs = show.source.legs
    at: dict[Point, Electrical] = {}
    far: dict[str, float] = {}
    for index, (box, volts, amps) in enumerate(zip(network.boxes, solution.box_volts, solution.box_amps, strict=True)):
        alive = index in live
        for leg, volt, amp in zip(legs, volts[:-1], amps[:-1], strict=True):
            at[Point(box.id, leg)] = _electrical(volt - volts[-1] if alive else 0j, amp)
        at[Point(box.id, NEUTRAL)] = _electrical(volts[-1] if alive else 0j, amps[-1])
    for circuit, branch, amps_out in zip(show.circuits, network.branches, solution.amps, strict=True):
        volts = solution.box_volts[branch.box]
        open_here = circuit.id in opened
        alive = branch.box in live and not (open_here and circuit.volts_tap == "load")
        across = solution.volts_at_box(branch) if alive else 0j
        at[Point(circuit.id)] = _electrical(across, amps_out)
        far[circuit.id] = 0.0 if open_here or not alive else abs(across - 2 * branch.ohms * amps_out)
        for leg, conductor, amp in zip(circuit.legs, (branch.hot, branch.back), (amps_out, -amps_out), strict=False):
            at[Point(circuit.id, leg)] = _electrical(volts[conductor] - volts[-1] if alive else 0j, amp)
    time_s, hertz = clock
    return State(time_s, hertz, at, far, opened, solution.residual)


def _electrical(volts: complex, amps: complex) -> Electrical:
    power = volts * amps.conjugate()
    return Electrical(abs(volts), abs(amps), power.real, power.imag)
