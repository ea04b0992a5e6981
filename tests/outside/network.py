"""A small set solved node by node with NumPy, for readings that owe nothing to what judges them.

Kirchhoff's laws alone: a voltage behind each leg of the source, an impedance for each conductor of each run, neutrals
too, and a conductance for each load (resistive loads, so that one linear solution a moment is exact). A break is an
impedance of 10 kilohm. Runs are 20 m of 16 mm2 copper at 0.0212 ohm mm2/m (0.0178 at 20 degrees, 19 % more when warm:
from memory); everything else is invented.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

Series = npt.NDArray[np.float64]
Phasors = npt.NDArray[np.complex128]
ANGLES = {"120/240": (0, 180), "208Y/120": (0, -120, 120), "400Y/230": (0, -120, 120)}
BREAK, RUN = 1e4, 0.0212 * 20 / 16
BEGIN_S = 1_790_000_000


@dataclass
class Branch:
    """A circuit: its box, legs, watts at nominal volts over time, and whether its breaker is open over time."""

    box: str
    legs: tuple[str, ...]
    watts: Series
    plan: str = ""
    open: Series = field(default_factory=lambda: np.zeros(1))

    @property
    def other(self) -> str:
        """The conductor that its current comes back by."""
        return self.legs[1] if len(self.legs) > 1 else "N"


class Network:
    """A source, boxes and circuits.

    Args:
        system: voltage system.
        seconds: length.
        seed: of the noise.
        pace_s: between two readings of one point [s].

    """

    def __init__(self, system: str, seconds: int, seed: int, pace_s: float = 1.0) -> None:
        self.system, self.pace_s = system, pace_s
        self.random = np.random.default_rng(seed)
        self.time = np.arange(0.0, seconds, pace_s)
        self.nominal = 230.0 if "230" in system else 120.0
        self.legs = [f"L{n + 1}" for n in range(len(ANGLES[system]))]
        self.phase = dict(zip(self.legs, np.exp(1j * np.deg2rad(ANGLES[system])), strict=True))
        self.volts = {leg: np.full(len(self.time), self.nominal) for leg in self.legs}
        self.hertz = np.full(len(self.time), 50.0 if self.nominal > 200 else 60.0)
        self.rated_kw = 40.0
        self.boxes: dict[str, tuple[str, bool]] = {}
        self.more: dict[tuple[str, str], Series] = {}
        self.circuits: dict[str, Branch] = {}

    def since(self, at_s: float) -> Series:
        """Give 1 from a moment on, else 0."""
        return (self.time >= at_s).astype(float)

    def box(self, name: str, parent: str = "source", *, metered: bool = True) -> None:
        """Hang up a box."""
        self.boxes[name] = (parent, metered)

    def circuit(self, name: str, box: str, legs: str, watts: float | Series, plan: str = "") -> None:
        """Hang up a circuit; ``legs`` as ``"L1"`` or ``"L1 L2"``."""
        drawn = np.zeros(len(self.time)) + watts
        self.circuits[name] = Branch(box, tuple(legs.split()), drawn, plan, np.zeros(len(self.time)))

    def solve(self) -> dict[str, tuple[Series, Series]]:
        """Give volts and amps of every point."""
        nodes = [(p, c) for p in ("source", *self.boxes) for c in (*self.legs, "N")]
        at = {node: n for n, node in enumerate(nodes)}
        size, count = len(self.time), len(nodes)
        y, j = np.zeros((size, count, count), complex), np.zeros((size, count), complex)
        inner = 0.02 * self.nominal**2 * len(self.legs) / (1000 * self.rated_kw) * (0.6 + 0.5j)
        for leg in (*self.legs, "N"):
            ohms = inner + self.more.get(("source", leg), 0.0) + np.zeros(size)
            y[:, at["source", leg], at["source", leg]] += 1 / ohms
            if leg != "N":
                j[:, at["source", leg]] += self.volts[leg] * self.phase[leg] / ohms
        for name, (parent, _) in self.boxes.items():
            for leg in (*self.legs, "N"):
                _join(y, (at[parent, leg], at[name, leg]), 1 / (RUN + self.more.get((name, leg), 0.0)))
                y[:, at[name, leg], at[name, leg]] += 1e-5
        for one in self.circuits.values():
            _join(y, (at[one.box, one.legs[0]], at[one.box, one.other]), self._siemens(one))
        v: Phasors = np.linalg.solve(y, j[..., None])[..., 0].astype(np.complex128)
        return self._points({node: v[:, n] for node, n in at.items()})

    def _points(self, v: dict[tuple[str, str], Phasors]) -> dict[str, tuple[Series, Series]]:
        amps = {node: np.zeros(len(self.time), complex) for node in v}
        found = {}
        for name, one in self.circuits.items():
            across = v[one.box, one.legs[0]] - v[one.box, one.other]
            flows = across * self._siemens(one)
            amps[one.box, one.legs[0]] += flows
            amps[one.box, one.other] -= flows
            found[name] = (np.abs(across) * (1 - one.open), np.abs(flows))
        for place in (*reversed(self.boxes), "source"):
            for leg in self.legs:
                if place == "source" or self.boxes[place][1]:
                    found[f"{place}/{leg}"] = (np.abs(v[place, leg] - v[place, "N"]), np.abs(amps[place, leg]))
                if place != "source":
                    amps[self.boxes[place][0], leg] += amps[place, leg]
        return found

    def _siemens(self, one: Branch) -> Series:
        return one.watts * (1 - one.open) / self._across(one) ** 2

    def _across(self, one: Branch) -> float:
        return float(abs(self.phase[one.legs[0]] - self.phase[one.legs[1]]) if len(one.legs) > 1 else 1) * self.nominal

    def rows(self, *, noise: float = 0.1) -> str:
        """Give the readings as CSV: tenths of a volt, hundredths of an amp."""
        rows = []
        for name, (volts, amps) in self.solve().items():
            late = self.random.uniform(0, 0.3)
            for n, at_s in enumerate(self.time):
                v = max(0.0, volts[n] + (self.random.normal(0, noise) if volts[n] > 1 else 0.0))
                a = max(0.0, amps[n] + (self.random.normal(0, 0.02) if amps[n] > 0.05 else 0.0))
                hertz = f"{self.hertz[n]:.2f}" if v > 1 else ""
                rows.append((at_s + late, f"{BEGIN_S + at_s + late:.3f},{name},{v:.1f},{a:.2f},{hertz},"))
        return "time,point,volts,amps,hertz,watts\n" + "\n".join(row for _, row in sorted(rows)) + "\n"

    def show(self) -> str:
        """Give its show file."""
        america = self.nominal < 200
        size = 'breaker = { amps = 60, standard = "UL 489" }\ncable = { mm2 = 16, metres = 20 }\n'
        text = [f'[show]\nname = "Net"\nregion = "{"north-america" if america else "europe"}"\ntimezone = "UTC"\n']
        text.append(f'[source]\nkind = "generator"\nsystem = "{self.system}"\nrated_kw = {self.rated_kw:g}\n')
        text += [f'[[feeder]]\nid = "{name}"\nfed_from = "{up}"\n{size}' for name, (up, _) in self.boxes.items()]
        for name, one in self.circuits.items():
            legs = ", ".join(f'"{leg}"' for leg in one.legs)
            text.append(f'[[circuit]]\nid = "{name}"\nfed_from = "{one.box}"\nlegs = [{legs}]\n')
            text.append(f'breaker = {{ amps = 20, standard = "UL 489" }}\nload = [{one.plan}]\n')
        text.append('[[bus]]\nid = "b"\nprotocol = "modbus-tcp"\ntcp = "127.0.0.1:1"\n')
        points = [*self.circuits, *(f"{b}/{leg}" for b, (_, read) in self.boxes.items() if read for leg in self.legs)]
        points += [f"source/{leg}" for leg in self.legs]
        meter = '[[meter]]\nbus = "b"\nunit = {}\nmap = "single-circuit"\npoints = {{ ch1 = "{}" }}\n'
        return "\n".join([*text, *(meter.format(n + 1, point) for n, point in enumerate(points))])


def _join(y: Phasors, ends: tuple[int, int], siemens: Series | float) -> None:
    a, b = ends
    y[:, a, a] += siemens
    y[:, b, b] += siemens
    y[:, a, b] -= siemens
    y[:, b, a] -= siemens
