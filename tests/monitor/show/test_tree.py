"""The tree from source to circuits: depth, rings, order, legs."""

from __future__ import annotations

import random

from monitor.show.model import SOURCE_ID, Show
from tests.monitor.show.files import faults_of, load

HEAD = """
show = { name = "Ropeway", region = "europe", timezone = "Europe/Vienna" }
source = { kind = "house", system = "400Y/230" }
"""


def feeder(id_: str, fed_from: str, legs: str = "") -> str:
    """Write one feeder."""
    return f'[[feeder]]\nid = "{id_}"\nfed_from = "{fed_from}"\n' + (f"legs = {legs}\n" if legs else "")


def circuit(id_: str, fed_from: str, legs: str) -> str:
    """Write one circuit."""
    return (
        f'[[circuit]]\nid = "{id_}"\nfed_from = "{fed_from}"\nlegs = {legs}\nbreaker = {{ amps = 16, class = "C" }}\n'
    )


def parents_first(show: Show) -> bool:
    """Say whether every feeder stands after what feeds it."""
    seen = {SOURCE_ID}
    for one in show.feeders:
        if one.fed_from not in seen:
            return False
        seen.add(one.id)
    return True


def test_five_levels_in_any_order() -> None:
    """Tables in any order give the same show: parents first, legs handed down."""
    tables = [feeder("f1", "source"), feeder("f2", "f1", '["L2", "L3"]'), feeder("f3", "f2"), feeder("f4", "f3")]
    tables += [feeder("f5", "f4", '["L3"]'), circuit("c1", "f5", '["L3"]'), circuit("c2", "f2", '["L2", "L3"]')]
    order = random.Random(7)
    for _ in range(20):
        order.shuffle(tables)
        show = load(HEAD + "".join(tables))
        assert parents_first(show)
        assert {one.id: one.legs for one in show.feeders} == {
            "f1": ("L1", "L2", "L3"),
            "f2": ("L2", "L3"),
            "f3": ("L2", "L3"),
            "f4": ("L2", "L3"),
            "f5": ("L3",),
        }
        assert {one.id: one.breaker.poles for one in show.circuits} == {"c1": 1, "c2": 2}


def test_a_long_chain_written_backwards() -> None:
    """Depth has no limit of its own."""
    tables = [feeder(f"f{n}", f"f{n - 1}" if n else "source") for n in range(200)]
    show = load(HEAD + "".join(reversed(tables)))
    assert [one.id for one in show.feeders] == [f"f{n}" for n in range(200)]


def test_a_ring_of_three_is_one_fault() -> None:
    """The ring is named as a chain, once; what hangs below it is not blamed."""
    text = HEAD + feeder("x", "z") + feeder("y", "x") + feeder("z", "y") + feeder("below", "x")
    text += circuit("c", "below", '["L1"]')
    (fault,) = faults_of(text)
    assert fault.key == "feeder[1].fed_from"
    assert fault.line == 6
    assert "x from z, z from y, y from x" in fault.text


def test_two_rings_are_two_faults() -> None:
    """Each ring is told once."""
    text = HEAD + feeder("a", "b") + feeder("b", "a") + feeder("c", "c") + feeder("d", "a")
    assert [fault.key for fault in faults_of(text)] == ["feeder[1].fed_from", "feeder[3].fed_from"]


def test_a_wrong_parent_is_one_fault() -> None:
    """What hangs below a feeder that is fed from nothing is not blamed."""
    text = HEAD + feeder("a", "sauce") + feeder("b", "a", '["L1"]') + circuit("c", "b", '["L1"]')
    (fault,) = faults_of(text)
    assert (fault.key, fault.text) == ("feeder[1].fed_from", 'nothing is called "sauce"; did you mean "source"?')


def test_a_three_leg_circuit() -> None:
    """Three legs take three poles, or four where the neutral is switched too."""
    text = HEAD + circuit("c", "source", '["L1", "L2", "L3"]')
    assert load(text).circuits[0].breaker.poles == 3
    assert load(text.replace("amps = 16", "poles = 4, amps = 16")).circuits[0].breaker.poles == 4
    (fault,) = faults_of(text.replace("amps = 16", "poles = 1, amps = 16"))
    assert fault.text == "found 1, but this has 3 legs; must be 3 or 4"
