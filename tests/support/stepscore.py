"""How steps compare with what was switched on a random day."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from monitor.electrical.steps import Step
    from monitor.show.model import Load
    from tests.support.stepdays import Act, Piece, StepDay


def score(day: StepDay, steps: Sequence[Step], least: float = 0.3) -> Score:
    """Compare steps with what was done; acts closer than four samples are looked at together.

    Args:
        day: the day.
        steps: found.
        least: planned acts below so many amps are not asked for [A].

    """
    found = Score()
    taken = [False] * len(steps)
    per_amp = day.nominal * (3 if len(day.circuit.legs) == 3 else 1)
    for acts in _bunches(day.acts, max(8.0, 6 * day.pace_s)):
        begin, end = acts[0].time_s, acts[-1].time_s
        near = [
            n
            for n, step in enumerate(steps)
            if not taken[n] and step.time_s >= begin and step.earliest_s <= end + 4 * day.pace_s + 3
        ]
        for n in near:
            taken[n] = True
        named = [(name, steps[n].kind == "on") for n in near for name in steps[n].match]
        for act in acts:
            right = True
            for index in act.pieces:
                key = (day.pieces[index].load.name, act.on)
                if key in named:
                    named.remove(key)
                elif day.pieces[index].planned:
                    right = False
            if not day.pieces[act.pieces[0]].planned:
                found.strange += 1
                alike = _look_alike(day, day.pieces[act.pieces[0]])
                found.alike += alike
                found.invented += bool(named) and not alike and len(acts) == 1
            elif sum(day.pieces[i].watts for i in act.pieces) / per_amp >= least:
                found.planned += 1
                found.right += right
                found.alone += len(acts) == 1
                found.alone_right += right and len(acts) == 1
                clear = len(acts) == 1 and not _mistakable(day, act)
                found.clear += clear
                found.clear_right += right and clear
        found.wrong += len(named)
    extra = [step for step, known in zip(steps, taken, strict=True) if not known]
    found.spurious = len(extra)
    found.spurious_named = sum(bool(step.match) for step in extra)
    found.named = sum(len(step.match) for step in steps)
    return found


@dataclass(slots=True)
class Score:
    """How a day's steps compare.

    Attributes:
        planned: acts with planned loads that are large enough.
        right: of them, named exactly.
        alone: of the planned ones, those with nothing else switched nearby; ``alone_right`` of them named exactly.
        clear: of those alone, the ones that measure like no other planned load; ``clear_right`` of them named exactly.
        strange: acts with loads nobody planned.
        alike: of them, with a load that measures like planned ones, alone or two together: nobody could tell.
        invented: acts with another load nobody planned, nothing else nearby, that were given a name.
        wrong: names given that nothing done explains, those among them.
        named: names given.
        spurious: steps where nothing was done; ``spurious_named`` of them named a load.

    """

    planned: int = 0
    right: int = 0
    alone: int = 0
    alone_right: int = 0
    clear: int = 0
    clear_right: int = 0
    strange: int = 0
    alike: int = 0
    invented: int = 0
    wrong: int = 0
    named: int = 0
    spurious: int = 0
    spurious_named: int = 0

    def add(self, other: Score) -> None:
        """Add another day's."""
        for name in Score.__slots__:
            setattr(self, name, getattr(self, name) + getattr(other, name))


def _size(day: StepDay, load: Load) -> float:
    """Give what one piece measures [W, or VA where only amps are measured]."""
    return load.watts if day.by_watts else load.watts / load.power_factor


def _look_alike(day: StepDay, stranger: Piece, within: float = 0.08) -> bool:
    """Say whether a stranger measures like some pieces of a planned load, or two loads."""
    sums = [_size(day, load) * n for load in day.circuit.load for n in range(1, load.count + 1)]
    sums += [a + b for n, a in enumerate(sums) for b in sums[n + 1 :]]
    return any(abs(value - _size(day, stranger.load)) < within * value for value in sums)


def _mistakable(day: StepDay, act: Act, within: float = 0.08) -> bool:
    """Say whether planned pieces measure like another planned load, or like some load nobody planned."""
    loads = [day.pieces[index].load for index in act.pieces]
    size = sum(_size(day, load) for load in loads)
    others = [_size(day, load) * n for load in day.circuit.load if load not in loads for n in range(1, load.count + 1)]
    others += [_size(day, piece.load) for piece in day.pieces if not piece.planned]
    return any(abs(value - size) < within * size for value in others)


def _bunches(acts: Sequence[Act], apart_s: float) -> Iterator[list[Act]]:
    bunch: list[Act] = []
    for act in acts:
        if bunch and act.time_s - bunch[-1].time_s > apart_s:
            yield bunch
            bunch = []
        bunch.append(act)
    if bunch:
        yield bunch
