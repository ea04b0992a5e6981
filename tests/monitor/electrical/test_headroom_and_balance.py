"""Headroom names its limiting place; balance is as good as brute force, with as few moves."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations, product

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from monitor.electrical import arrange
from monitor.electrical.balance import balance, moved
from monitor.electrical.headroom import Present, headroom, planned_present
from monitor.electrical.legs import planned_legs
from monitor.electrical.loads import nominal_volts
from monitor.show.model import SYSTEM_LEGS, Circuit, Point, Show, System
from tests.monitor.electrical.sets import circuit, feeder, show, source


def small(amps_per_leg: float = 100) -> Show:
    """Give a set of one box with three circuits on split phase."""
    circuits = [
        circuit("A", ("L1",), [(1200, 1)], fed_from="box"),
        circuit("B", ("L1",), [(1800, 1)], fed_from="box"),
        circuit("C", ("L1", "L2"), [(2400, 1)], fed_from="box", amps=30),
    ]
    return show(source("120/240", amps_per_leg=amps_per_leg), circuits, [feeder("box", ("L1", "L2"), amps=60)])


def test_the_circuit_limits() -> None:
    """10 A on a 20 A breaker at 80 %: 6 A left, 720 W; 600 W fit, 900 W don't."""
    set_ = small()
    answer = headroom(set_, set_.circuits[0], (600, 1.0), planned_present(set_))
    assert answer.limited_by == "A"
    assert answer.amps == pytest.approx(6)
    assert answer.watts == pytest.approx(720)
    assert answer.fits
    assert answer.not_checked == ()
    assert not headroom(set_, set_.circuits[0], (900, 1.0), planned_present(set_)).fits
    assert not headroom(set_, set_.circuits[0], (600, 0.8), planned_present(set_)).fits


def test_a_feeder_leg_a_source_leg_or_the_source_limits() -> None:
    """The least room on the way is named: a box's leg, the source's leg, its kVA, its kW."""
    set_ = small()
    big = replace(set_.circuits[0], breaker=replace(set_.circuits[0].breaker, amps=100))
    answer = headroom(set_, big, (600, 1), planned_present(set_))
    assert answer.limited_by == "box/L1"
    assert answer.amps == pytest.approx(48 - 35)
    answer = headroom(small(45), big, (600, 1), planned_present(set_))
    assert answer.limited_by == "source/L1"
    assert answer.amps == pytest.approx(36 - 35)
    for rating in ({"rated_kva": 7.0}, {"rated_kw": 7.0}):
        tight = replace(set_, source=replace(set_.source, **rating))  # type: ignore[arg-type]
        answer = headroom(tight, set_.circuits[0], (100, 1), planned_present(tight))
        assert answer.limited_by == f"source {'kVA' if 'rated_kva' in rating else 'kW'}"
        assert answer.watts == pytest.approx(5600 - 5400)


def test_unmetered_is_not_checked_never_empty() -> None:
    """A place without a value takes no part, and is named; with no place known there is no answer."""
    set_ = small()
    answer = headroom(set_, set_.circuits[0], (600, 1), Present({Point("A"): 3.0, Point("source", "L1"): 20.0}))
    assert answer.amps == pytest.approx(13)
    assert answer.not_checked == ("box/L1",)
    nothing = headroom(set_, set_.circuits[0], (600, 1), Present())
    assert (nothing.fits, nothing.limited_by, nothing.amps, nothing.watts) == (None, None, None, None)
    assert "A" in nothing.not_checked


def test_measured_volts_change_the_amps() -> None:
    """At 110 V a 600 W load takes 5.45 A; a circuit metered leg by leg counts by its higher leg."""
    set_ = small()
    assert headroom(set_, set_.circuits[0], (600, 1), Present(), volts=110).added_amps == pytest.approx(600 / 110)
    by_leg = Present({Point("C", "L1"): 9.0, Point("C", "L2"): 11.0})
    assert headroom(set_, set_.circuits[2], (240, 1), by_leg).amps == pytest.approx(24 - 11)
    assert headroom(set_, set_.circuits[2], (240, 1), Present({Point("C", "L1"): 9.0})).amps is None


def ways(set_: Show, each: Circuit) -> list[tuple[str, ...]]:
    """Give every way a circuit can hang on the legs of what feeds it."""
    legs = {f.id: f.legs for f in set_.feeders} | {"source": set_.source.legs}
    return list(combinations(legs[each.fed_from], len(each.legs)))


def brute(set_: Show) -> tuple[float, int]:
    """Give the lowest highest leg and the fewest moves to it, trying everything with the plan's own phasors."""
    free = [c for c in set_.circuits if c.movable and c.load[0].watts]
    best = []
    for chosen in product(*(ways(set_, c) for c in free)):
        to = dict(zip((c.id for c in free), chosen, strict=True))
        circuits = tuple(replace(c, legs=to.get(c.id, c.legs)) for c in set_.circuits)
        highest = max(map(abs, planned_legs(replace(set_, circuits=circuits), "source").values()))
        best.append((round(highest, 5), sum(set(to[c.id]) != set(c.legs) for c in free)))
    return min(best)


@st.composite
def shows(draw: st.DrawFn, *, one_factor: bool) -> Show:
    """Draw a small set: loads of 20 W steps, some leg to leg, some that may not move, some behind a two-leg box."""
    system: System = draw(st.sampled_from(["120/240", "208Y/120", "400Y/230"]))
    legs = SYSTEM_LEGS[system]
    circuits = []
    for number in range(draw(st.integers(1, 5))):
        box = draw(st.booleans())
        among = legs[:2] if box else legs
        count = draw(st.sampled_from([1, 1, 2, 2, 3][: 4 if box or len(legs) == 2 else 5]))
        factor = 1.0 if one_factor else draw(st.sampled_from([1.0, 0.95, 0.6]))
        load = (20.0 * draw(st.integers(0, 100)), factor)
        each = circuit(f"C{number}", draw(st.permutations(among))[:count], [load], "box" if box else "source")
        circuits.append(replace(each, movable=draw(st.integers(0, 4)) > 0))
    return show(source(system), circuits, [feeder("box", legs[:2])])


@settings(max_examples=60, deadline=None)
@given(shows(one_factor=False))
def test_balance_against_brute_force(set_: Show) -> None:
    """Highest leg and number of moves are those of trying everything; the moves give the legs they promise."""
    _check_balance(set_)


@settings(max_examples=60, deadline=None)
@given(shows(one_factor=True))
def test_ties_against_brute_force(set_: Show) -> None:
    """The same where many arrangements are alike, as loads of one power factor make them."""
    _check_balance(set_)


@settings(max_examples=40, deadline=None)
@given(shows(one_factor=False))
def test_what_is_not_searched_whole_says_so(set_: Show) -> None:
    """With room for few sums the answer is either the best or not called exact; its floor is never above the best."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(arrange, "STATES", 4)
        found = balance(set_)
    highest, moves = brute(set_)
    if found.exact:
        assert max(found.after.values()) == pytest.approx(highest, abs=2e-5)
        assert len(found.moves) == moves
    assert found.floor_amps <= highest + 2e-5 <= max(found.after.values()) + 4e-5
    after = planned_legs(moved(set_, found.moves), "source")
    assert {leg: abs(current) for leg, current in after.items()} == pytest.approx(dict(found.after), abs=1e-9)


def _check_balance(set_: Show) -> None:
    found = balance(set_)
    highest, moves = brute(set_)
    assert max(found.after.values()) == pytest.approx(highest, abs=2e-5)
    assert len(found.moves) == moves
    assert found.exact
    after = planned_legs(moved(set_, found.moves), "source")
    assert {leg: abs(current) for leg, current in after.items()} == pytest.approx(dict(found.after), abs=1e-9)


@pytest.mark.parametrize("system", ["120/240", "208Y/120"])
def test_large_sets(system: System) -> None:
    """24 equal loads in a heap on one leg: shared evenly, and only those move that must."""
    legs = SYSTEM_LEGS[system]
    set_ = show(source(system), [circuit(f"C{n}", (legs[0],), [(600, 0.9)]) for n in range(24)])
    found = balance(set_)
    share = 24 // len(legs)
    assert len(found.moves) == 24 - share
    assert list(found.after.values()) == pytest.approx([share * 600 / 0.9 / nominal_volts(system, ("L1",))] * len(legs))


@pytest.mark.parametrize("system", ["120/240", "208Y/120"])
def test_a_real_size_of_any_loads_comes_as_low_as_can_be_shown(system: System) -> None:
    """48 circuits of no common measure, every third leg to leg: as near the floor as is printed, and said so."""
    legs = SYSTEM_LEGS[system]
    circuits = [
        circuit(f"C{n}", legs[: 1 + (n % 3 == 0)], [(400 + 37.37 * n + n * n * 1.013, 1 - n % 5 * 0.05)])
        for n in range(48)
    ]
    found = balance(show(source(system), circuits))
    assert found.floor_amps <= max(found.after.values()) <= found.floor_amps + 0.05
    assert found.exact or found.floor_amps > 0


def test_two_hot_loads_move_to_another_pair() -> None:
    """Three equal two-hot loads on one pair of a wye: two move, and every leg carries sqrt(3) times one of them."""
    set_ = show(source("208Y/120"), [circuit(f"C{n}", ("L2", "L1"), [(3000, 1)]) for n in range(3)])
    found = balance(set_)
    each = 3000 / nominal_volts("208Y/120", ("L1", "L2"))
    assert list(found.after.values()) == pytest.approx([each * 3**0.5] * 3)
    assert sorted((m.from_leg, m.to_leg) for m in found.moves) == [("L1-L2", "L1-L3"), ("L1-L2", "L2-L3")]
    assert balance(show(source("120/240"), set_.circuits)).moves == ()
    boxed = [replace(c, fed_from="box") for c in set_.circuits]
    assert balance(show(source("208Y/120"), boxed, [feeder("box", ("L1", "L2"))])).moves == ()


def test_what_fewer_moves_would_do() -> None:
    """10, 6, 5 and 3 A on one of two legs: 13 and 11 take two moves; the best single one comes to 14."""
    amps = {"A": 10, "B": 6, "C": 5, "D": 3}
    found = balance(show(source("120/240"), [circuit(n, ("L1",), [(120 * a, 1)]) for n, a in amps.items()]))
    assert max(found.after.values()) == pytest.approx(13)
    assert len(found.moves) == 2
    assert [[move.circuit for move in few.moves] for few in found.fewer] == [["A"]]
    assert found.fewer[0].highest_amps == pytest.approx(14)


@settings(max_examples=40, deadline=None)
@given(shows(one_factor=False), st.sampled_from(["L2 L3 L1", "L3 L1 L2"]), st.sampled_from([0.3, 1.0, 7.0]))
def test_balance_renamed_and_scaled(set_: Show, order: str, scale: float) -> None:
    """Other names for the legs, in their turn: the same highest leg, as many moves; scaled loads scale it."""
    assume(len(set_.source.legs) == 3)
    to = dict(zip(("L1", "L2", "L3"), order.split(), strict=True))
    found, other = balance(set_), balance(_renamed(set_, to, scale))
    assert max(other.after.values()) == pytest.approx(scale * max(found.after.values()), abs=1e-5 * scale)
    if scale == 1:
        assert len(other.moves) == len(found.moves)


def _renamed(set_: Show, to: dict[str, str], scale: float) -> Show:
    circuits = [
        replace(c, legs=tuple(to[leg] for leg in c.legs), load=tuple(replace(p, watts=p.watts * scale) for p in c.load))
        for c in set_.circuits
    ]
    feeders = [replace(f, legs=tuple(to[leg] for leg in f.legs)) for f in set_.feeders]
    return replace(set_, circuits=tuple(circuits), feeders=tuple(feeders))


def test_nothing_to_gain_moves_nothing() -> None:
    """An even set, a set of one leg and an empty one are left alone."""
    even = show(source("120/240"), [circuit("A", ("L1",), [(600, 1)]), circuit("B", ("L2",), [(600, 1)])])
    assert balance(even).moves == ()
    assert balance(show(source("230"), [circuit("A", ("L1",), [(600, 1)])])).moves == ()
    assert balance(show(source("208Y/120"), [])).moves == ()


def test_measured_currents_can_stand_for_the_plan() -> None:
    """With currents given, those are balanced, whatever the plan says."""
    set_ = show(source("120/240"), [circuit("A", ("L1",)), circuit("B", ("L1",)), circuit("C", ("L2",), [(9000, 1)])])
    found = balance(set_, {"A": 9 + 0j, "B": 5 + 0j, "C": 1 + 0j})
    assert [(m.circuit, m.from_leg, m.to_leg) for m in found.moves] == [("B", "L1", "L2")]
