"""Random days of one circuit: what was switched when, and what its meter showed. All of it is invented.

Physics of its own, apart from ``monitor``: source volts that wander and dip, a run of cable, loads that follow their
volts by kind, filaments and motors that start, thermostats, fades, loads that nobody planned, a meter with standing
errors, flutter, steps of its last digit, missing samples and a pace of its own.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import acos, exp, tan
from random import Random
from typing import TYPE_CHECKING

from monitor.show.model import Breaker, Circuit, Load

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from monitor.show.model import LoadKind, System

SYSTEMS: tuple[tuple[System, tuple[str, ...], float], ...] = (
    ("120/240", ("L1",), 120.0),
    ("120/240", ("L1", "L2"), 240.0),
    ("208Y/120", ("L2",), 120.0),
    ("208Y/120", ("L1", "L3"), 207.85),
    ("400Y/230", ("L3",), 230.0),
    ("400Y/230", ("L1", "L2", "L3"), 230.0),
    ("230", ("L1",), 230.0),
)
MENU: tuple[tuple[str, float, float, LoadKind], ...] = (
    ("LED panel", 480, 0.97, "electronic"),
    ("LED spot", 600, 0.95, "electronic"),
    ("Soft tube", 110, 0.6, "electronic"),
    ("Arc head", 1290, 0.97, "electronic"),
    ("Edit cart", 850, 0.94, "electronic"),
    ("Chargers", 320, 0.65, "electronic"),
    ("Fresnel 650", 650, 1.0, "tungsten"),
    ("Fresnel 1k", 1000, 1.0, "tungsten"),
    ("Fresnel 2k", 2000, 1.0, "tungsten"),
    ("Kettle", 1400, 1.0, "resistive"),
    ("Steamer", 1750, 1.0, "resistive"),
    ("Urn", 1200, 1.0, "resistive"),
    ("Fridge", 230, 0.72, "motor"),
    ("Wind fan", 750, 0.8, "motor"),
    ("Cooler", 1050, 0.88, "motor"),
)
BREAKER = 20.0


@dataclass(slots=True)
class Piece:
    """One piece that can be switched: its load, whether it is planned, its true watts, and since when it is on [s]."""

    load: Load
    planned: bool
    watts: float
    on_s: float | None = None
    start: float = 0.0
    decay_s: float = 0.05
    share: float = 1.0
    fade: tuple[float, float, float, float] | None = None


@dataclass(frozen=True, slots=True)
class Act:
    """What somebody did: when [s], with which pieces, on or off; ``fade``: it took so long [s], to this share."""

    time_s: float
    pieces: tuple[int, ...]
    on: bool
    fade_s: float = 0.0
    share: float = 1.0


@dataclass(slots=True)
class StepDay:
    """One circuit's day.

    Attributes:
        circuit: with its plan.
        system: voltage system.
        nominal: volts across its loads.
        pieces: everything that can be switched.
        acts: in time order.
        pace_s: between two samples [s].
        flutter: of one sample, one sigma, relative.
        digit: of the amps shown [A], 0 for none.
        by_watts: whether the meter shows watts.
        seed: of what comes and goes.
        lost: share of samples that are missing.
        dips: (time [s], depth, length [s]) of the source's volts.

    """

    circuit: Circuit
    system: System
    nominal: float
    pieces: list[Piece]
    acts: list[Act]
    hours: float = 1.0
    pace_s: float = 1.0
    flutter: float = 0.003
    digit: float = 0.0
    by_watts: bool = True
    seed: int = 1
    lost: float = 0.0
    dips: list[tuple[float, float, float]] = field(default_factory=list)
    cable_ohms: float = 0.15

    def samples(self) -> Iterator[tuple[float, float | None, float | None, float | None]]:
        """Give (time [s], volts, amps, watts); all None where the poll failed."""
        random = Random(self.seed)
        gains = random.gauss(1, 0.002), random.gauss(1, 0.005)
        waiting = list(self.acts)
        legs = 3 if len(self.circuit.legs) == 3 else 1
        wander, time_s, missing_s = 0.0, random.random(), 0.0
        for piece in self.pieces:
            piece.on_s, piece.share, piece.fade = None, 1.0, None
        while time_s < self.hours * 3600:
            while waiting and waiting[0].time_s <= time_s:
                self._act(waiting.pop(0), random)
            wander = 0.999 * wander + random.gauss(0, 0.0003)
            emf = self.nominal * (1.01 + wander - sum(_dip(dip, time_s) for dip in self.dips))
            volts, power = self._solve(emf, time_s, legs)
            amps = abs(power) / volts / legs
            if random.random() < self.lost:
                missing_s = random.choice((1, 1, 3, 30)) * self.pace_s
            if missing_s > 0:
                missing_s -= self.pace_s
                yield time_s, None, None, None
            else:
                yield (time_s, *self._shown(random, gains, volts, amps, power.real))
            time_s += self.pace_s * random.uniform(0.97, 1.03)

    def _shown(
        self, random: Random, gains: tuple[float, float], volts: float, amps: float, watts: float
    ) -> tuple[float, float, float | None]:
        noise = 1 + random.gauss(0, self.flutter)
        seen_volts = volts * gains[0] * (1 + random.gauss(0, min(self.flutter, 0.003) / 3))
        seen = amps * gains[1] * noise
        if self.digit:
            seen, seen_volts = round(seen / self.digit) * self.digit, round(seen_volts, 1)
        power = watts * gains[0] * gains[1] * noise * (1 + random.gauss(0, self.flutter / 3))
        return seen_volts, seen, power if self.by_watts else None

    def _act(self, act: Act, random: Random) -> None:
        for index in act.pieces:
            piece = self.pieces[index]
            if act.fade_s:
                begin = piece.share if piece.on_s is not None else 0.0
                piece.on_s = act.time_s - 100 if piece.on_s is None else piece.on_s
                piece.fade = (act.time_s, act.fade_s, begin, act.share)
            else:
                piece.on_s = act.time_s if act.on else None
                piece.share, piece.fade = 1.0, None
                piece.start = {"tungsten": 14.0, "motor": piece.load.start_multiple or 6.0}.get(piece.load.kind, 1.0)
                piece.decay_s = random.uniform(0.4, 1.5) if piece.load.kind == "motor" else 0.07

    def _solve(self, emf: float, time_s: float, legs: int) -> tuple[float, complex]:
        volts, power = emf, 0j
        for _ in range(3):
            power = sum((_drawn(piece, volts, self.nominal, time_s) for piece in self.pieces), 0j)
            volts = emf - self.cable_ohms * power.real / volts / legs
        return volts, power


def _dip(dip: tuple[float, float, float], time_s: float) -> float:
    at_s, depth, length_s = dip
    return depth * exp(-(time_s - at_s) / length_s) if at_s <= time_s < at_s + 8 * length_s else 0.0


def _drawn(piece: Piece, volts: float, nominal: float, time_s: float) -> complex:
    """Give what a piece draws [W + j var]."""
    if piece.on_s is None:
        return 0j
    if piece.fade is not None:
        at_s, length_s, begin, end = piece.fade
        piece.share = begin + (end - begin) * min(1.0, (time_s - at_s) / length_s)
        if piece.share <= 0 and end <= 0:
            piece.on_s, piece.fade = None, None
            return 0j
    share = volts / nominal
    exponent: float = {"resistive": 2.0, "tungsten": 1.53}.get(piece.load.kind, 0.0)
    power: complex = piece.watts * piece.share * complex(1, tan(acos(piece.load.power_factor))) * float(share**exponent)
    age = time_s - piece.on_s
    if piece.start > 1 and age < 12 * piece.decay_s and piece.fade is None:
        starting = exp(-age / piece.decay_s)
        if piece.load.kind == "motor":
            standing = piece.start * abs(power) * complex(0.4, 0.917) * share**2
            return (1 - starting) * power + starting * standing
        return power * (1 + (piece.start - 1) * starting)
    return power


def random_day(seed: int, hours: float = 3.0) -> StepDay:
    """Make a day: system, plan, people, thermostats, strangers, noise and pace by chance."""
    random = Random(seed)
    system, legs, nominal = random.choice(SYSTEMS)
    loads = _plan(random, nominal, 3 if len(legs) == 3 else 1)
    circuit = Circuit("A1", "A1", "source", legs, Breaker(BREAKER), load=tuple(loads))
    pieces = [
        Piece(load, planned=True, watts=load.watts * random.gauss(1, 0.012))
        for load in loads
        for _ in range(load.count)
    ]
    for number in range(random.choice((0, 1, 1, 2))):
        watts = exp(random.uniform(4.6, 7.5))
        kind: LoadKind = random.choice(("resistive", "electronic", "motor"))
        factor = {"resistive": 1.0, "electronic": random.uniform(0.6, 0.98), "motor": random.uniform(0.7, 0.9)}[kind]
        stranger = Load(f"stranger {number}", watts, factor, kind=kind)
        pieces.append(Piece(stranger, planned=False, watts=watts))
    pace_s = random.choice((0.5, 1.0, 1.0, 1.0, 2.0, 5.0, 10.0))
    return StepDay(
        circuit,
        system,
        nominal,
        pieces,
        _people(random, pieces, nominal * BREAKER * (3 if len(legs) == 3 else 1), hours * 3600, pace_s),
        hours=hours,
        pace_s=pace_s,
        flutter=random.choice((0.0005, 0.002, 0.005, 0.01)),
        digit=random.choice((0.0, 0.01, 0.1)),
        by_watts=random.random() < 0.65,
        seed=seed + 1_000_003,
        lost=random.choice((0.0, 0.0, 0.002, 0.01)),
        dips=[(random.uniform(0, hours * 3600), random.uniform(0.01, 0.12), random.uniform(1, 5)) for _ in range(8)],
        cable_ohms=random.uniform(0.05, 0.4) * nominal / 120 / (BREAKER / 20),
    )


def _plan(random: Random, nominal: float, legs: int) -> list[Load]:
    room = nominal * BREAKER * legs
    scale = 1.0 if nominal < 200 else random.choice((1.0, 1.5, 2.0))
    loads: list[Load] = []
    for name, watts, factor, kind in random.sample(MENU, random.randint(1, 6)):
        count = random.choice((1, 1, 1, 2, 3)) if kind in ("electronic", "tungsten") else 1
        start = random.uniform(4, 7) if kind == "motor" else None
        load = Load(name, round(watts * scale), factor, count, kind, start)
        if sum(other.watts * other.count for other in [*loads, load]) < 1.2 * room:
            loads.append(load)
    return loads or [Load("LED spot", 600, 0.95)]


def _people(random: Random, pieces: Sequence[Piece], room: float, end_s: float, pace_s: float) -> list[Act]:
    """Switch groups of pieces on and off by chance; each rests long enough after a switching to be seen."""
    groups: list[tuple[int, ...]] = []
    for name in dict.fromkeys(piece.load.name for piece in pieces):
        members = tuple(i for i, piece in enumerate(pieces) if piece.load.name == name)
        groups += [members] if random.random() < 0.6 else [(member,) for member in members]
    on = [False] * len(groups)
    rested_s = [0.0] * len(groups)
    acts: list[Act] = []
    time_s = 60.0
    while time_s < end_s - 120:
        index = random.randrange(len(groups))
        drawn = sum(pieces[i].watts for g, o in zip(groups, on, strict=True) if o for i in g)
        fits = drawn + sum(pieces[i].watts for i in groups[index]) < room
        if rested_s[index] <= time_s and (on[index] or fits):
            on[index], rested_s[index] = not on[index], time_s + max(20.0, 8 * pace_s)
            acts.append(Act(time_s, groups[index], on[index]))
        calm, busy = random.expovariate(1 / 300) + 8 * pace_s, random.expovariate(1 / 60) + max(15.0, 4 * pace_s)
        time_s += random.choices((calm, busy, random.uniform(3, 8), random.uniform(0.1, 0.5)), (8, 8, 2, 1))[0]
    return acts
