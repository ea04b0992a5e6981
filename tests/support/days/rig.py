"""The wires of a set as a nodal network in phasors: every run with its hot conductors and its neutral.

Independent of ``monitor.electrical`` and ``monitor.demo``: Kirchhoff's current law at each conductor of each box,
solved with numpy. A neutral or a leg can be opened, a joint can be given a resistance, and everything follows.
"""

from __future__ import annotations

from cmath import rect
from dataclasses import dataclass, field
from math import acos, pi, radians, tan
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping

    from monitor.show.model import Load, Show

ANGLES = {"120/240": (0, 180), "208Y/120": (0, -120, 120), "400Y/230": (0, -120, 120), "230": (0,)}
NOMINAL = {"120/240": 120.0, "208Y/120": 120.0, "400Y/230": 230.0, "230": 230.0}
OPEN_OHMS = 1e7
_ROUNDS = 12


@dataclass(slots=True)
class Running:
    """A load that is on.

    Attributes:
        load: what it is.
        share: of its watts (dimmed, or one of several pieces).
        multiple: of its amps while it starts.

    """

    load: Load
    share: float = 1.0
    multiple: float = 1.0


@dataclass(slots=True)
class Rig:
    """A set's wires and what is on.

    Attributes:
        show: the set.
        ohms: of each conductor of each feeder's run [ohm]; opened and worn ones are changed here. ``source`` has none
            but its neutral, which ties its star point.
        on: loads that are on, by circuit.
        opened: circuits whose breaker is open.
        emf: source volts by leg, as parts of nominal.
        legs: of the source.
        nominal: leg to neutral [V].
        angle: of each leg [rad].

    """

    show: Show
    ohms: dict[tuple[str, str], float] = field(default_factory=dict)
    on: dict[str, dict[str, Running]] = field(default_factory=dict)
    opened: set[str] = field(default_factory=set)
    emf: dict[str, float] = field(default_factory=dict)
    legs: tuple[str, ...] = ()
    nominal: float = 0.0
    angle: dict[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Begin with whole wires, and nothing on."""
        source = self.show.source
        self.legs = source.legs
        self.nominal = NOMINAL[source.system]
        self.angle = {leg: radians(a) for leg, a in zip(self.legs, ANGLES[source.system], strict=True)}
        self.emf = dict.fromkeys(self.legs, 1.0)
        for feeder in self.show.feeders:
            metres = feeder.cable.metres if feeder.cable else 10.0
            for conductor in (*feeder.legs, "N"):
                self.ohms[feeder.id, conductor] = 0.0009 * metres  # about 25 mm2, warm
        self.ohms["source", "N"] = 1e-4
        for leg in self.legs:
            self.ohms["source", leg] = 1e-4
        self.on = {circuit.id: {} for circuit in self.show.circuits}

    def solve(self) -> dict[str, tuple[complex, complex]]:
        """Give volts and amps at every point: ``A1``, ``A1/L1``, ``boxA/L1``, ``source/N`` and so on."""
        places = ("source", *(feeder.id for feeder in self.show.feeders))
        index = {(place, c): i for i, (place, c) in enumerate((p, c) for p in places for c in (*self.legs, "N"))}
        volts = np.zeros(len(index), dtype=complex)
        for (_, conductor), i in index.items():
            volts[i] = 0 if conductor == "N" else rect(self.nominal, self.angle[conductor])
        wires, injected = self._wires(index)
        admittance = {}
        for _ in range(_ROUNDS):
            matrix = wires.copy()
            admittance = self._loads(index, volts)
            for circuit, (a, b, y) in admittance.items():
                del circuit
                matrix[a, a] += y
                matrix[b, b] += y
                matrix[a, b] -= y
                matrix[b, a] -= y
            new = np.linalg.solve(matrix, injected)
            done = np.max(np.abs(new - volts)) < 1e-4
            volts = 0.5 * volts + 0.5 * new if not done else new
            if done:
                break
        return self._points(index, volts, admittance)

    def _wires(self, index: Mapping[tuple[str, str], int]) -> tuple[np.ndarray, np.ndarray]:
        size = len(index)
        matrix, injected = np.zeros((size, size), dtype=complex), np.zeros(size, dtype=complex)
        for conductor in (*self.legs, "N"):
            i = index["source", conductor]
            y = 1 / self.ohms["source", conductor]
            matrix[i, i] += y + 1e-9
            if conductor != "N":
                injected[i] = y * rect(self.nominal * self.emf[conductor], self.angle[conductor])
        for feeder in self.show.feeders:
            for conductor in (*self.legs, "N"):
                i, j = index[feeder.id, conductor], index[feeder.fed_from, conductor]
                y = 1 / self.ohms.get((feeder.id, conductor), OPEN_OHMS)
                matrix[i, i] += y + 1e-9
                matrix[j, j] += y
                matrix[i, j] -= y
                matrix[j, i] -= y
        return matrix, injected

    def _loads(self, index: Mapping[tuple[str, str], int], volts: np.ndarray) -> dict[str, tuple[int, int, complex]]:
        found = {}
        for circuit in self.show.circuits:
            a = index[circuit.fed_from, circuit.legs[0]]
            b = index[circuit.fed_from, circuit.legs[1] if len(circuit.legs) > 1 else "N"]
            y = 0j
            if circuit.id not in self.opened:
                across = abs(volts[a] - volts[b])
                nominal = self._across(circuit.legs)
                y = sum((_admittance(running, across, nominal) for running in self.on[circuit.id].values()), 0j)
            found[circuit.id] = (a, b, y)
        return found

    def _across(self, legs: tuple[str, ...]) -> float:
        if len(legs) == 1:
            return self.nominal
        return abs(rect(self.nominal, self.angle[legs[0]]) - rect(self.nominal, self.angle[legs[1]]))

    def _points(
        self, index: Mapping[tuple[str, str], int], volts: np.ndarray, loads: Mapping[str, tuple[int, int, complex]]
    ) -> dict[str, tuple[complex, complex]]:
        flows: dict[tuple[str, str], complex] = dict.fromkeys(index, 0j)
        points: dict[str, tuple[complex, complex]] = {}
        up = {feeder.id: feeder.fed_from for feeder in self.show.feeders}
        for circuit in self.show.circuits:
            a, b, y = loads[circuit.id]
            amps = complex((volts[a] - volts[b]) * y)
            dead = circuit.id in self.opened and circuit.volts_tap == "load"
            points[circuit.id] = (0j if dead else complex(volts[a] - volts[b]), amps)
            neutral = index[circuit.fed_from, "N"]
            for leg, sign in zip(circuit.legs, (1, -1), strict=False):
                here = complex(volts[index[circuit.fed_from, leg]] - volts[neutral])
                points[f"{circuit.id}/{leg}"] = (0j if dead else here, sign * amps)
            back = circuit.legs[1] if len(circuit.legs) > 1 else "N"
            place = circuit.fed_from
            while True:
                flows[place, circuit.legs[0]] += amps
                flows[place, back] -= amps
                if place == "source":
                    break
                place = up[place]
        for (place, conductor), i in index.items():
            at = index[place, "N"]
            reads = 0j if conductor == "N" else complex(volts[i] - volts[at])
            points[f"{place}/{conductor}"] = (reads, flows[place, conductor])
        return points


def _admittance(running: Running, across: float, nominal: float) -> complex:
    """Give a load's admittance at the volts across it [S]."""
    load = running.load
    watts = load.watts * load.count * running.share
    apparent = complex(watts, -watts * tan(acos(load.power_factor)))
    share = max(across / nominal, 1e-6)
    if running.multiple > 1:
        return running.multiple * abs(apparent) / nominal**2 * rect(1, -pi / 3)
    if load.kind == "resistive":
        return apparent / nominal**2
    if load.kind == "tungsten":
        warmer: float = max(share, 0.05) ** -0.47
        return apparent / nominal**2 * warmer
    return apparent / nominal**2 / max(share, 0.7) ** 2
