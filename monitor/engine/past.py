"""From what a log holds to what screens show of the past: loads by their steps, alarms by their changes. Pure."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from monitor.alarms.lifecycle import ACTIVE, State
from monitor.electrical.breaker import band
from monitor.electrical.loads import nominal_volts, planned_amps
from monitor.engine.history import Allowed, Fixed, Planned, Spell, Switching

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from monitor.alarms.model import AlarmChange
    from monitor.incidents.model import FoundStep
    from monitor.show.model import Circuit, Show


def fixed_of(show: Show, circuit: Circuit, *, by_leg: bool) -> Fixed:
    """Give what the show fixes of a circuit; ``by_leg`` where its legs are metered one by one."""
    nominal = nominal_volts(show.source.system, circuit.legs[:1] if by_leg else circuit.legs)
    breaker = circuit.breaker
    words = f"{breaker.amps:g} A {breaker.standard}{f' class {breaker.curve}' if breaker.curve else ''}"
    low, high = (nominal * show.setting(f"volts_{side}_percent", circuit) / 100.0 for side in ("low", "high"))
    return Fixed(words, low, high)


def allowed_at(circuit: Circuit, amps: float) -> Allowed | None:
    """Say what a circuit's breaker may do at a steady load [A]; None where its standard doesn't cover it."""
    try:
        found = band(circuit.breaker, amps)
    except ValueError:
        return None
    soonest = found.soonest
    seconds = soonest.holds_for_s if soonest.kind == "holds" else soonest.seconds
    return Allowed(amps, found.multiple, soonest.kind, seconds, found.latest.seconds, found.source)


def switching_of(found: FoundStep) -> Switching:
    """Give a step as screens show it."""
    step = found.step
    return Switching(found.time_ms, step.kind == "on", step.watts, step.amps, step.match, step.confidence, found.note)


def planned_of(show: Show, circuit: Circuit, steps: Sequence[Switching]) -> tuple[Planned, ...]:
    """Give the planned loads of a circuit, each counted on and off by the steps that were taken for it.

    Steps before the first one are not known: what is first seen to go off was on till then, the rest of its kind is
    taken to be off until it is seen. That is an inference, and screens say so.
    """
    loads: dict[str, Planned] = {}
    for load in circuit.load:
        amps = planned_amps(replace(circuit, load=(replace(load, count=1),)), show.source.system)
        known = loads.get(load.name)
        loads[load.name] = (
            Planned(load.name, load.watts, amps, load.count)
            if known is None
            else replace(known, count=known.count + load.count)
        )
    for step in steps:
        for name in step.loads:
            load_now = loads.get(name)
            if load_now is not None:
                on = (load_now.on or 0) + (1 if step.on else -1)
                loads[name] = replace(load_now, on=min(max(on, 0), load_now.count), since_ms=step.time_ms)
    return tuple(loads.values())


def spells_of(changes: Iterable[AlarmChange]) -> tuple[Spell, ...]:
    """Give each time that an alarm stood, by its changes in the order they happened; oldest first."""
    done: list[Spell] = []
    last: dict[tuple[str, str], Spell] = {}
    for change in changes:
        alarm = change.alarm
        key = (alarm.code, alarm.where)
        spell = last.get(key)
        if alarm.state in ACTIVE and (spell is None or spell.end_ms is not None):
            done += [spell] if spell else []
            spell = Spell(alarm.code, alarm.where, alarm.priority, alarm.seen, alarm.since_ms, None)
        elif spell is None:
            spell = Spell(alarm.code, alarm.where, alarm.priority, alarm.seen, alarm.since_ms, change.time_ms)
        elif alarm.state not in ACTIVE and alarm.state != State.SHELVED and spell.end_ms is None:
            spell = replace(spell, end_ms=change.time_ms, text=alarm.seen)
        if alarm.who and alarm.state != State.SHELVED and not spell.who:
            spell = replace(spell, who=alarm.who, noted_ms=change.time_ms)
        last[key] = spell
    return tuple(sorted((*done, *last.values()), key=lambda spell: spell.begin_ms))
