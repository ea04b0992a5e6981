"""Incidents and steps told by the commands alone, from readings that a solved network gives (``network.py``: computed).

What each scene should be told as follows from trade practice (common practice, no source): open neutral, legs apart;
open leg, one leg gone; a dip of others as a circuit opens, a fault; the rest in each test.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from click.testing import CliRunner

from monitor.cli.main import main
from tests.outside.network import BREAK, Network

if TYPE_CHECKING:
    from pathlib import Path


def reviewed(net: Network, folder: Path, noise: float = 0.1) -> dict[str, Any]:
    """Replay the network's readings and give what ``review --json`` tells."""
    (folder / "show.toml").write_text(net.show())
    (folder / "r.csv").write_text(net.rows(noise=noise))
    log = str(folder / "l.sqlite")
    done = CliRunner().invoke(main, ["replay", str(folder / "show.toml"), str(folder / "r.csv"), "--log", log])
    assert done.exit_code == 0, done.output
    told: dict[str, Any] = json.loads(CliRunner().invoke(main, ["review", log, "--json"]).stdout)
    return told


def only(told: dict[str, Any]) -> tuple[str, str]:
    """Give kind and place of the one incident."""
    assert len(told["incidents"]) == 1, [(one["kind"], one["points"]) for one in told["incidents"]]
    one = told["incidents"][0]
    return one["kind"], one["points"][0].split("/")[0]


def set_of(system: str, seconds: int = 240, seed: int = 1, pace_s: float = 1.0, *, metered: bool = True) -> Network:
    """Give a usual set: two boxes on the source, three circuits each, unequal loads."""
    net = Network(system, seconds, seed, pace_s)
    for box in ("west", "east"):
        net.box(box, metered=metered)
        for n, leg in enumerate((*net.legs, *net.legs)[:3]):
            net.circuit(f"{box[0]}{n + 1}", box, leg, (1500.0, 600.0, 900.0)[n])
    return net


@pytest.mark.parametrize("system", ["120/240", "208Y/120", "400Y/230"])
def test_an_open_neutral_of_a_box(system: str, tmp_path: Path) -> None:
    """The box's legs drift apart, the source's stay: a lost neutral there, and nothing told beside it."""
    net = set_of(system)
    net.more["west", "N"] = BREAK * net.since(150)
    assert only(reviewed(net, tmp_path)) == ("lost-neutral", "west")


def test_an_open_neutral_where_two_of_three_legs_are_read(tmp_path: Path) -> None:
    """One leg far up as the other sinks is no run and no source."""
    net = set_of("208Y/120", metered=False)
    net.circuit("w3", "west", "L2", 500.0)
    net.circuits["w2"].watts = np.zeros(len(net.time)) + 300.0
    net.more["west", "N"] = BREAK * net.since(150)
    assert only(reviewed(net, tmp_path)) == ("lost-neutral", "west")


def test_an_open_neutral_of_the_source_over_boxes_read_in_part(tmp_path: Path) -> None:
    """What moves the same way at the same time under another box lies under the same break."""
    net = set_of("208Y/120", metered=False)
    del net.circuits["e3"]
    net.more["source", "N"] = BREAK * net.since(150)
    assert only(reviewed(net, tmp_path)) == ("lost-neutral", "source")


@pytest.mark.parametrize("metered", [True, False])
def test_an_open_leg_under_a_load_between_legs(tmp_path: Path, *, metered: bool) -> None:
    """A load between the legs sinks to half as one leg goes: it belongs to the loss of that leg."""
    net = set_of("120/240", metered=metered)
    net.circuits["w3"].watts *= 0.0
    net.circuit("w4", "west", "L1 L2", 40.0)
    net.more["west", "L1"] = BREAK * net.since(150)
    kind, place = only(reviewed(net, tmp_path))
    assert (kind, place) == ("lost-leg", "west")


@pytest.mark.parametrize("pace_s", [0.5, 1.0])
def test_a_fault_that_one_sample_shows(pace_s: float, tmp_path: Path) -> None:
    """Others sag for one sample as the circuit opens, whether that is the last sample of its second or not."""
    net = set_of("120/240", pace_s=pace_s)
    at = int(150 / pace_s)
    net.circuits["w1"].open = net.since(at * pace_s)
    net.circuits["w1"].watts[at - 1] = 12_000.0
    assert only(reviewed(net, tmp_path)) == ("fault-trip", "w1")


def test_an_opening_without_any_sign(tmp_path: Path) -> None:
    """Nothing before it and nothing beside it: the cause is not shown."""
    net = set_of("400Y/230")
    net.circuits["e1"].open = net.since(150)
    assert only(reviewed(net, tmp_path)) == ("opened-cause-not-shown", "e1")


def test_an_overloaded_source_is_told_once(tmp_path: Path) -> None:
    """Volts fall out of their limits a little before the hertz are judged: still one incident."""
    net = set_of("120/240")
    net.rated_kw = 5.2
    fall = np.clip((net.time - 122) / 4, 0, 1)
    for name in ("e1", "e2", "e3"):
        net.circuits[name].watts = net.circuits[name].watts * net.since(118)
    net.hertz -= 2.4 * fall
    net.volts = {leg: volts * (1 - 0.06 * fall) for leg, volts in net.volts.items()}
    assert only(reviewed(net, tmp_path))[0] == "source-overload"


def test_hunting_hertz_against_what_they_did_before(tmp_path: Path) -> None:
    """Half a hertz of hunting at an unchanged load, where there was none, though the show names no class."""
    net = set_of("120/240", pace_s=3.0)
    net.hertz += 0.7 * np.sin(net.time * 2 * np.pi / 7.3) * net.since(130)
    assert only(reviewed(net, tmp_path))[0] == "fuel-or-governor"


def test_volts_that_rise_later_are_no_other_service(tmp_path: Path) -> None:
    """An idle circuit stood at its planned volts first: 14 % more for all a minute later is the source's doing."""
    net = set_of("400Y/230", 150)
    net.circuits["w1"].watts *= 0.0
    net.volts = {leg: volts * (1 + 0.14 * net.since(60)) for leg, volts in net.volts.items()}
    assert only(reviewed(net, tmp_path))[0] == "overvoltage"


def test_too_many_volts_before_any_load(tmp_path: Path) -> None:
    """Every leg 18 % high at first power and nothing on: outside the plan, whatever service it is."""
    net = set_of("120/240", 150)
    for branch in net.circuits.values():
        branch.watts *= 0.0
    net.volts = {leg: volts * 1.18 * net.since(20) for leg, volts in net.volts.items()}
    assert only(reviewed(net, tmp_path))[0] == "wrong-service"


def test_a_joint_that_lowers_the_volts_of_a_box_further_down(tmp_path: Path) -> None:
    """The run to the first box gets worse; the second box, fed from it, is low because of that: one incident."""
    net = Network("120/240", 600, 3)
    net.box("near")
    net.box("far", "near")
    for n, box in enumerate(("near", "far")):
        net.circuit(f"c{n}", box, "L1", 1700.0)
        net.circuit(f"d{n}", box, "L2", 1700.0)
    net.more["near", "L1"] = 0.12 * np.clip((net.time - 250) / 100, 0, 1)
    assert only(reviewed(net, tmp_path)) == ("resistance-rise", "near")


def test_a_working_day_has_no_incident(tmp_path: Path) -> None:
    """Switching, a thermostat, a fade and all loads off for a while."""
    net = set_of("208Y/120", 600)
    works = 1 - net.since(300) * (1 - net.since(420))
    for name, branch in net.circuits.items():
        branch.watts = branch.watts * works
        if name == "w1":
            branch.watts = branch.watts * ((net.time // 40) % 2)
        if name == "e1":
            branch.watts = branch.watts * np.clip(0.6 + 0.4 * np.sin(net.time / 30), 0, 1)
    assert reviewed(net, tmp_path)["incidents"] == []


@pytest.mark.parametrize(("cut_s", "pace_s"), [(200, 1.0), (200, 2.0), (135, 1.0)])
def test_a_load_that_warms_up_is_named(cut_s: int, pace_s: float, tmp_path: Path) -> None:
    """From half its watts to all of them in a minute, with another load coming on after it or meanwhile."""
    net = Network("120/240", 300, 5, pace_s)
    net.box("west")
    arc = 1200.0 * np.clip(0.5 + 0.5 * (net.time - 100) / 60, 0, 1) * net.since(100)
    plan = '{ name = "Arc", watts = 1200 }, { name = "Lamp", watts = 500, kind = "resistive" }'
    net.circuit("w1", "west", "L1", arc + 500.0 * net.since(cut_s), plan)
    net.circuits["w1"].watts *= 1 - net.since(270)
    told = reviewed(net, tmp_path)
    assert [step["pieces"] for step in told["steps"][:2]] == [["Arc"], ["Lamp"]]
    assert set(told["steps"][-1]["pieces"]) <= {"Arc", "Lamp"}
