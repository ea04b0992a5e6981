"""Steps of one circuit: what comes on and goes off, and what does not count as a step."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from monitor.electrical.steps import LEAST_AMPS, Step, StepFinder, whole
from monitor.show.model import Breaker, Circuit, Load
from tests.support.stepdays import SYSTEMS, Act, Piece, StepDay

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from monitor.show.model import System

PANEL = Load("Panel", 600, 0.95)
LAMP = Load("Lamp", 1000, kind="tungsten")
KETTLE = Load("Kettle", 1400, kind="resistive")
PUMP = Load("Pump", 700, 0.8, kind="motor", start_multiple=6)
HEATER = Load("heater nobody planned", 1830, kind="resistive")


def circuit(loads: Iterable[Load], legs: tuple[str, ...] = ("L1",)) -> Circuit:
    """Make a circuit with a plan."""
    return Circuit("A1", "A1", "source", legs, Breaker(20), load=tuple(loads))


def day(  # noqa: PLR0913 - a whole day is made of these
    loads: Sequence[Load],
    acts: Sequence[Act],
    *,
    strangers: Sequence[Load] = (),
    pace_s: float = 1.0,
    flutter: float = 0.003,
    digit: float = 0.0,
    by_watts: bool = True,
    minutes: float = 15,
    dips: Sequence[tuple[float, float, float]] = (),
) -> StepDay:
    """Make a day at 120 V; pieces stand in the order of the loads, then strangers."""
    pieces = [Piece(load, planned=True, watts=load.watts) for load in loads for _ in range(load.count)]
    pieces += [Piece(load, planned=False, watts=load.watts) for load in strangers]
    made = StepDay(circuit(loads), "120/240", 120.0, pieces, sorted(acts, key=lambda act: act.time_s))
    made.hours, made.pace_s, made.flutter, made.digit = minutes / 60, pace_s, flutter, digit
    made.by_watts, made.dips = by_watts, list(dips)
    return made


def steps_of(made: StepDay) -> list[Step]:
    """Find the steps of a day."""
    finder = StepFinder(made.circuit, made.system)
    return [step for row in made.samples() for step in finder.add(*row)]


def told(steps: Iterable[Step]) -> list[tuple[str, tuple[str, ...]]]:
    """Give kind and names of each step."""
    return [(step.kind, step.match) for step in steps]


def on(time_s: float, *pieces: int) -> Act:
    """Switch pieces on."""
    return Act(time_s, pieces, on=True)


def off(time_s: float, *pieces: int) -> Act:
    """Switch pieces off."""
    return Act(time_s, pieces, on=False)


@pytest.mark.parametrize("by_watts", [True, False])
@pytest.mark.parametrize("pace_s", [0.5, 1.0, 5.0, 10.0])
def test_loads_are_named_as_they_come_and_go(pace_s: float, by_watts: bool) -> None:  # noqa: FBT001 - a parameter
    """Each switching gives one step: its time within a sample, its sign, its size and its load."""
    acts = [on(100, 0), on(240, 1), on(380, 2), off(520, 0), off(660, 2), off(800, 1)]
    steps = steps_of(day([PANEL, LAMP, KETTLE], acts, pace_s=pace_s, by_watts=by_watts, minutes=16))
    names = [("Panel",), ("Lamp",), ("Kettle",), ("Panel",), ("Kettle",), ("Lamp",)]
    assert [step.match for step in steps] == names
    for step, act in zip(steps, acts, strict=True):
        assert step.kind == ("on" if act.on else "off")
        assert step.earliest_s < act.time_s + 0.1
        assert 0 <= step.time_s - act.time_s < 1.1 * pace_s + 0.1
        assert (step.watts is not None) is by_watts
        size = {"Panel": 600, "Lamp": 1000, "Kettle": 1400}[step.match[0]] * (1 if act.on else -1)
        assert step.amps == pytest.approx(size / 120, rel=0.1)
        assert step.watts is None or step.watts == pytest.approx(size, rel=0.06)
        assert 0.5 < step.confidence <= 1
        assert not step.over_gap


@pytest.mark.parametrize(("system", "legs", "nominal"), SYSTEMS)
@pytest.mark.parametrize("flutter", [0.0, 0.003, 0.01])
@pytest.mark.parametrize("digit", [0.0, 0.1])
def test_a_quiet_hour_has_no_steps(
    system: System, legs: tuple[str, ...], nominal: float, flutter: float, digit: float
) -> None:
    """Noise of 1 % and a last digit of 0.1 A over an hour of a loaded circuit are no steps, only what came on is."""
    pieces = [Piece(load, planned=True, watts=load.watts) for load in (PANEL, LAMP)]
    for seed, by_watts in enumerate((True, False)):
        quiet = StepDay(circuit((PANEL, LAMP), legs), system, nominal, pieces, [on(60, 0), on(120, 1)])
        quiet.flutter, quiet.digit, quiet.seed, quiet.by_watts = flutter, digit, seed, by_watts
        assert told(steps_of(quiet)) == [("on", ("Panel",)), ("on", ("Lamp",))]


def test_an_idle_circuit_has_no_steps() -> None:
    """A last digit that flickers at no load is no step, and less than the least amps is none."""
    finder = StepFinder(circuit([PANEL]), "120/240")
    rows = ((float(t), 120.0, 0.1 * (t % 3 == 0), None) for t in range(1800))
    assert not [step for row in rows for step in finder.add(*row)]
    small = day([Load("Night light", 0.8 * LEAST_AMPS * 120)], [on(60, 0), off(300, 0)], flutter=0.001)
    assert not steps_of(small)


@pytest.mark.parametrize("load", [PANEL, LAMP, KETTLE, PUMP])
@pytest.mark.parametrize("planned", [True, False])
@pytest.mark.parametrize("by_watts", [True, False])
def test_a_dip_of_the_source_is_no_step(load: Load, *, planned: bool, by_watts: bool) -> None:
    """Dips of 2 to 16 % move every kind of load in its own way, planned or not, and give no step."""
    dips = [(200 + 100 * n, 0.02 * (n + 1), 2 + n) for n in range(8)]
    plan, strangers = ([load], []) if planned else ([PANEL], [load])
    made = day(plan, [on(60, 0 if planned else 1)], strangers=strangers, dips=dips, by_watts=by_watts, minutes=20)
    assert len(steps_of(made)) == 1


def test_a_lasting_change_of_volts_is_no_step() -> None:
    """A source set from 114 to 126 V changes what a lamp draws by 16 %, and gives no step."""
    for load in (PANEL, LAMP, KETTLE):
        exponent = {"electronic": 0.0, "tungsten": 1.53, "resistive": 2.0}[load.kind]
        finder = StepFinder(circuit([load]), "120/240")
        steps: list[Step] = []
        for t in range(600):
            volts = 114.0 if t < 300 else 126.0
            watts = load.watts * (volts / 120) ** exponent if t >= 60 else 0.0
            steps += finder.add(float(t), volts, watts / load.power_factor / volts, watts)
        assert told(steps) == [("on", (load.name,))]


def test_starts_are_one_step_with_the_settled_value() -> None:
    """A motor's start and a filament's inrush belong to their step; the motor's is called by its name."""
    for load, behaviours in ((PUMP, {"motor start"}), (LAMP, {"steady", "inrush"})):
        for seed in range(8):
            made = day([load], [on(100 + 0.13 * seed, 0)], flutter=0.002)
            made.seed = seed
            (step,) = steps_of(made)
            assert step.match == (load.name,)
            assert step.watts == pytest.approx(load.watts, rel=0.03)
            assert step.behaviour in behaviours


def test_loads_at_once_are_named_together() -> None:
    """Several loads within a second are one step of all of them."""
    both = steps_of(day([PANEL, LAMP, KETTLE], [on(100, 0), on(100.4, 1), off(400, 0, 1)]))
    assert told(both) == [("on", ("Panel", "Lamp")), ("off", ("Panel", "Lamp"))]


def test_pieces_are_counted() -> None:
    """Of four pieces of one kind, as many are named as came, and no more than are left."""
    tiles = [Load("Tile", 300, 0.95, count=4)]
    steps = steps_of(day(tiles, [on(100, 0), on(200, 1, 2), off(300, 0, 1, 2), on(400, 0, 1, 2, 3)]))
    assert told(steps) == [("on", ("Tile",)), ("on", ("Tile",) * 2), ("off", ("Tile",) * 3), ("on", ("Tile",) * 4)]


@pytest.mark.parametrize("by_watts", [True, False])
def test_nothing_is_invented(by_watts: bool) -> None:  # noqa: FBT001 - a parameter
    """A load that nobody planned has no name, on or off; nor has a second kettle when the planned one is on."""
    strangers = [HEATER, Load("another kettle", 1400, kind="resistive")]
    acts = [on(100, 0), on(200, 2), off(300, 2), on(400, 1), on(500, 3), off(600, 0)]
    steps = steps_of(day([PANEL, KETTLE], acts, strangers=strangers, by_watts=by_watts))
    assert [step.match for step in steps] == [("Panel",), (), (), ("Kettle",), (), ("Panel",)]


def test_what_was_on_before_is_named_when_it_goes() -> None:
    """A log that begins with loads on has no step for them, and names them as they go."""
    made = day([PANEL, LAMP, KETTLE], [on(-1, 0, 2), off(200, 2), off(400, 0)])
    assert told(steps_of(made)) == [("off", ("Kettle",)), ("off", ("Panel",))]


def test_a_gap_hides_the_moment_only() -> None:
    """What changed while nothing was measured is a step that says so; what did not change is none."""
    made = day([PANEL, LAMP], [on(60, 0), on(300, 1), off(600, 0)])
    finder = StepFinder(made.circuit, made.system)
    steps = [s for row in made.samples() if not 290 < row[0] < 400 and not 450 < row[0] < 500 for s in finder.add(*row)]
    assert told(steps) == [("on", ("Panel",)), ("on", ("Lamp",)), ("off", ("Panel",))]
    assert [step.over_gap for step in steps] == [False, True, False]
    assert steps[1].earliest_s <= 300 <= steps[1].time_s
    assert steps[1].time_s >= 400


def test_an_outage_is_no_step() -> None:
    """Loads that lose their volts and have them back have not been switched; one that stays off has."""
    for back, expected in ((600, []), (0, [("off", ("Panel",))])):
        finder = StepFinder(circuit([PANEL, LAMP]), "120/240")
        steps: list[Step] = []
        for t in range(400):
            watts = 0.0 if 200 <= t < 240 else (1000 if t >= 60 else 0) + (600 if t < 200 else back if t >= 240 else 0)
            volts = 0.0 if 200 <= t < 240 else 120.0
            steps += finder.add(float(t), volts, watts / 120, watts)
        assert told(steps) == [("on", ("Lamp",)), *expected]


def test_missing_samples_are_passed_over() -> None:
    """Every second poll failing, or watts missing now and then, changes no name."""
    made = day([PANEL, LAMP], [on(100, 0), on(200, 1), off(300, 0)])
    rows = list(made.samples())
    for spoilt in (
        [(t, None, None, None) if n % 2 else (t, v, a, w) for n, (t, v, a, w) in enumerate(rows)],
        [(t, v, a, None if n % 5 == 0 else w) for n, (t, v, a, w) in enumerate(rows)],
        [(t, None if n % 5 == 0 else v, a, w) for n, (t, v, a, w) in enumerate(rows)],
    ):
        finder = StepFinder(made.circuit, made.system)
        steps = [step for row in spoilt for step in finder.add(*row)]
        assert told(steps) == [("on", ("Panel",)), ("on", ("Lamp",)), ("off", ("Panel",))]


def test_amps_serve_where_watts_stop() -> None:
    """A meter whose watts stop for good is followed by its amps, without a step for that."""
    made = day([PANEL, LAMP], [on(100, 0), on(400, 1), off(600, 0)])
    finder = StepFinder(made.circuit, made.system)
    steps = [s for t, v, a, w in made.samples() for s in finder.add(t, v, a, w if t < 250 else None)]
    assert told(steps) == [("on", ("Panel",)), ("on", ("Lamp",)), ("off", ("Panel",))]
    assert [step.watts is None for step in steps] == [False, True, True]


def test_a_fade_is_one_step_without_a_name_unless_all_of_the_load_comes() -> None:
    """Dimming to a part names nothing; the dimmed load is still known when it goes; a full fade is named."""
    part = Act(200, (0,), on=True, fade_s=15, share=0.4)
    steps = steps_of(day([PANEL, LAMP], [on(60, 0), on(120, 1), part, off(400, 0)], flutter=0.001))
    assert told(steps) == [("on", ("Panel",)), ("on", ("Lamp",)), ("off", ()), ("off", ("Panel",))]
    assert steps[2].behaviour == "fade"
    assert steps[2].watts == pytest.approx(-360, rel=0.05)
    full = Act(200, (1,), on=True, fade_s=10)
    steps = steps_of(day([PANEL, LAMP], [on(60, 0), full], flutter=0.001))
    assert [(step.match, step.behaviour) for step in steps] == [(("Panel",), "steady"), (("Lamp",), "fade")]


def test_a_slow_drift_is_no_step() -> None:
    """A load that changes over ten minutes is followed, and the next load beside it is still named."""
    drift = Act(100, (0,), on=True, fade_s=600, share=0.5)
    for seed in range(4):
        made = day([KETTLE, PANEL], [on(60, 0), drift, on(900, 1)], minutes=20)
        made.seed = seed
        steps = steps_of(made)
        assert told(steps)[0] == ("on", ("Kettle",))
        assert told(steps)[-1] == ("on", ("Panel",))
        assert sum(bool(step.match) for step in steps) == 2
        assert len(steps) <= 4


@pytest.mark.parametrize("planned", [True, False])
def test_what_cycles_is_one_thing(planned: bool) -> None:  # noqa: FBT001 - a parameter
    """From its third time on, a thermostat's load says that it cycles and since when; a switched load never does."""
    acts = [act for n in range(8) for act in (on(100 + 70 * n, 1), off(142 + 70 * n, 1))]
    plan, strangers = ([PANEL, KETTLE], []) if planned else ([PANEL], [KETTLE])
    steps = [step for step in steps_of(day(plan, [on(60, 0), *acts], strangers=strangers)) if step.match != ("Panel",)]
    assert len(steps) == len(acts)
    assert [step.behaviour for step in steps[:5]] == ["steady"] * 5
    assert {step.behaviour for step in steps[5:]} == {"cycling"}
    assert {step.since_s for step in steps[5:]} == {steps[0].time_s}
    uneven = [on(100, 0), off(130, 0), on(180, 0), off(500, 0), on(540, 0), off(600, 0), on(800, 0), off(830, 0)]
    assert all(step.behaviour != "cycling" for step in steps_of(day([KETTLE], uneven)))


def test_a_reversed_transformer_changes_nothing() -> None:
    """Watts with the wrong sign give the same steps."""
    made = day([PANEL, LAMP], [on(100, 0), on(200, 1), off(300, 0)])
    finder, other = StepFinder(made.circuit, made.system), StepFinder(made.circuit, made.system)
    for t, v, a, w in made.samples():
        assert finder.add(t, v, a, w) == other.add(t, v, a, None if w is None else -w)


def test_samples_out_of_order_are_passed_over() -> None:
    """A sample read twice, or an older one, changes nothing."""
    made = day([PANEL], [on(100, 0), off(300, 0)])
    finder = StepFinder(made.circuit, made.system)
    steps: list[Step] = []
    for t, v, a, w in made.samples():
        steps += finder.add(t, v, a, w)
        assert finder.add(t, v, 99.0, 9999.0) == ()
        assert finder.add(t - 5, v, 99.0, 9999.0) == ()
    assert told(steps) == [("on", ("Panel",)), ("off", ("Panel",))]


def test_legs_are_put_together() -> None:
    """A circuit metered leg by leg: volts across its loads, amps of a hot leg, watts of all; a part is no whole."""
    pair, three = circuit([PANEL], ("L1", "L2")), circuit([PANEL], ("L1", "L2", "L3"))
    assert whole(pair, "120/240", [(119.0, 5.0, 590.0), (121.0, 5.2, 610.0)]) == pytest.approx((240, 5.1, 1200))
    assert whole(pair, "208Y/120", [(120.0, 5.0, None), (120.0, 5.0, 9.0)])[0] == pytest.approx(207.85, abs=0.01)
    volts, amps, watts = whole(three, "400Y/230", [(230.0, 3.0, 600.0)] * 3)
    assert (volts, amps, watts) == pytest.approx((230, 3, 1800))
    assert whole(pair, "120/240", [(119.0, None, 590.0), (121.0, 5.2, None)]) == (240.0, None, None)
