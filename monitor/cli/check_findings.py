"""What ``legwatch check`` finds: each finding with what to do."""

from __future__ import annotations

from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import TYPE_CHECKING

from drivers.reading import Quality
from monitor.alarms.rules import rules
from monitor.electrical.fitting import Clue, enough, exchanged, transformer_clue, volts_clue
from monitor.electrical.sums import Flow, unequal
from monitor.engine.watch import Watch
from monitor.plan.bus_budget import Budget, budget
from monitor.recorder.polling import PointNames
from monitor.show.model import NEUTRAL, SOURCE_ID

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from monitor.cli.check_rounds import Asked
    from monitor.engine.reading import Reading
    from monitor.show.model import Circuit, Point, Show

STAYS_S = 6  # some rules look at several readings in a row
_VOLTS_CODES = ("wrong-service", "volts-high", "volts-low", "volts-far-low")
_PAIR = 2
_TWO_METERS = (
    "unplug this meter from the line and check again: if its number still answers, a second meter has it; give one of"
    " them another in its menu. Else look at baud, parity, the wire's ends and its screen"
)


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is wrong or worth knowing; ``severity`` is ``wrong`` or ``remark``, ``code`` a short name."""

    severity: str
    where: str
    text: str
    do: str = ""
    code: str = ""


def readings_of(show: Show, asked: Sequence[Asked]) -> list[Reading]:
    """Give the best reading of each point, in the show's order."""
    names = PointNames(show)
    return [reading for one in asked for reading in names.readings(one.best, one.best.at.wall_ms)]


def findings(show: Show, asked: Sequence[Asked]) -> list[Finding]:
    """Give everything that the meters' answers show."""
    readings = readings_of(show, asked)
    found = _judged(show, readings)
    hints = dict(_volts(show, readings))
    for index, alarm in enumerate(found):
        if alarm.code in _VOLTS_CODES and alarm.where in hints:
            found[index] = replace(alarm, text=f"{alarm.text}; {hints.pop(alarm.where)}")
    do = rules()["wrong-service"].do
    found += [Finding("wrong", where, text, do, "volts-off") for where, text in hints.items()]
    found += _transformers(show, asked)
    found += _sums(show, readings)
    found += _idle(show, readings)
    for one in asked:
        found += _answers(show, one)
    for spent in budgets(show, asked):
        found += _budget(show, spent)
    return found


def _judged(show: Show, readings: list[Reading]) -> list[Finding]:
    """Judge the one round of readings as it would be live if it stayed so, without waiting for any delay."""
    ordered = sorted(readings, key=lambda reading: reading.time_ms)
    if not ordered:
        return []
    watch = Watch(_without_delays(show))
    for second in range(STAYS_S):
        later = [replace(reading, time_ms=reading.time_ms + 1000 * second) for reading in ordered]
        watch.advance(later, later[-1].time_ms)
    book = rules()
    return [
        Finding("wrong", alarm.where, alarm.seen, book[alarm.code].do if alarm.code in book else "", alarm.code)
        for alarm in watch.judge.alarms()
    ]


def _without_delays(show: Show) -> Show:
    settings = {name: 0.0 if name.endswith("_on_seconds") else value for name, value in show.settings.items()}
    circuits = tuple(replace(circuit, settings=_kept(circuit)) for circuit in show.circuits)
    return replace(show, settings=MappingProxyType(settings), circuits=circuits)


def _kept(circuit: Circuit) -> Mapping[str, float]:
    return {name: value for name, value in circuit.settings.items() if not name.endswith("_on_seconds")}


def _legs(show: Show, point: Point) -> tuple[str, ...]:
    """Give the legs between which a point's volts are; nothing for a neutral."""
    if point.leg:
        return () if point.leg == NEUTRAL else (point.leg,)
    return next((circuit.legs for circuit in show.circuits if circuit.id == point.place), ())


def _rated(show: Show, place: str) -> float | None:
    if place == SOURCE_ID:
        return show.source.amps_per_leg
    feeders = {feeder.id: feeder.breaker for feeder in show.feeders}
    breaker = {**feeders, **{circuit.id: circuit.breaker for circuit in show.circuits}}.get(place)
    return breaker.amps if breaker else None


def _volts(show: Show, readings: Sequence[Reading]) -> Iterator[tuple[str, str]]:
    """Give for each place the volts that are far off, and where such volts are met."""
    told: dict[str, list[str]] = {}
    for reading in readings:
        legs = _legs(show, reading.point)
        if reading.quality is Quality.GOOD and reading.values.volts is not None and legs:
            text = volts_clue(show.source.system, legs, reading.values.volts)
            if text:
                told.setdefault(reading.point.place, []).append(f"{reading.point}: {text}")
    for place, texts in told.items():
        yield place, "; ".join(texts)


def _clues(show: Show, readings: Sequence[Reading]) -> dict[Point, Clue]:
    clues: dict[Point, Clue] = {}
    for reading in readings:
        values, legs = reading.values, _legs(show, reading.point)
        if reading.quality is not Quality.GOOD or not legs or not values.volts or values.amps is None:
            continue
        if values.watts is None or not enough(values.amps, _rated(show, reading.point.place)):
            continue
        hots = _PAIR if len(legs) == _PAIR else 1
        clue = transformer_clue(show.source.system, hots, values.volts, values.amps, values.watts)
        if clue is not None:
            clues[reading.point] = clue
    return clues


def _transformers(show: Show, asked: Sequence[Asked]) -> Iterator[Finding]:
    for one in asked:
        clues = _clues(show, readings_of(show, (one,)))
        pair = exchanged({"".join(_legs(show, point)): clue for point, clue in clues.items()})
        for point, clue in clues.items():
            also = f"; {pair}" if pair and clue.code == "transformer-leg" else ""
            yield Finding("wrong" if clue.certain else "remark", str(point), clue.text + also, clue.do, clue.code)


def _sums(show: Show, readings: Sequence[Reading]) -> Iterator[Finding]:
    """Hold what feeders and the source carry against their circuits; loads may have changed between two meters."""
    flows: dict[Point, Flow] = {}
    for reading in readings:
        values = reading.values
        if reading.quality is Quality.GOOD and values.amps is not None:
            apparent = (values.volts or 0.0) * abs(values.amps)
            factor = abs(values.watts) / apparent if apparent and values.watts is not None else 1.0
            flows[reading.point] = Flow(abs(values.amps), min(factor, 1.0))
    for one in unequal(show, flows):
        rest = one.rest
        text = f"reads {rest.metered_amps:.1f} A, its circuits together {rest.children_amps:.1f} A: {rest.text}"
        do = "switch on one known load alone, on one circuit after the other, and see which figures move with it"
        yield Finding("remark", str(one.point), text, do, "sum-unequal")


def _idle(show: Show, readings: Sequence[Reading]) -> Iterator[Finding]:
    """Say where no current flows, so that nothing is known of the transformers there."""
    idle = [
        str(reading.point)
        for reading in readings
        if reading.quality is Quality.GOOD
        and reading.values.amps is not None
        and _legs(show, reading.point)
        and not enough(reading.values.amps, _rated(show, reading.point.place))
    ]
    if idle:
        text = f"{', '.join(idle)}: too little current to judge the transformers by"
        do = "once power is on, put a heater or a lamp on one circuit after the other and check again"
        yield Finding("remark", "transformers", text, do, "transformers-not-judged")


def _answers(show: Show, one: Asked) -> Iterator[Finding]:
    if one.garbled:
        text = (
            f"garbled in {one.garbled} of {len(one.polls)} rounds: two meters may have that number, or the line is bad"
        )
        yield Finding("wrong", one.where, text, _TWO_METERS, "meter-garbled")
    if one.asked_again:
        text = f"had to be asked again in {one.asked_again} of {len(one.polls)} rounds: its replies came late or broken"
        yield Finding(
            "remark", one.where, text, f"raise timeout_seconds of its bus; {_TWO_METERS}", "meter-asked-again"
        )
    moved = one.varies()
    if moved:
        text = f"{moved}: two meters may answer by turns, or a tap is loose"
        yield Finding("wrong", one.where, text, _TWO_METERS, "meter-varies")
    if 0 < one.answered < len(one.polls):
        text = f"answered in {one.answered} of {len(one.polls)} rounds"
        yield Finding(
            "remark", one.where, text, "look at its plug, the line's ends and timeout_seconds", "meter-misses"
        )
    old_after, spacing_s = show.settings["old_after_seconds"], one.spacing_s
    if spacing_s is not None and spacing_s >= old_after:
        text = f"sends every {spacing_s:.1f} s, while readings count as old after {old_after:g} s"
        do = f"set old_after_seconds above {2 * spacing_s:.0f} under [alarms], or have the meter send more often"
        yield Finding("remark", one.where, text, do, "spacing-old")


def budgets(show: Show, asked: Sequence[Asked]) -> list[Budget]:
    """Work out how often each bus reads its meters, with what was measured where it was."""
    found = []
    for bus in show.buses:
        meters = [meter for meter in show.meters if meter.bus == bus.id]
        times = {one.meter.unit: one.latency_s for one in asked if one.meter.bus == bus.id}
        spent = budget(bus, meters, {unit: time for unit, time in times.items() if time is not None})
        if spent is not None and spent.counted:
            found.append(spent)
    return found


def _budget(show: Show, spent: Budget) -> Iterator[Finding]:
    if spent.keeps_up:
        return
    text = f"each meter is read every {spent.each_s:.2g} s at best, where poll_seconds asks for {spent.asked_s:g} s"
    old_after = show.settings["old_after_seconds"]
    if spent.each_s >= old_after:
        text += f", and readings count as old after {old_after:g} s"
    do = "raise the baud rate of meters and bus, spread the meters over more buses, or set poll_seconds to what it is"
    yield Finding("remark", spent.bus, text, do, "bus-slow")
