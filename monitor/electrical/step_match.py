"""Which planned loads explain a change: every explanation weighed, the best one given with its share of the weight.

An explanation's weight is its prior (how often that happens) times its likelihood (how well its watts, or amps, fit,
and the amps beside the watts where both are measured). "Nobody planned it" is one of the explanations: a fit that
chance would give as easily loses against it. Priors are judgements, tried on simulated days.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import combinations, product
from math import comb, exp, log, sqrt
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from monitor.electrical.step_loads import OnLoads
    from monitor.electrical.step_way import Change

# How many different loads change together; across a gap, and for the first level, several are as likely.
_TOGETHER, _TOGETHER_GAP = (0.82, 0.06, 0.01), (0.45, 0.2, 0.1)
_ALL = 0.03
_SWAPPED, _SWAPPED_GAP = 0.004, 0.03
_MISCOUNTED = 0.05  # that a load is not as it was counted, where the level allows it
_UNPLANNED = 0.12
_DIMMED = 0.06  # that a load on is set lower at once, or back
_DIMMED_OFF = 0.1  # that a dimmed light goes off with what was left of it
_WARM, _WARMS = (0.3, 0.96), 0.3  # parts of its watts that a load shows while it warms up; how often it is that
_WARMED = 0.1  # that another one comes on meanwhile
_FADED = 0.6  # that a fade ends anywhere but at full or nothing
_RANGE = log(100.0)  # loads nobody planned: even in log watts over two decades
_NAMEPLATE, _MEASURED = 0.022, 0.012  # error of a piece's watts by plan, and once measured, one sigma
_FACTOR, _FACTOR_WRONG = 0.05, 0.05  # error of a power factor by plan, and how often it is quite another one
_AGAIN = 0.02  # difference between coming on and going off of one load, one sigma
_NO_START, _STARTED = 1.3, 3.0  # furthest point of the way in parts of the change; weight of a motor that started
_LEAST_REST = 0.15  # of a change: less beside a planned load is its nameplate's error
_SLOPES = (0.0, 0.75)  # power factors 1 and 0.8: amps alone don't tell
_MOST_NAMES = 12


@dataclass(frozen=True, slots=True)
class Guess:
    """One explanation.

    Attributes:
        weight: prior times likelihood.
        pieces: (index of the planned load, pieces that came on, or below 0 went off).
        unknown: index of the unknown that went off, or None.
        joined: what came on beside them that nobody planned [W, or amps times nominal volts].
        dimmed: a load on was set higher or lower.
        slope: of what came on without a plan: vars for each watt, where only amps are measured.
        scale: what was measured, in parts of what the pieces should draw.
        warming: the pieces don't draw all of it yet.

    """

    weight: float
    pieces: tuple[tuple[int, int], ...] = ()
    unknown: int | None = None
    joined: float = 0.0
    dimmed: bool = False
    slope: float = 0.0
    scale: float = 1.0
    warming: bool = False


@dataclass(frozen=True, slots=True)
class Seen:
    """A change as one set of loads sees it.

    Attributes:
        change: what was seen.
        delta: of it, the reaction of these loads to volts taken off [W, or amps times nominal volts].
        apparent: change of apparent power [VA], likewise; None where watts and amps are not both measured.
        offset: what was drawn beside these loads [as ``delta``]; below 0 where one is dimmed.
        base: what they drew, at the volts after the change [W + j var].
        by_amps: ``delta`` is of amps.

    """

    change: Change
    delta: float
    apparent: float | None
    offset: float
    base: complex
    by_amps: bool


def explanations(seen: Seen, loads: OnLoads) -> list[Guess]:
    """Give every explanation of a change that weighs anything.

    Args:
        seen: what was seen.
        loads: what was on before it.

    """
    rising = seen.delta > 0
    return [
        guess
        for guess in (
            *_by_plan(seen, loads, rising=rising),
            *_mixed(seen, loads, rising=rising),
            *_unplanned(seen, loads, rising=rising),
            *(_warming(seen, loads) if rising and seen.change.climbing else ()),
            *(_warmed(seen, loads) if rising and loads.warming and seen.offset < 0 else ()),
        )
        if guess.weight > 0
    ]


def _by_plan(seen: Seen, loads: OnLoads, *, rising: bool) -> Iterator[Guess]:
    """Weigh planned loads coming on, or going off, alone or together."""
    choices = _choices(seen, loads, rising=rising)
    together = _TOGETHER_GAP if seen.change.gap or seen.change.first else _TOGETHER
    faded = 1 - _FADED if seen.change.gradual else 1.0
    for count, prior in enumerate(together, 1):
        share = faded * prior / max(comb(len(choices), count), 1)
        for some in combinations(choices, count):
            for picked in product(*(options if count < len(together) else options[:2] for _, options in some)):
                pieces = tuple((index, n) for (index, _), (n, _) in zip(some, picked, strict=True))
                likely = share
                for _, part in picked:
                    likely *= part
                yield _weighed(seen, loads, pieces, likely)
    if len(choices) > 1:
        yield _weighed(seen, loads, tuple((index, options[0][0]) for index, options in choices), faded * _ALL)


def _choices(seen: Seen, loads: OnLoads, *, rising: bool) -> list[tuple[int, list[tuple[int, float]]]]:
    """Give each load that may change, with numbers of pieces and their priors: all, one, then some.

    A load counted as on may come on where the level says that it is off; one counted as off may go off where something
    unexplained is on that it may be in.
    """
    hidden = sum(item.power.real for item in loads.unknown)
    surely = any(item.maybe_planned for item in loads.unknown)
    found = []
    for index, load in enumerate(loads.planned[:_MOST_NAMES]):
        piece = load.power.real
        sure = load.count - loads.on[index] if rising else loads.on[index]
        spare = -seen.offset if rising else hidden
        doubtful = min(load.count - sure, int(spare / (0.9 * piece))) if spare > 0 else 0
        most, trust = (sure, 1.0) if sure else (doubtful, 1.0 if surely and not rising else _MISCOUNTED)
        if surely and not rising:
            most = sure + doubtful
        if most > 0:
            sign = 1 if rising else -1
            found.append((index, [(sign * n, trust * prior) for n, prior in _numbers(most)]))
    return found


def _numbers(most: int) -> list[tuple[int, float]]:
    if most == 1:
        return [(1, 1.0)]
    some = range(2, most)
    return [(most, 0.45), (1, 0.4), *((n, 0.15 / len(some)) for n in some)]


def _mixed(seen: Seen, loads: OnLoads, *, rising: bool) -> Iterator[Guess]:
    """Weigh one load coming on as another goes off, and planned loads moving together with what nobody planned."""
    coming, going = _choices(seen, loads, rising=True), _choices(seen, loads, rising=False)
    swaps = [(on, off) for on in coming for off in going if on[0] != off[0]]
    strangers = range(len(loads.unknown))
    prior = (_SWAPPED_GAP if seen.change.gap else _SWAPPED) / max(len(swaps) + len(coming) * len(strangers), 1)
    for (on, ons), (off, offs) in swaps:
        yield _weighed(seen, loads, ((on, ons[0][0]), (off, offs[0][0])), prior * ons[0][1] * offs[0][1])
    together = (_TOGETHER_GAP if seen.change.gap else _TOGETHER)[1]
    for stranger in strangers:
        for index, options in coming:
            yield _weighed(seen, loads, ((index, options[0][0]),), prior * options[0][1], stranger)
        for index, options in going if not rising else ():
            likely = together / len(going) / len(strangers) * options[0][1]
            yield _weighed(seen, loads, ((index, options[0][0]),), likely, stranger)
    if rising and not seen.change.gradual:
        yield from _joined(seen, loads, coming, _UNPLANNED * together)


def _joined(
    seen: Seen, loads: OnLoads, coming: Sequence[tuple[int, list[tuple[int, float]]]], prior: float
) -> Iterator[Guess]:
    """Weigh a planned load coming on together with one that nobody planned: any watts fit, so it never weighs much."""
    for index, options in coming:
        for count, part in options[:2]:
            load = loads.planned[index]
            drawn = abs(load.power) if seen.by_amps else load.power.real
            rest = seen.delta - count * drawn * seen.change.share**load.exponent
            if rest > _LEAST_REST * seen.delta:
                beside = 1.0 if seen.apparent is None else 1.0 / seen.delta
                weight = prior * part / len(coming) * beside / (_RANGE * rest)
                yield Guess(weight * _start(seen.change, loads, ((index, count),)), ((index, count),), joined=rest)


def _unplanned(seen: Seen, loads: OnLoads, *, rising: bool) -> Iterator[Guess]:
    """Weigh what no plan explains: coming on, going off again, or a load set higher or lower."""
    size = abs(seen.delta)
    beside = 1.0 if seen.apparent is None else 1.0 / size
    anywhere = beside / (_RANGE * size)
    error = sqrt(seen.change.error**2 + (_MEASURED * size) ** 2)
    slopes = _SLOPES if rising and seen.by_amps else (0.0,)
    for slope in slopes:
        yield Guess(_UNPLANNED * anywhere / len(slopes), slope=slope)
    if seen.change.gradual:
        yield Guess(_FADED * anywhere, dimmed=True)
    if rising and seen.offset < -seen.change.error:
        yield Guess(0.4 * beside * _normal(seen.delta + seen.offset, sqrt(2.0) * error), dimmed=True)
    if not rising:
        if seen.base.real > 1.1 * size:
            yield Guess(_DIMMED * anywhere, dimmed=True)
        for index, item in enumerate(loads.unknown):
            power = item.power * seen.change.share
            drawn = (abs(seen.base) - abs(seen.base - power)) / seen.change.share if seen.by_amps else power.real
            likely = _normal(-seen.delta - drawn, sqrt(error**2 + (_AGAIN * drawn) ** 2))
            yield Guess(0.8 / len(loads.unknown) * likely * beside, unknown=index)
        yield from _dimmed_off(seen, loads, error, beside)


def _warming(seen: Seen, loads: OnLoads) -> Iterator[Guess]:
    """Weigh a planned load that was still warming up when the next thing happened: any part of its watts may show."""
    free = [i for i, load in enumerate(loads.planned) if load.kind == "electronic" and loads.on[i] < load.count]
    for index in free:
        load = loads.planned[index]
        drawn = abs(load.power) if seen.by_amps else load.power.real
        low, high = _WARM
        if low * drawn < seen.delta < high * drawn:
            weight = _WARMS / len(free) / ((high - low) * drawn)
            if seen.apparent is not None:
                apparent = abs(load.power) / load.power.real * seen.delta
                error = sqrt((1.4 * seen.change.error) ** 2 + (_FACTOR * seen.delta) ** 2)
                weight *= (1 - _FACTOR_WRONG) * _normal(seen.apparent - apparent, error) + _FACTOR_WRONG / seen.delta
            yield Guess(weight, ((index, 1),), warming=True)


def _warmed(seen: Seen, loads: OnLoads) -> Iterator[Guess]:
    """Weigh a planned load coming on while what another one still lacked came too."""
    rest = replace(
        seen, delta=seen.delta + seen.offset, apparent=None if seen.apparent is None else seen.apparent + seen.offset
    )
    choices = _choices(seen, loads, rising=True) if rest.delta > 0 else []
    for index, options in choices:
        yield _weighed(rest, loads, ((index, options[0][0]),), _WARMED / len(choices) * options[0][1])


def _dimmed_off(seen: Seen, loads: OnLoads, error: float, beside: float) -> Iterator[Guess]:
    """Weigh a dimmed load going off with what was left of it."""
    if seen.offset > -2.0 * seen.change.error:
        return
    lights = ("tungsten", "electronic")
    known = [index for index, count in enumerate(loads.on) if count and loads.planned[index].kind in lights]
    for index in known:
        left = loads.on[index] * loads.size[index].real + seen.offset
        if left > 0:
            weight = _DIMMED_OFF / len(known) * beside * _normal(seen.delta + left, sqrt(2.0) * error + _AGAIN * left)
            yield Guess(weight, ((index, -loads.on[index]),), dimmed=True)


def _weighed(
    seen: Seen, loads: OnLoads, pieces: Sequence[tuple[int, int]], prior: float, gone: int | None = None
) -> Guess:
    """Weigh pieces against what was seen; ``gone``: the unknown of that index went off with it."""
    share = seen.change.share
    power, variance = 0j, 0.0
    for index, count in pieces:
        load = loads.planned[index]
        known = count < 0 and loads.on[index] >= -count
        piece = count * (loads.size[index] if known else load.power) * share**load.exponent
        power += piece
        variance += (abs(piece) * (_MEASURED if known else _NAMEPLATE)) ** 2
    if gone is not None:
        stranger = loads.unknown[gone].power * share
        power -= stranger
        variance += (_AGAIN * abs(stranger)) ** 2
    expected = (abs(seen.base + power) - abs(seen.base)) / share if seen.by_amps else power.real
    if expected * seen.delta <= 0:
        return Guess(0.0)
    weight = prior * _normal(seen.delta - expected, sqrt(variance + seen.change.error**2))
    scale = seen.delta / expected
    if seen.apparent is not None:
        beside = (abs(seen.base + power) - abs(seen.base)) * scale
        error = sqrt((1.4 * seen.change.error) ** 2 + (_FACTOR * seen.delta) ** 2)
        fits = _normal(seen.apparent - beside, error)
        weight *= (1 - _FACTOR_WRONG) * fits + _FACTOR_WRONG / abs(seen.delta)
    return Guess(weight * _start(seen.change, loads, pieces), tuple(pieces), gone, scale=scale)


def _start(change: Change, loads: OnLoads, pieces: Iterable[tuple[int, int]]) -> float:
    """Weigh the way on against the loads' kinds: motors start hard for seconds, filaments for a moment."""
    kinds = {loads.planned[index].kind for index, count in pieces if count > 0}
    if not kinds or change.gap or change.first:
        return 1.0
    if change.peak < _NO_START:
        close = change.time_s - change.earliest_s < 1.2  # noqa: PLR2004 - a start of a second or two would show [s]
        return 0.3 if "motor" in kinds and close else 1.0
    if "motor" in kinds:
        return _STARTED
    if "tungsten" in kinds and change.spell < 3:  # noqa: PLR2004 - of samples
        return 1.0
    return 0.5 if change.peak < 2.0 else 0.2  # noqa: PLR2004 - twice is beyond any flutter


def _normal(off: float, sigma: float) -> float:
    """Give the density of the normal law, with a thin floor far out so that something always weighs something."""
    return exp(-0.5 * min((off / sigma) ** 2, 200.0)) / (2.5066 * sigma)
