"""The set as it would behave: a show's wires, breakers and generator with loads switched on and off, step by step.

Pure: time is what the steps add up to. One step is solved as a steady state (effective values); faster things than
a step (first half-waves, magnetic trips) are not in it. A meter's own window is about as long as a step
(10 or 12 cycles, IEC 61000-4-30, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from monitor.demo.machine import Machine, Thermal
from monitor.demo.network import solve
from monitor.demo.observed import State, observe
from monitor.demo.wiring import leg_turns, network
from monitor.show.model import SOURCE_ID

if TYPE_CHECKING:
    from collections.abc import Mapping

    from monitor.demo.appliances import Appliance
    from monitor.demo.network import Box, Branch, Draw, Solution
    from monitor.show.model import Show


@dataclass(slots=True)
class _Hung:
    appliance: Appliance
    circuit: str
    on_since_s: float | None = None


class World:
    """A show in motion.

    Args:
        show: its wires, breakers and source; circuits have one or two legs, the source is a generator with its
            kilowatts rated.
        appliances: by name, each with the circuit it hangs on; all are off at first.
        set_volts: leg to neutral, what the generator's regulator is set to [V].

    """

    def __init__(self, show: Show, appliances: Mapping[str, tuple[str, Appliance]], set_volts: float) -> None:
        if show.source.rated_kw is None:
            raise ValueError("the model needs a source with rated_kw")
        self._show = show
        self._hung = {name: _Hung(what, circuit) for name, (circuit, what) in appliances.items()}
        self._network = network(show)
        self._turns = leg_turns(self._network.legs)
        droop = show.source.governor == "droop"
        self._machine = Machine(show.source.hertz, 1000 * show.source.rated_kw, set_volts, droop=droop)
        self._breakers = {circuit.id: Thermal(circuit.breaker.amps) for circuit in show.circuits}
        self._breakers |= {box.id: Thermal(box.breaker.amps) for box in show.feeders if box.breaker is not None}
        self._powered_since_s = {branch.id: 0.0 for branch in self._network.branches}
        self._time_s = 0.0
        self._solution = self._solve([None] * len(self._network.branches), None)

    def switch(self, name: str, *, on: bool) -> None:
        """Switch a load on or off; one that is on already stays as it is."""
        hung = self._hung[name]
        if not on:
            hung.on_since_s = None
        elif hung.on_since_s is None:
            hung.on_since_s = self._time_s

    def close(self, place: str) -> None:
        """Close the breaker of a circuit or box; a closed one stays as it is."""
        self._breakers[place].closed = True

    def advance(self, step_s: float) -> State:
        """Go on by ``step_s`` [s] and give what is true over that step."""
        legs, amps = self._solution.box_volts[0][:-1], self._solution.box_amps[0][:-1]
        power = sum(volts * current.conjugate() for volts, current in zip(legs, amps, strict=True))
        self._machine.advance(power.real, sum(map(abs, legs)) / len(legs), step_s)
        live = self._live_boxes()
        self._solution = self._solve(
            [self._draw(branch, live, step_s) for branch in self._network.branches], self._solution
        )
        opened = frozenset(place for place, breaker in self._breakers.items() if not breaker.closed)
        self._time_s += step_s
        state = observe(self._show, self._network, self._solution, live, opened, (self._time_s, self._machine.hertz))
        self._warm_breakers(step_s)
        return state

    def _solve(self, draws: list[Draw | None], before: Solution | None) -> Solution:
        emf = [turn * self._machine.emf for turn in self._turns]
        return solve(self._network, emf, draws, before.amps if before else [0j] * len(draws))

    def _live_boxes(self) -> frozenset[int]:
        """Give the boxes that no open breaker cuts off."""
        live: set[int] = set()
        for index, box in enumerate(self._network.boxes):
            if self._closed(box) and (box.parent is None or box.parent in live):
                live.add(index)
        return frozenset(live)

    def _closed(self, place: Box | Branch) -> bool:
        breaker = self._breakers.get(place.id)
        return breaker is None or breaker.closed

    def _draw(self, branch: Branch, live: frozenset[int], step_s: float) -> Draw | None:
        """Give what a circuit's loads draw together, or None where it has no power."""
        if branch.box not in live or not self._closed(branch):
            self._powered_since_s[branch.id] = self._time_s + step_s
            return None
        begin = self._powered_since_s[branch.id]
        on = [
            partial(hung.appliance.current, on_s=self._time_s - max(hung.on_since_s, begin), step_s=step_s)
            for hung in self._hung.values()
            if hung.circuit == branch.id and hung.on_since_s is not None
        ]
        return lambda volts: sum((current(volts) for current in on), 0j)

    def _warm_breakers(self, step_s: float) -> None:
        carried = {
            branch.id: abs(amps) for branch, amps in zip(self._network.branches, self._solution.amps, strict=True)
        }
        for box, amps in zip(self._network.boxes, self._solution.box_amps, strict=True):
            if box.id != SOURCE_ID:
                carried[box.id] = max(map(abs, amps[:-1]))
        for place, breaker in self._breakers.items():
            breaker.advance(carried[place], step_s)
