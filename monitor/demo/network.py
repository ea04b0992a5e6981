"""The wires: from the source's windings over boxes to the loads, solved for one moment in complex phasors.

A tree. Every run has a resistance in each hot conductor and one in its neutral, which all its legs share, so that a
one-sided load shifts the volts of the other leg too. Solved by repeating Kirchhoff's current law upwards and Ohm's
law downwards until the currents stand still; the runs' resistance is small against the loads', so that this converges
quickly. Volts are against the neutral point at the source.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    Draw = Callable[[complex], complex]
    """Current of a circuit's loads [A] at the volts across them [V]."""

TOLERANCE_AMPS = 1e-6
_MOST_ROUNDS = 200
_STRIDE = 0.85  # of each correction: quickest for loads that draw less as their volts fall, and steady for the others


@dataclass(frozen=True, slots=True)
class Box:
    """A place with a bus bar: where circuits or further boxes are fed from.

    Attributes:
        id: its name.
        parent: index of the box that feeds it; the source is box 0 and has None.
        ohms: of each conductor of the run to it, neutral included [ohm]; for the source that of each winding.
        neutral_ohms: of the neutral of that run [ohm]; for the source 0, since its star point is the reference.

    """

    id: str
    parent: int | None
    ohms: complex
    neutral_ohms: float


@dataclass(frozen=True, slots=True)
class Branch:
    """A circuit.

    Attributes:
        id: its name.
        box: index of the box that feeds it.
        hot: index of the conductor its current leaves by.
        back: index of the one it returns by: the neutral, or another leg.
        ohms: of each of its two conductors [ohm].

    """

    id: str
    box: int
    hot: int
    back: int
    ohms: float


@dataclass(frozen=True, slots=True)
class Network:
    """All of it; boxes stand after the box that feeds them, conductors are the legs in order and then the neutral."""

    legs: int
    boxes: tuple[Box, ...]
    branches: tuple[Branch, ...]


@dataclass(frozen=True, slots=True)
class Solution:
    """One solved moment.

    Attributes:
        amps: of each branch [A].
        box_volts: of each box, each conductor against the source's neutral [V].
        box_amps: into each box, each conductor, away from the source [A].
        residual: largest change of a branch's current in the last round [A].

    """

    amps: tuple[complex, ...]
    box_volts: tuple[tuple[complex, ...], ...]
    box_amps: tuple[tuple[complex, ...], ...]
    residual: float

    def volts_at_box(self, branch: Branch) -> complex:
        """Give the volts a branch gets at its box [V]."""
        volts = self.box_volts[branch.box]
        return volts[branch.hot] - volts[branch.back]


def solve(network: Network, emf: Sequence[complex], draws: Sequence[Draw | None], guess: Sequence[complex]) -> Solution:
    """Solve for the currents.

    Args:
        network: the wires.
        emf: voltage inside each winding, leg to neutral [V].
        draws: what each branch draws; None where it is open.
        guess: currents to begin with [A], those of the moment before or zeros.

    """
    amps = [0j if draw is None else begin for draw, begin in zip(draws, guess, strict=True)]
    for _ in range(_MOST_ROUNDS):
        box_amps = _sum_up(network, amps)
        box_volts = _go_down(network, emf, box_amps)
        residual = 0.0
        for index, (branch, draw) in enumerate(zip(network.branches, draws, strict=True)):
            if draw is None:
                continue
            volts = box_volts[branch.box]
            across = volts[branch.hot] - volts[branch.back] - 2 * branch.ohms * amps[index]
            change = draw(across) - amps[index]
            amps[index] += _STRIDE * change
            residual = max(residual, abs(change))
        if residual < TOLERANCE_AMPS:
            break
    return Solution(tuple(amps), tuple(map(tuple, box_volts)), tuple(map(tuple, box_amps)), residual)


def _sum_up(network: Network, amps: Sequence[complex]) -> list[list[complex]]:
    """Give the current into each box by conductor (Kirchhoff's current law)."""
    sums = [[0j] * (network.legs + 1) for _ in network.boxes]
    for branch, current in zip(network.branches, amps, strict=True):
        sums[branch.box][branch.hot] += current
        sums[branch.box][branch.back] -= current
    for index in range(len(network.boxes) - 1, 0, -1):
        parent = network.boxes[index].parent or 0
        sums[parent] = [above + below for above, below in zip(sums[parent], sums[index], strict=True)]
    return sums


def _go_down(network: Network, emf: Sequence[complex], box_amps: Sequence[Sequence[complex]]) -> list[list[complex]]:
    """Give the volts of each box by conductor (Ohm's law along each run)."""
    volts: list[list[complex]] = []
    for box, amps in zip(network.boxes, box_amps, strict=True):
        above = [*emf, 0j] if box.parent is None else volts[box.parent]
        volts.append([u - box.ohms * i for u, i in zip(above[:-1], amps[:-1], strict=True)])
        volts[-1].append(above[-1] - box.neutral_ohms * amps[-1])
    return volts
