"""Steps: loads that come on and go off at one circuit, found sample by sample and matched to its planned loads.

What is decided here, and why:

- A *step* is the settled change of watts, or of amps where there are no watts. The way there (inrush, a motor's start)
  belongs to it. Two loads within about two samples are one step of both.
- What volts do to the loads that are on is no step. While volts are far from nominal nothing is judged: how loads
  react there is not known.
- Over a gap (nothing measured, or no volts) only the difference is known. It is a step marked ``over_gap`` whose moment
  lies between ``earliest_s`` and ``time_s``.
- A fade of up to a minute is one step with the behaviour ``fade``; a slower one is followed without a step. A fade, or
  a load set lower, names a load only where all of that load came or went.
- The same load on and off three times at a steady pace is *cycling*, and every later step of it says so.
- Smaller than ``LEAST_AMPS`` is no step: meters often show amps in tenths.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from monitor.electrical.loads import nominal_volts
from monitor.electrical.step_cycles import Cycles
from monitor.electrical.step_detect import Detector
from monitor.electrical.step_track import Tracker
from monitor.electrical.step_way import Sample

if TYPE_CHECKING:
    from collections.abc import Sequence

    from monitor.electrical.step_track import Named
    from monitor.electrical.step_way import Change
    from monitor.show.model import Circuit, System

Behaviour = Literal["steady", "inrush", "motor start", "fade", "cycling"]

LEAST_AMPS = 0.15
_JUDGED = (0.75, 1.2)  # of nominal volts
_MOTOR, _INRUSH = 3.0, 1.3  # times the settled value: 3 is a motor's start (a judgement)
_GRAIN_AMPS, _GRAIN_WATTS = 0.03, 0.01  # tenths of an amp; watts are finer [A]
_QUANTITY_S = 10.0  # a quantity that stays away this long is not waited for
_STEADY_VOLTS, _VOLTS_FOLLOW = 0.002, 0.5


@dataclass(frozen=True, slots=True)
class Step:
    """A load, or several at once, coming on or going off.

    Attributes:
        time_s: first sample that shows it [s].
        earliest_s: last sample that doesn't [s]; the moment lies between.
        watts: settled change [W], below 0 for off; None where watts are not measured.
        amps: settled change in a hot leg [A], below 0 for off; None where amps are not measured.
        kind: on or off.
        behaviour: how it came or went.
        match: name of each piece of planned load it is taken for, in the plan's order, a name as often as there are
            pieces; empty where no plan explains it.
        confidence: share of all explanations' weight that this one has, 0 to 1.
        over_gap: it lies in a time without readings or without volts.
        since_s: for a cycling load, when its cycles began [s].

    """

    time_s: float
    earliest_s: float
    watts: float | None
    amps: float | None
    kind: Literal["on", "off"]
    behaviour: Behaviour
    match: tuple[str, ...]
    confidence: float
    over_gap: bool = False
    since_s: float | None = None


def whole(
    circuit: Circuit, system: System, legs: Sequence[tuple[float | None, float | None, float | None]]
) -> tuple[float | None, float | None, float | None]:
    """Put a circuit that is metered leg by leg together: volts across its loads, amps in a hot leg, watts of all.

    Args:
        circuit: with as many legs.
        system: voltage system.
        legs: (volts to neutral [V], amps [A], watts [W]) of each leg at one moment; None is not measured, and makes
            the whole not measured.

    """
    volts, amps, watts = ([leg[i] for leg in legs] for i in range(3))
    to_neutral = nominal_volts(system, circuit.legs[:1])
    mean_volts, mean_amps, sum_watts = _sum(volts), _sum(amps), _sum(watts)
    across = nominal_volts(system, circuit.legs) / to_neutral / len(legs)
    return (
        None if mean_volts is None else mean_volts * across,
        None if mean_amps is None else mean_amps / len(legs),
        sum_watts,
    )


def _sum(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return sum(known) if len(known) == len(values) else None


class StepFinder:
    """Finds the steps of one circuit; bounded memory, the same samples give the same steps.

    Args:
        circuit: with its planned loads.
        system: voltage system.

    Attributes:
        loads: what is on, as far as the steps have told.

    """

    __slots__ = (
        "_by_amps", "_cycles", "_detector", "_flutter", "_last_s", "_nominal", "_per_amp", "_served", "_share",
        "_since_s", "_with_volts", "loads",
    )  # fmt: skip

    def __init__(self, circuit: Circuit, system: System) -> None:
        self._nominal = nominal_volts(system, circuit.legs)
        self._per_amp = self._nominal * (3 if len(circuit.legs) == 3 else 1)  # noqa: PLR2004 - three legs share
        self.loads = Tracker(circuit, self._per_amp)
        self._by_amps = False
        self._cycles = Cycles()
        self._detector = self._new_detector()
        self._last_s: float | None = None
        self._since_s: float | None = None
        self._share = 1.0
        self._flutter = _STEADY_VOLTS / 4
        self._served = True
        self._with_volts = False

    def add(self, time_s: float, volts: float | None, amps: float | None, watts: float | None) -> tuple[Step, ...]:
        """Take a sample and give the steps that are settled by it; their times lie a few samples back.

        Args:
            time_s: later than the last one, else the sample is passed over [s].
            volts: across the circuit's loads [V]; three legs: to neutral. Not measured counts as nominal, on a circuit
                that never had volts; on another as no sample.
            amps: in a hot leg [A], or None.
            watts: of all legs [W], or None. A wrong sign (a transformer the wrong way round) is passed over.

        """
        if (self._last_s is not None and time_s <= self._last_s) or (volts is None and self._with_volts):
            return ()
        usual = self._last_s is not None and self._since_s is None and (watts is None) == self._by_amps
        done = () if usual or self._choose(time_s, watts, amps) else self._interrupt()
        value = watts if not self._by_amps else None if amps is None else amps * self._per_amp
        if value is None:
            return done
        self._last_s = time_s
        if volts is not None:
            self._with_volts = True
            if not _JUDGED[0] <= volts / self._nominal <= _JUDGED[1]:
                served, self._served = self._served, False
                return done + (self._interrupt() if served else ())
            self._follow(volts / self._nominal)
        self._served = True
        change = self._detector.add(Sample(time_s, abs(value), self._share, amps))
        return done + self._settled(change) if change is not None else done

    def finish(self) -> tuple[Step, ...]:
        """Give what is settled of a change under way: no more samples come for a while."""
        return self._interrupt()

    def _choose(self, time_s: float, watts: float | None, amps: float | None) -> bool:
        """Choose watts or amps; False where that changes under way. A quantity missing for a moment is waited for."""
        if self._last_s is None:
            self._by_amps = self.loads.by_amps = watts is None and amps is not None
            self._detector = self._new_detector()
        elif (watts is None) == self._by_amps or (watts is None and amps is None):
            self._since_s = None
        elif self._since_s is None:
            self._since_s = time_s
        elif time_s - self._since_s > _QUANTITY_S:
            return False
        return True

    def _interrupt(self) -> tuple[Step, ...]:
        """End what is under way: no volts, or another quantity from now on."""
        change = self._detector.interrupt()
        steps = self._settled(change, broken=True) if change is not None else ()
        if self._since_s is not None and self._served:
            self._since_s = None
            self.loads.clear()
            self._by_amps = self.loads.by_amps = not self._by_amps
            self._detector = self._new_detector()
        return steps

    def _new_detector(self) -> Detector:
        grain = _GRAIN_AMPS if self.loads.by_amps else _GRAIN_WATTS
        return Detector(LEAST_AMPS * self._per_amp, grain * self._per_amp, self.loads)

    def _follow(self, share: float) -> None:
        """Smooth the volts while they are steady; follow a jump at once."""
        off = share - self._share
        if abs(off) > max(_STEADY_VOLTS, 4.0 * self._flutter):
            self._share = share
            self._flutter += 0.02 * (min(abs(off), 0.02) - self._flutter)
        else:
            self._share += _VOLTS_FOLLOW * off
            self._flutter += 0.02 * (1.25 * abs(off) - self._flutter)

    def _settled(self, change: Change | None, *, broken: bool = False) -> tuple[Step, ...]:
        steps: list[Step] = []
        while change is not None:
            # What the likeliest version of the loads explains by the volts alone is no step.
            least = LEAST_AMPS * self._per_amp
            steps += [self._told(change, named) for named in self.loads.take(change) if abs(named.delta) >= least]
            change = self._detector.settle(broken=broken)
        return tuple(steps)

    def _told(self, change: Change, named: Named) -> Step:
        by_amps, share = self.loads.by_amps, change.share
        amps = named.delta if by_amps else None if named.apparent is None else named.apparent / share
        on = named.delta > 0
        since_s = self._cycles.add(named.names, abs(named.delta), change.time_s, on=on, gap=change.gap)
        return Step(
            time_s=change.time_s,
            earliest_s=change.earliest_s,
            watts=None if by_amps else named.delta,
            amps=None if amps is None else amps / self._per_amp,
            kind="on" if on else "off",
            behaviour=self._behaviour(change, named) if since_s is None else "cycling",
            match=named.names,
            confidence=named.confidence,
            over_gap=change.gap,
            since_s=since_s,
        )

    def _behaviour(self, change: Change, named: Named) -> Behaviour:
        if change.gradual:
            return "fade"
        if change.gap or named.delta < 0 or change.delta < 0 or change.peak < _INRUSH:
            return "steady"
        kinds = {load.kind for load in self.loads.planned if load.name in named.names}
        motor = "motor" in kinds or (not kinds and change.peak >= _MOTOR)
        return "motor start" if motor else "inrush"
