"""What people do on a day, and what goes wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.show.model import Load
from tests.support.days.rig import OPEN_OHMS

if TYPE_CHECKING:
    from random import Random

    from tests.support.days.day import Act, Day


def quiet(day: Day, begin: int, end: int) -> Day:
    """Let people work: planned loads come and go in any order, kettles and pumps cycle, lamps are struck and dimmed."""
    random = day.random
    for circuit in day.show.circuits:
        for load in circuit.load:
            second = begin + random.randint(10, 400)
            while second < end:
                on, off = _rhythm(load, random)
                share = random.choice((1.0, 1.0, random.uniform(0.2, 1.0))) if load.kind == "electronic" else 1.0
                day.at(second, _switching(circuit.id, load, share, on=True))
                day.at(min(second + on, end), _switching(circuit.id, load, share, on=False))
                second += on + off
    return day


def power_up(day: Day, second: int) -> Day:
    """Start a stopped set: breakers closed one by one on an engine that warms up first."""
    day.dead = True
    for circuit in day.show.circuits:
        day.rig.opened.add(circuit.id)

    def turn(day: Day, hertz_off: float, volts_off: float) -> None:
        day.dead, day.hertz_off, day.volts_off = False, hertz_off, volts_off

    for after, hertz_off, volts_off in ((0, -0.6, 0.3), (1, -0.3, 0.8), (20, -0.1, 0.95), (22, 0.0, 1.0)):
        day.at(second + after, lambda day, h=hertz_off, v=volts_off: turn(day, h, v))  # type: ignore[misc]
    for number, circuit in enumerate(day.show.circuits):
        day.at(second + 40 + 3 * number, lambda day, c=circuit.id: day.rig.opened.discard(c))  # type: ignore[misc]
    return day


def wrap(day: Day, second: int) -> Day:
    """End: every breaker by hand, with nothing on, then the engine runs down."""
    for number, circuit in enumerate(day.show.circuits):
        day.at(second + 2 * number, opened(circuit.id))
    stop = second + 2 * len(day.show.circuits) + 30

    def slower(day: Day, part: float) -> None:
        day.hertz_off, day.volts_off, day.dead = part - 1, part, part == 0.0

    for after, part in enumerate((0.9, 0.7, 0.4, 0.1, 0.0)):
        day.at(stop + after, lambda day, p=part: slower(day, p))  # type: ignore[misc]
    return day


def everything_on(day: Day, second: int = 5) -> Day:
    """Switch every planned load on, one after another, and leave it on."""
    for circuit in day.show.circuits:
        for load in circuit.load:
            day.at(second, _switching(circuit.id, load, 1.0, on=True))
            second += 1
    return day


def heater(circuit: str, watts: float) -> Act:
    """Plug a heater in that nobody planned [W]."""
    return lambda day: day.switch(circuit, Load("heater", watts, kind="resistive"), on=True)


def unloaded(*circuits: str) -> Act:
    """Switch all loads of circuits off."""

    def act(day: Day) -> None:
        for circuit in circuits:
            day.rig.on[circuit].clear()

    return act


def opened(*circuits: str) -> Act:
    """Open breakers."""
    return lambda day: day.rig.opened.update(circuits)


def run(place: str, conductors: str, ohms: float = OPEN_OHMS) -> Act:
    """Give conductors of a run another resistance [ohm]: ``"L1 N"``, or ``"*"`` for every leg; none given is open."""

    def act(day: Day) -> None:
        names = [each for name in conductors.split() for each in (day.rig.legs if name == "*" else (name,))]
        for name in names:
            day.rig.ohms[place, name] = ohms

    return act


def source(volts: float = 1.0, hertz: float = 0.0) -> Act:
    """Let the source's volts be a part of what they were, its hertz off by a part."""

    def act(day: Day) -> None:
        day.volts_off, day.hertz_off = volts, hertz

    return act


def dead(day: Day) -> None:
    """Stop the source."""
    day.dead = True


def silent(*meters: str) -> Act:
    """Let meters, as ``bus:unit``, give no answer."""
    return lambda day: day.silent.update(meters)


def both(*acts: Act) -> Act:
    """Do several things at once."""

    def act(day: Day) -> None:
        for one in acts:
            one(day)

    return act


def later(seconds: int, act: Act) -> Act:
    """Do something some seconds later."""
    return lambda day: day.at(day.second + seconds, act)


def _switching(circuit: str, load: Load, share: float, *, on: bool) -> Act:
    return lambda day: day.switch(circuit, load, on=on, share=share)


def _rhythm(load: Load, random: Random) -> tuple[int, int]:
    if load.name in ("kettle", "urn"):
        return random.randint(40, 240), random.randint(60, 900)
    if load.kind == "motor":
        return random.randint(15, 200), random.randint(20, 300)
    return random.randint(200, 3000), random.randint(60, 900)
