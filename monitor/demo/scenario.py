"""The scenario: what people switch and when, as data; played against the model without a clock.

A breaker opens only where the model's own warmth opens it. ``Player`` is the same in the demo and in tests.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from pydantic import TypeAdapter

from drivers.files.checked import check
from drivers.files.located import read
from monitor.demo.appliances import Appliance
from monitor.demo.physics import World
from monitor.demo.script import Script
from monitor.electrical.loads import nominal_volts

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from monitor.demo.observed import State
    from monitor.demo.script import Event
    from monitor.show.model import Load, Show


@dataclass(frozen=True, slots=True)
class Moment:
    """The set over one step, and which meters don't answer.

    Attributes:
        state: what is true.
        silent: meters that don't answer, as ``bus/unit``.

    """

    state: State
    silent: frozenset[str]


class Player:
    """Plays a script on a show, step by step, over and over.

    Args:
        show: the set.
        script: what happens.

    Raises:
        ValueError: the script names a load or a circuit that the show does not have.

    """

    def __init__(self, show: Show, script: Script) -> None:
        self.step_s = script.step_seconds
        self._repeat_steps = round(script.repeat_seconds / script.step_seconds)
        self._world = World(show, _appliances(show, script), script.set_volts)
        self._silent: set[str] = set()
        self._steps = 0
        self._due: dict[int, list[Event]] = {}
        for event in script.all_events():
            self._due.setdefault(round(event.at / script.step_seconds), []).append(event)

    def advance(self) -> Moment:
        """Go on by one step."""
        for event in self._due.get(self._steps % self._repeat_steps, ()):
            self._apply(event)
        self._steps += 1
        return Moment(self._world.advance(self.step_s), frozenset(self._silent))

    def _apply(self, event: Event) -> None:
        for name in event.off:
            self._world.switch(name, on=False)
        for place in event.close:
            self._world.close(place)
        for name in event.on:
            self._world.switch(name, on=True)
        self._silent |= set(event.silent)
        self._silent -= set(event.answers)


def play(show: Show, script: Script, seconds: float) -> Iterator[Moment]:
    """Give every step of the first ``seconds`` [s] of scenario time."""
    player = Player(show, script)
    for _ in range(round(seconds / player.step_s)):
        yield player.advance()


def load_script(path: Path) -> Script:
    """Load a scenario file.

    Raises:
        FileFaults: every fault of the file.

    """
    return check(read(str(path)), TypeAdapter(Script), {})


def _appliances(show: Show, script: Script) -> dict[str, tuple[str, Appliance]]:
    """Name every load ``circuit: load``: the show's planned ones, then the script's own."""
    volts = {circuit.id: nominal_volts(show.source.system, circuit.legs) for circuit in show.circuits}
    loads: list[tuple[str, Load]] = [(circuit.id, load) for circuit in show.circuits for load in circuit.load]
    loads += [(extra.circuit, extra.load) for extra in script.extra]
    found = {f"{circuit}: {load.name}": (circuit, Appliance(load, volts[circuit])) for circuit, load in loads}
    wanted = {name for event in script.all_events() for name in (*event.on, *event.off)}
    if wanted - set(found):
        raise ValueError(f"the scenario switches what the show does not have: {', '.join(sorted(wanted - set(found)))}")
    return found
