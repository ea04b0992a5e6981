"""Follows what is on through one change after another, in several versions as long as more than one is likely.

A change that fits two explanations leaves two versions of what is on, each with its weight; later changes weigh them
against each other. What is said of a change at its time is never taken back, but a wrong word does not go on.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import TYPE_CHECKING

from monitor.electrical.step_loads import OnLoads
from monitor.electrical.step_match import Seen, explanations

if TYPE_CHECKING:
    from collections.abc import Sequence

    from monitor.electrical.step_loads import Planned
    from monitor.electrical.step_match import Guess
    from monitor.electrical.step_way import Change
    from monitor.show.model import Circuit

_MOST, _LIGHTEST = 10, 1e-3  # versions kept, and their least weight beside the best
_NOTHING, _NOTHING_AMPS = 0.02, 0.06  # of the level before, or amps: less is left where everything went off
_KNOWN = (0.6, 1.3)  # level of the known loads, in parts of what went, where "everything went off" names them

Pieces = tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class Named:
    """One load, or several together, that came on or went off.

    Attributes:
        names: each piece of planned load, in the plan's order; none where no plan explains it.
        delta: signed change [W, or amps times nominal volts].
        apparent: signed change of apparent power [VA], or None.
        confidence: share of all weight, 0 to 1.

    """

    names: tuple[str, ...]
    delta: float
    apparent: float | None
    confidence: float


@dataclass(frozen=True, slots=True)
class _Weighed:
    """One explanation of a change, by one version of what was on."""

    weight: float
    loads: OnLoads
    seen: Seen
    guess: Guess


@dataclass(slots=True)
class _Version:
    weight: float
    loads: OnLoads


class Tracker:
    """What is on at one circuit.

    Args:
        circuit: with its planned loads.
        per_amp: nominal volts, times three on three legs [VA/A].

    Attributes:
        planned: the planned loads, those of one name and kind as one.

    """

    __slots__ = ("_per_amp", "_versions", "planned")

    def __init__(self, circuit: Circuit, per_amp: float) -> None:
        self._versions = [_Version(1.0, OnLoads(circuit))]
        self._per_amp = per_amp
        self.planned: tuple[Planned, ...] = self.best.planned

    @property
    def best(self) -> OnLoads:
        """The likeliest version of what is on."""
        return self._versions[0].loads

    @property
    def by_amps(self) -> bool:
        """Whether levels are amps times nominal volts, not watts."""
        return self.best.by_amps

    @by_amps.setter
    def by_amps(self, value: bool) -> None:
        for version in self._versions:
            version.loads.by_amps = value

    @property
    def vague(self) -> float:
        """How much of the level reacts to volts in an unknown way."""
        return self.best.vague

    def level(self, share: float) -> float:
        """Give what is drawn at a share of nominal volts: watts, or amps times nominal volts."""
        return self.best.level(share)

    def clear(self) -> None:
        """Take everything as off."""
        self._versions = [_Version(1.0, self.best)]
        self.best.clear()

    def take(self, change: Change) -> tuple[Named, ...]:
        """Explain a change, and go on from it; the first level is explained but nothing came on that was seen."""
        if change.first and change.delta < _NOTHING_AMPS * self._per_amp:
            return ()
        nothing = self._nothing_left(change)
        if nothing and self._known(change):
            return self._everything(change)
        weighed = [
            _Weighed(version.weight * guess.weight, version.loads, seen, guess)
            for version in self._versions
            for seen in (self._seen(change, version.loads),)
            for guess in explanations(seen, version.loads)
        ]
        told = () if change.first else self._told(weighed)
        if nothing:
            self.clear()
        else:
            self._keep(weighed)
        return told

    def _seen(self, change: Change, loads: OnLoads) -> Seen:
        """Look at a change as one version does: its loads react to volts in their own way."""
        amps, share = change.before
        base = loads.drawn(change.share)
        before = change.value - change.delta
        best = self.best
        reaction = loads.level(change.share) - best.level(change.share) - loads.level(share) + best.level(share)
        apparent = None
        if not loads.by_amps and change.amps is not None and (amps is not None or change.first):
            moved = change.amps * change.share - (amps or 0.0) * share
            apparent = moved * self._per_amp - abs(base) + abs(loads.drawn(share))
        return Seen(
            change,
            change.delta - reaction,
            apparent,
            before + reaction - loads.level(change.share),
            base,
            loads.by_amps,
        )

    def _told(self, weighed: Sequence[_Weighed]) -> tuple[Named, ...]:
        """Say what came or went: the names that most weight stands behind, over all versions."""
        named: dict[Pieces, list[_Weighed]] = {}
        for one in weighed:
            key = tuple((index, 1 if n > 0 else -1) for index, n in one.guess.pieces)
            named.setdefault(key, []).append(one)
        sums = {key: sum(one.weight for one in same) for key, same in named.items()}
        key = max(sums, key=lambda pieces: sums[pieces])
        confidence = sums[key] / sum(sums.values())
        best = max(named[key], key=lambda one: one.weight)
        return tuple(Named(self._names(some), *amount, confidence) for some, amount in _parts(best))

    def _keep(self, weighed: list[_Weighed]) -> None:
        """Go on with the versions that weigh most."""
        weighed.sort(key=lambda one: -one.weight)
        kept: dict[tuple[object, ...], _Version] = {}
        for one in weighed[: 3 * _MOST]:
            if one.weight < _LIGHTEST * weighed[0].weight:
                break
            loads = _after(one)
            known = kept.setdefault(loads.key(), _Version(0.0, loads))
            known.weight += one.weight
        self._go_on(sorted(kept.values(), key=lambda version: -version.weight)[:_MOST])

    def _go_on(self, versions: list[_Version]) -> None:
        total = sum(version.weight for version in versions)
        self._versions = [_Version(version.weight / total, version.loads) for version in versions]

    def _nothing_left(self, change: Change) -> bool:
        before = change.value - change.delta
        return change.delta < 0 and change.value < max(_NOTHING * before, _NOTHING_AMPS * self._per_amp)

    def _known(self, change: Change) -> bool:
        """Say whether what is known to be on makes up the level before a change."""
        before = change.value - change.delta
        return _KNOWN[0] * before < self.level(change.share) < _KNOWN[1] * before

    def _everything(self, change: Change) -> tuple[Named, ...]:
        """Everything went off: the planned loads together, and what nobody planned."""
        named: dict[Pieces, float] = {}
        for version in self._versions:
            pieces = tuple((index, -count) for index, count in enumerate(version.loads.on) if count)
            named[pieces] = named.get(pieces, 0.0) + version.weight
        pieces = max(named, key=lambda some: named[some])
        seen = self._seen(change, self.best)
        size = self.best.size
        planned = (
            abs(sum((n * size[i] for i, n in pieces), 0j))
            if self.by_amps
            else -sum(n * size[i].real for i, n in pieces)
        )
        loose = self.best.vague if pieces else 1.0
        self.clear()
        parts = [(some, part / (planned + loose)) for some, part in ((pieces, planned), ((), loose)) if part > 0]
        return tuple(
            Named(
                self._names(some),
                seen.delta * part,
                None if seen.apparent is None else seen.apparent * part,
                named[pieces],
            )
            for some, part in parts
        )

    def _names(self, pieces: Pieces) -> tuple[str, ...]:
        return tuple(self.planned[index].name for index, count in sorted(pieces) for _ in range(abs(count)))


def _parts(one: _Weighed) -> list[tuple[Pieces, tuple[float, float | None]]]:
    """Divide a change among what came on, what went off, and what nobody planned: delta and apparent power of each."""
    guess, seen, planned = one.guess, one.seen, one.loads.planned
    share = seen.change.share
    coming, going = (tuple(piece for piece in guess.pieces if (piece[1] > 0) == on) for on in (True, False))
    parts: list[tuple[Pieces, complex]] = [
        (some, sum((n * planned[i].power * share ** planned[i].exponent for i, n in some), 0j))
        for some in (coming, going)
        if some
    ]
    if guess.unknown is not None:
        parts.append(((), -one.loads.unknown[guess.unknown].power * share))
    elif guess.joined:
        parts.append(((), complex(guess.joined)))
    if len(parts) < 2:  # noqa: PLR2004 - one thing changed
        return [(guess.pieces, (seen.delta, seen.apparent))]
    deltas = [_signed(power) / share if seen.by_amps else power.real for _, power in parts]
    rest = seen.delta - sum(deltas)  # the errors of nameplates
    largest = max(range(len(deltas)), key=lambda i: abs(deltas[i]))
    deltas[largest] += rest
    return [
        (some, (delta, None if seen.apparent is None else _signed(power)))
        for (some, power), delta in zip(parts, deltas, strict=True)
    ]


def _signed(power: complex) -> float:
    return abs(power) if power.real > 0 else -abs(power)


def _after(one: _Weighed) -> OnLoads:
    """Give what is on after a change, by one explanation."""
    loads, guess, seen = one.loads.copy(), one.guess, one.seen
    loads.warming = guess.warming
    alone = guess.unknown is None and not guess.joined and len({n > 0 for _, n in guess.pieces}) == 1
    if guess.unknown is not None:
        loads.vanish(guess.unknown)
    for index, count in guess.pieces:
        missing = -count - loads.on[index]
        if missing > 0:
            _take_hidden(loads, missing * loads.planned[index].power)
        room = loads.planned[index].count - loads.on[index]
        most = min(count, room) if count > 0 else max(count, -loads.on[index])
        loads.switch(index, most, guess.scale if alone else 1.0)
    if guess.joined:
        loads.appear(complex(guess.joined / seen.change.share), maybe_planned=False)
    elif not guess.pieces and not guess.dimmed and guess.unknown is None:
        if seen.delta > 0:
            change = seen.change
            loads.appear(_power(seen, guess.slope), maybe_planned=change.gap or change.gradual or change.first)
        else:
            _take_hidden(loads, -_power(seen, 0.0))
    return loads


def _take_hidden(loads: OnLoads, power: complex) -> None:
    """Take power off something on that planned loads may be in, if there is any."""
    for index, item in enumerate(loads.unknown):
        if item.power.real > 0.9 * power.real:
            loads.vanish(index, power)
            return


def _power(seen: Seen, slope: float) -> complex:
    """Give a change as complex power at nominal volts, as of a load nobody planned [W + j var].

    From amps alone: the power of that slope which, added to the base, gives the measured change of magnitude.
    """
    share = seen.change.share
    if seen.by_amps:
        towards = complex(1.0, slope) / abs(complex(1.0, slope))
        target = max(abs(seen.base) + seen.delta * share, 0.0)
        along = (seen.base * towards.conjugate()).real
        root = max(along**2 - abs(seen.base) ** 2 + target**2, 0.0)
        return (sqrt(root) - along) / share * towards
    real = seen.delta / share
    if seen.apparent is None:
        return complex(real, 0.0)
    across = seen.apparent / share
    return complex(real, max(0.0, across**2 - real**2) ** 0.5 * (1 if real > 0 else -1))
