"""Each metered circuit: its steps, what it carried above its rating, and the load that came on last."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import TYPE_CHECKING

from monitor.electrical.breaker import band
from monitor.electrical.heat import advance, cold, edges
from monitor.electrical.loads import nominal_volts, planned_current
from monitor.electrical.steps import StepFinder, whole
from monitor.incidents.model import FoundStep

if TYPE_CHECKING:
    from monitor.alarms.conditions.layout import CircuitPlace
    from monitor.electrical.steps import Step
    from monitor.incidents.traces import Board, Sampled, Trace
    from monitor.show.model import Point, System

_WINDOW_MS = 600_000  # what was above the rating counts for ten minutes
_KEPT_OVER, _KEPT_STEPS = 1300, 12
_ABOVE, _NEAR = 1.05, 0.95  # of the rating: an overload; possibly one (hot box, meter's error)
# An overload of so many times the rating counts after so many seconds (judgements; the first is the trade's minute).
_COUNTS = ((2.0, 4.0), (1.5, 12.0), (1.25, 25.0), (_ABOVE, 55.0))
_JUST_MS = 5000
_ONE_MS = 400
_LIKE = 0.15  # of a planned load's amps

LINE_NOTE = (
    "all of this circuit's load went while its volts stayed: they are taken before the breaker, so that this log can't"
    " tell switching off from an opening"
)
NO_VOLTS_NOTE = "all of this circuit's load went; its volts are not measured: this log can't tell why"


@dataclass(frozen=True, slots=True)
class Overload:
    """What a circuit carried against its rating just before it went.

    Attributes:
        amps: at the end [A].
        multiple: of the rating [1].
        seconds: above the rating in the last ten minutes, up to the end [s].
        counts: whether it is high and long enough to be taken for an overload.
        possible: whether the breaker's standard leaves an opening open at such a load.
        text: for the evidence.

    """

    amps: float
    multiple: float
    seconds: float
    counts: bool
    possible: bool
    text: str

    @property
    def near(self) -> bool:
        """Whether it stood near its rating."""
        return self.multiple >= _NEAR


class Circuit:
    """One metered circuit.

    Args:
        place: of the layout.
        traces: its points.
        system: voltage system.

    Attributes:
        over: (time [ms], amps [A]) of samples above the rating, oldest first.
        steps: the last loads that came on.

    """

    def __init__(self, place: CircuitPlace, traces: tuple[Trace, ...], system: System) -> None:
        self.place, self.traces, self._system = place, traces, system
        self.id = place.circuit.id
        self.finder = StepFinder(place.circuit, system)
        self.over: deque[tuple[int, float]] = deque(maxlen=_KEPT_OVER)
        self.steps: deque[FoundStep] = deque(maxlen=_KEPT_STEPS)
        self._whole_ms = 0
        self._legs: dict[Point, Sampled] = {}

    @property
    def blind(self) -> bool:
        """Whether its volts can't show an opening: taken before the breaker, or not measured."""
        return self.place.circuit.volts_tap == "line" or self.traces[0].volts is None

    @property
    def amps(self) -> float | None:
        """Last amps, the highest leg's [A]."""
        known = [trace.amps for trace in self.traces if trace.amps is not None]
        return max(known) if known else None

    def put_together(self, trace: Trace, sample: Sampled) -> tuple[FoundStep, ...]:
        """Take the legs' last samples as one, once all of them are new."""
        self._legs[trace.point] = sample
        parts = [self._legs.get(one.point) for one in self.traces]
        known = [part for part in parts if part is not None and part[0] > self._whole_ms]
        if len(known) < len(parts):
            return ()
        self._whole_ms = max(at for at, _ in known)
        legs = [(values.volts, values.amps, values.watts) for _, values in known]
        volts, amps, watts = whole(self.place.circuit, self._system, legs)
        return self.tell(self.finder.add(self._whole_ms / 1000, volts, amps, watts))

    def tell(self, steps: tuple[Step, ...]) -> tuple[FoundStep, ...]:
        """Make steps of this circuit, with what the log can't tell about them."""
        found = tuple(
            FoundStep(self.id, round(1000 * step.time_s), round(1000 * step.earliest_s), step, self._note(step))
            for step in steps
        )
        self.steps.extend(step for step in found if step.step.kind == "on")
        return found

    def _note(self, step: Step) -> str:
        amps = self.amps
        if step.kind == "on" or not self.blind or amps is None or amps >= self.traces[0].least_amps:
            return ""
        return NO_VOLTS_NOTE if self.traces[0].volts is None else LINE_NOTE

    def overload(self, end_ms: int) -> Overload:
        """Judge what it carried up to its last sample with load or power [ms]."""
        breaker = self.place.circuit.breaker
        worst = max(self.traces, key=lambda trace: max(trace.last("amps", 3, end_ms), default=0.0))
        last = worst.last("amps", 3, end_ms)
        # The very last sample may hold a part of the opening, or of a fault.
        amps = sorted(last)[len(last) // 2] if last else 0.0
        over = [(at, a) for at, a in self.over if end_ms - _WINDOW_MS <= at <= end_ms]
        step_s = worst.interval_ms / 1000
        upto = bool(over) and end_ms - over[-1][0] <= 2.5 * worst.interval_ms
        seconds = len(over) * step_s if upto else 0.0
        multiple = amps / breaker.amps
        highest = max((a for _, a in over), default=0.0)
        counts = any(multiple >= least and seconds >= needed for least, needed in _COUNTS)
        possible, why = self._possible(amps, seconds, over, step_s)
        text = f"{self.place.label} carried {amps:.1f} A on a {breaker.amps:g} A breaker before it went"
        if seconds:
            text += f", above its rating for {seconds:.0f} s of the last 10 min, {highest:.1f} A at most; {why}"
        return Overload(amps, multiple, seconds, counts, possible, text)

    def _possible(self, amps: float, seconds: float, over: list[tuple[int, float]], step_s: float) -> tuple[bool, str]:
        """Say whether the breaker may open at such a load after such a time, and on what that rests."""
        breaker = self.place.circuit.breaker
        soonest = band(breaker, amps).soonest
        if soonest.kind == "holds":
            return False, f"{breaker.standard} has it hold that load"
        if soonest.kind == "not-set":
            return True, f"{breaker.standard} sets no earliest time for that load"
        drawn = edges(breaker)
        state = cold(drawn)
        for _, a in over:
            state = advance(state, drawn, a, step_s)
        first = soonest.seconds or 0.0
        return seconds + 2 * step_s >= first, f"{breaker.standard} allows an opening from {first:g} s on" + (
            "" if state.fastest is None else f", and the load had come {100 * state.fastest:.0f} % along its early edge"
        )

    def rise(self, end_ms: int) -> tuple[str, bool | None] | None:
        """Say what came on in the last samples before an end that no step has told yet."""
        trace = self.traces[0]
        if self.steps and self.steps[-1].time_ms >= end_ms - _JUST_MS:
            return None
        last, settled = trace.last("amps", 2, end_ms), trace.last("amps", 12, end_ms)[4:]
        if not last or len(settled) < 3:  # noqa: PLR2004 - too few to know a level
            return None
        base = sorted(settled)[len(settled) // 2]
        more = max(last) - base
        if more < max(1.0, 0.1 * base) or max(settled) > base + 0.5 * more:
            return None
        for load in self.place.circuit.load:
            volts = nominal_volts(self._system, self.place.circuit.legs)
            amps = abs(planned_current((load,), volts)) / load.count
            if abs(amps - more) <= _LIKE * amps:
                return load.name, True
        return f"a load of about {more:.1f} A", False


class Circuits:
    """All metered circuits.

    Attributes:
        of: by id.
        hot: those that were above their rating in the last minutes.

    """

    def __init__(self, board: Board, places: tuple[CircuitPlace, ...], system: System) -> None:
        self.of = {p.circuit.id: Circuit(p, tuple(board.of[point] for point in p.points), system) for p in places}
        single = {c.traces[0].point: (c, c.finder.add) for c in self.of.values() if len(c.traces) == 1}
        self.hot: dict[str, Circuit] = {}
        self._several = {t.point: c for c in self.of.values() for t in c.traces if len(c.traces) > 1}
        self._index = {id(trace): single.get(trace.point) for trace in board.traces}

    def observe(self, board: Board) -> tuple[FoundStep, ...]:
        """Take the fresh samples, and give the steps that they settle."""
        found: tuple[FoundStep, ...] = ()
        index = self._index
        parts: list[tuple[Trace, Sampled]] = []
        for trace, sample in board.fresh:
            single = index[id(trace)]
            if single is not None:
                at_ms, values = sample
                steps = single[1](at_ms / 1000, values.volts, values.amps, values.watts)
                if steps:
                    found += single[0].tell(steps)
            elif trace.point in self._several:
                parts.append((trace, sample))
        for trace, sample in sorted(parts, key=lambda part: part[1][0]) if len(parts) > 1 else parts:
            found += self._several[trace.point].put_together(trace, sample)
        for trace, at_ms, amps in board.over:
            if trace.circuit is not None:
                over = self.of[trace.circuit.circuit.id].over
                self.hot[trace.place] = self.of[trace.place]
                if not over or at_ms - over[-1][0] > _ONE_MS:  # several legs at one moment count once
                    over.append((at_ms, amps))
        return found

    def finish(self) -> tuple[FoundStep, ...]:
        """Give the steps that are settled as far as anything will tell."""
        found: tuple[FoundStep, ...] = ()
        for circuit in self.of.values():
            found += circuit.tell(circuit.finder.finish())
        return found
