"""The whole model: breakers, boxes and taps in motion."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Literal

import pytest

from monitor.demo.appliances import Appliance
from monitor.demo.physics import World
from monitor.show.model import Load, Point

if TYPE_CHECKING:
    from monitor.demo.observed import State
    from monitor.show.model import Show

BOX_A = [Point(f"A{number}") for number in range(1, 8)]


def world(show: Show, **watts: float) -> World:
    """Make a world with one resistance a circuit, switched on."""
    volts = {circuit.id: 120.0 * len(circuit.legs) for circuit in show.circuits}
    loads = {name: (name, Appliance(Load(name, size, kind="resistive"), volts[name])) for name, size in watts.items()}
    made = World(show, loads, 120.0)
    for name in watts:
        made.switch(name, on=True)
    return made


def after(made: World, seconds: float) -> State:
    """Go on for some seconds in steps of half of one."""
    for _ in range(round(2 * seconds)):
        state = made.advance(0.5)
    return state


def test_a_box_that_opens_takes_its_circuits_along(show: Show) -> None:
    """Seven circuits within their ratings overload the box's 60 A: all its points read 0 V, the other box goes on."""
    made = world(show, A1=2300, A3=2300, A6=2300, A7=5000, B1=500)
    state = after(made, 600)
    assert state.opened == {"boxA"}
    assert all(state.at[point].volts == state.at[point].amps == 0 for point in (*BOX_A, Point("boxA", "L1")))
    assert state.at[Point("B1")].amps == pytest.approx(500 / 120, rel=0.05)
    made.switch("A7", on=False)
    made.close("boxA")
    assert after(made, 5).at[Point("A1")].amps > 15


@pytest.mark.parametrize(("tap", "low", "high"), [("load", 0, 0), ("line", 110, 130)])
def test_a_tap_on_the_line_side_keeps_its_volts(
    show: Show, tap: Literal["load", "line"], low: float, high: float
) -> None:
    """After an opening a load-side tap reads 0 V and a line-side tap its volts; amps are 0 on both."""
    circuits = tuple(replace(circuit, volts_tap=tap) for circuit in show.circuits)
    state = after(world(replace(show, circuits=circuits), A1=4000), 200)
    assert state.opened == {"A1"}
    assert low <= state.at[Point("A1")].volts <= high
    assert low <= state.at[Point("A1", "L1")].volts <= high
    assert (state.at[Point("A1")].amps, state.far_volts["A1"]) == (0, 0)


def test_a_filament_is_cold_again_after_an_opening(show: Show) -> None:
    """When its circuit gets power back a lamp draws its cold current once more, whatever had opened."""
    lamp = Appliance(Load("lamp", 1000, kind="tungsten"), 120.0)
    made = World(
        show, {"lamp": ("A2", lamp), "heater": ("A2", Appliance(Load("h", 3000, kind="resistive"), 120.0))}, 120.0
    )
    made.switch("lamp", on=True)
    hot = after(made, 5).at[Point("A2")].amps
    made.switch("heater", on=True)
    assert after(made, 200).opened == {"A2"}
    made.switch("heater", on=False)
    made.close("A2")
    assert made.advance(0.05).at[Point("A2")].amps > 4 * hot
    assert after(made, 3).at[Point("A2")].amps == pytest.approx(hot, rel=0.02)


def test_volts_fall_from_source_to_load(show: Show) -> None:
    """Volts at the source are above those at the box, and those above the far end, by current times resistance."""
    state = after(world(show, A1=1800), 20)
    source, box, far = state.at[Point("source", "L1")].volts, state.at[Point("A1")].volts, state.far_volts["A1"]
    assert source > box > far
    # 12 AWG, 15 m one way: 6.5 ohm per km at 75 degrees (NEC table 8 stranded 1.98 ohm per 1000 ft), less at 40.
    assert (box - far) / state.at[Point("A1")].amps == pytest.approx(2 * 15 * 6.5e-3, rel=0.15)


def test_a_source_without_kilowatts_is_refused(show: Show) -> None:
    """The engine's model needs a rating."""
    with pytest.raises(ValueError, match="rated_kw"):
        World(replace(show, source=replace(show.source, rated_kw=None)), {}, 120.0)
