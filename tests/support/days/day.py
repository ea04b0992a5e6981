"""A day, second by second: what people switch, how source and meters behave, and the moments that the alarms see."""

from __future__ import annotations

from math import exp, pi, sin
from random import Random
from typing import TYPE_CHECKING

from drivers.reading import Quality, Values
from monitor.alarms.model import Now, PointNow
from tests.support.days.rig import Rig, Running

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from monitor.show.model import Load, Point, Show

    Act = Callable[["Day"], None]

BEGIN_MS = 1_790_000_000_000
_OLD_S = 3
_RECOVERY = {"G1": 9.0, "G2": 5.0, "G3": 3.0}
_DIP = {"G1": (0.15, 0.25), "G2": (0.10, 0.20), "G3": (0.07, 0.15)}  # hertz, volts; ISO 8528-5 as in supply.toml
_BAND = {"G1": 0.025, "G2": 0.015, "G3": 0.005}


class Day:
    """One day on one set.

    Args:
        show: the set.
        seed: of everything that comes and goes.
        noise: of a single sample, relative (a meter's flutter).

    Attributes:
        rig: the wires, to be broken.
        silent: meters that don't answer, as ``bus:unit``.
        hertz_off: added to the source's hertz, relative.
        volts_off: factor on the source's volts.
        dead: the source has stopped.
        log_problem: why the log can't be written now.
        clock_step_s: a step of the clock at the next moment [s].
        corrupt: share of polls that fail.
        slow: share of moments that a meter's answer misses.
        refused: points whose meter gives a value that can't be.
        reversed: points whose current transformer sits the wrong way round.

    """

    def __init__(self, show: Show, seed: int = 1, noise: float = 0.003) -> None:
        self.show = show
        self.rig = Rig(show)
        self.random = Random(seed)
        self.second = 0
        self.silent: set[str] = set()
        self.hertz_off = 0.0
        self.volts_off = 1.0
        self.dead = False
        self.log_problem = ""
        self.clock_step_s = 0.0
        self.corrupt = 0.0
        self.slow = 0.0
        self.refused: set[str] = set()
        self.reversed: set[str] = set()
        self._noise = noise
        self._acts: dict[int, list[Act]] = {}
        self._starts: list[tuple[int, float, float, Running]] = []
        self._gains = {p: (self.random.gauss(1, 0.002), self.random.gauss(1, 0.004)) for p in show.points()}
        self._dirty = True
        self._points: dict[str, tuple[complex, complex]] = {}
        self._before: dict[str, tuple[complex, complex]] = {}
        self._dip = 0.0
        self._watts = 0.0
        self._memory: dict[Point, tuple[int, Values]] = {}
        self._skew = {f"{m.bus}:{m.unit}": n % 2 for n, m in enumerate(show.meters)}
        self._kw = 1000 * (show.source.rated_kw or 50)

    def at(self, second: int, act: Act) -> None:
        """Let something happen."""
        self._acts.setdefault(second, []).append(act)

    def switch(self, circuit: str, load: Load, *, on: bool, share: float = 1.0) -> None:
        """Switch a load."""
        running = self.rig.on[circuit]
        if not on:
            running.pop(load.name, None)
        elif load.name not in running:
            running[load.name] = Running(load, share)
            if load.kind == "motor":
                multiple = load.start_multiple or 6
                self._starts.append((self.second, multiple, self.random.uniform(0.6, 2.2), running[load.name]))
            elif load.kind == "tungsten":
                self._starts.append((self.second, 2.5, 0.4, running[load.name]))
        self.change()

    def change(self) -> None:
        """Solve anew: something about the wires or the loads is other than before."""
        self._dirty = True

    def moments(self, seconds: int) -> Iterator[Now]:
        """Give every moment up to a second."""
        while self.second < seconds:
            for act in self._acts.get(self.second, ()):
                act(self)
                self.change()
            self._run_starts()
            self._before = self._points
            if self._dirty or not self._points:
                self._points = self.rig.solve()
                self._step()
                self._dirty = False
            yield self._now()
            self.second += 1

    def _run_starts(self) -> None:
        kept = []
        for begin, multiple, decay, running in self._starts:
            age = self.second - begin
            running.multiple = max(1.0, multiple * exp(-age / decay)) if age < 9 else 1.0
            self._dirty = True
            if running.multiple > 1:
                kept.append((begin, multiple, decay, running))
        self._starts = kept

    def _step(self) -> None:
        """Let a generator feel a load step."""
        watts = sum((v * i.conjugate()).real for p, (v, i) in self._points.items() if p.startswith("source/L"))
        self._dip += (watts - self._watts) / self._kw
        self._watts = watts

    def _now(self) -> Now:
        source = self.show.source
        recovery = _RECOVERY.get(source.performance_class or "", 5.0)
        if self.second:
            self._dip *= exp(-3.5 / recovery)
        generator = source.kind == "generator" and source.governor != "inverter"
        wave = sin(2 * pi * self.second / 13.0)
        band = _BAND.get(source.performance_class or "", 0.0) if generator else 0.0
        dips = _DIP.get(source.performance_class or "", (0.0, 0.0)) if generator else (0.0, 0.0)
        droop = 0.04 * (1 - self._watts / self._kw) if source.governor == "droop" else 0.0
        hertz = source.hertz * (1 + 0.4 * band * wave + droop - 0.9 * dips[0] * self._dip + self.hertz_off)
        volts = self.volts_off * (1 + 0.006 * sin(2 * pi * self.second / 1700)) * (1 - 0.8 * dips[1] * self._dip)
        points: dict[Point, PointNow] = {}
        for meter in self.show.meters:
            points |= self._meter(f"{meter.bus}:{meter.unit}", [p for _, p in meter.points], hertz, volts)
        step, self.clock_step_s = self.clock_step_s, 0.0
        return Now(
            time_ms=BEGIN_MS + 1000 * self.second,
            points=points,
            resumed=self.second == 0,
            log_problem=self.log_problem,
            clock_step_s=step,
        )

    def _meter(self, name: str, points: list[Point], hertz: float, volts: float) -> dict[Point, PointNow]:
        quality, heard = Quality.GOOD, True
        if name in self.silent:
            quality = Quality.SILENT
        elif self.random.random() < self.corrupt:
            quality = self.random.choice((Quality.CORRUPT, Quality.SUSPECT, Quality.SILENT))
        elif self.random.random() < self.slow:
            heard = False
        found = {}
        shown = self._before if self._skew[name] and self._before else self._points
        for point in points:
            if quality is Quality.GOOD and heard:
                self._memory[point] = (self.second, self._values(point, shown, hertz, volts))
            at, values = self._memory.get(point, (-99, Values()))
            age = self.second - at
            live = values if age <= _OLD_S else None
            told = Quality.IMPLAUSIBLE if quality is Quality.GOOD and str(point) in self.refused else quality
            found[point] = PointNow(live, told, "", age if at >= 0 else None, heard)
        return found

    def _values(self, point: Point, shown: dict[str, tuple[complex, complex]], hertz: float, factor: float) -> Values:
        volts, amps = shown[str(point)]
        gain_v, gain_a = self._gains[point]
        flutter = self.random.gauss
        if self.dead:
            return Values(volts=0.0, amps=0.0, hertz=None, watts=0.0)
        v = abs(volts) * factor * gain_v * flutter(1, self._noise / 3)
        a = abs(amps) * gain_a * flutter(1, self._noise)
        watts = (volts * amps.conjugate()).real * factor * gain_v * gain_a * (-1 if str(point) in self.reversed else 1)
        alive = abs(volts) > 20
        return Values(volts=v, amps=a if a > 0.02 else 0.0, hertz=hertz if alive else None, watts=watts)
