"""Invented incidents by the hundred: what went wrong, where, and what the meters showed of it.

The wires are those of ``tests/support/days/rig`` (phasors, Kirchhoff's laws by NumPy, apart from ``monitor``), here
with a source that has an impedance. Meters are read one after another at their own pace, flutter, lose polls, average
over the change, and catch a fault's sag only in part. What is expected follows from what was broken, never from the
finder.
"""

from __future__ import annotations

from dataclasses import replace
from math import sin
from typing import TYPE_CHECKING

from monitor.incidents.model import Kind
from monitor.show.model import Load
from tests.monitor.incidents.sceneday import AT, SEVERAL, Maker, Scene
from tests.support.days.day import Day
from tests.support.days.rig import Rig, Running
from tests.support.days.scripts import heater, opened, run
from tests.support.days.sets import powered_from

if TYPE_CHECKING:
    from collections.abc import Callable
    from random import Random

    from monitor.show.model import Show
    from tests.monitor.incidents.sceneday import SceneDay
    from tests.support.days.day import Act, Day
    from tests.support.days.sets import Tap


def _trip(day: SceneDay, second: int, circuit: str, random: Random) -> None:
    """Let a circuit open, perhaps within a meter's window."""
    if random.random() < 0.3:
        day.at(second - 1, lambda d: d.partial.add(circuit))  # type: ignore[attr-defined]
        day.at(second, lambda d: d.partial.discard(circuit))  # type: ignore[attr-defined]
    day.at(second, opened(circuit))


def _overload(m: Maker, tap: Tap) -> Scene:
    show = m.show(tap=tap)
    day, circuit = m.day(show, (1, 1, 2)), m.circuit(show)
    c = next(c for c in show.circuits if c.id == circuit)
    times, lasts = m.random.choice(((1.2, 300), (1.2, 150), (1.35, 200), (1.5, 90), (1.7, 80), (2.2, 75)))
    nominal = 120 if show.region == "north-america" else 230
    planned = sum(load.watts * load.count for load in c.load)
    day.at(AT, heater(circuit, times * c.breaker.amps * nominal - planned))
    _trip(day, AT + lasts, circuit, m.random)
    return Scene(f"overload {times} {tap}", (Kind.OVERLOAD_TRIP,), (circuit,), day, AT + lasts + 30, AT + lasts)


def overload_load(m: Maker) -> Scene:
    """An overload trips a circuit whose volts are taken behind the breaker."""
    return _overload(m, "load")


def overload_line(m: Maker) -> Scene:
    """The same where they are taken before it."""
    return _overload(m, "line")


def fault(m: Maker) -> Scene:
    """A short: neighbours on the leg sag for the moment that it takes."""
    show = m.show()
    day, circuit = m.day(show, (1,)), m.circuit(show)
    leg = next(c.legs[0] for c in show.circuits if c.id == circuit)
    deep = m.random.uniform(0.08, 0.4)
    day.at(AT - 1, lambda d: d.sag.update({leg: deep}))  # type: ignore[attr-defined]
    day.at(AT, lambda d: d.sag.clear())  # type: ignore[attr-defined]
    day.at(AT, opened(circuit))
    return Scene("fault", (Kind.FAULT_TRIP,), (circuit,), day, AT + 30)


def by_hand(m: Maker) -> Scene:
    """A loaded circuit opens and nothing shows why."""
    show = m.show()
    day, circuit = m.day(show), m.circuit(show)
    _trip(day, AT, circuit, m.random)
    return Scene("opened", (Kind.OPENED_CAUSE_NOT_SHOWN,), (circuit,), day, AT + 30)


def near_rating(m: Maker) -> Scene:
    """It stood just under its rating, then it opens: not shown."""
    show = m.show()
    day, circuit = m.day(show), m.circuit(show)
    c = next(c for c in show.circuits if c.id == circuit)
    nominal = 120 if show.region == "north-america" else 230
    planned = sum(load.watts * load.count for load in c.load)
    day.at(AT, heater(circuit, m.random.uniform(0.85, 0.97) * c.breaker.amps * nominal - planned))
    _trip(day, AT + 100, circuit, m.random)
    return Scene("near rating", (Kind.OPENED_CAUSE_NOT_SHOWN,), (circuit,), day, AT + 130, AT + 100)


def line_side(m: Maker) -> Scene:
    """A modest load goes on a line-side tap: a step, no incident."""
    show = m.show(tap="line")
    day, circuit = m.day(show), m.circuit(show)
    day.at(AT, opened(circuit))
    return Scene("line-side opening", (), (circuit,), day, AT + 40)


def own_power(m: Maker) -> Scene:
    """A meter takes its power from the circuit that it watches, and that opens."""
    show = m.show(metering=("circuits", "source"))
    meter = m.random.choice([meter for meter in show.meters if meter.bus == "line"])
    circuit = meter.points[0][1].place
    show = powered_from(show, meter.unit, circuit)
    day = m.day(show)

    def act(d: Day) -> None:
        d.silent.add(f"{meter.bus}:{meter.unit}")
        d.rig.opened.add(circuit)

    day.at(AT, act)
    return Scene("own power", (Kind.OPENED_CAUSE_NOT_SHOWN, Kind.METER_SILENT), (circuit,), day, AT + 40)


def box(m: Maker) -> Scene:
    """A box loses its feed."""
    show = m.show()
    day = m.day(show)
    where = m.random.choice(show.feeders).id
    conductors = "* N" if m.random.random() < 0.5 else "*"
    day.at(AT, run(where, conductors if show.source.system != "230" else conductors.replace("*", "L1")))
    return Scene("box", (Kind.UPSTREAM_LOSS,), (where, f"{where}/L1"), day, AT + 30)


def stopped(m: Maker) -> Scene:
    """The source stops with everything on."""
    show = m.show()
    day = m.day(show)

    def dead(d: Day) -> None:
        d.dead = True

    day.at(AT, dead)
    return Scene("stopped", (Kind.SOURCE_STOPPED,), ("source", "source/L1"), day, AT + 30)


def _rated(show: Show, share: float) -> Show:
    """Give the show a source of which its planned load is a share."""
    planned = sum(load.watts * load.count for c in show.circuits for load in c.load) / 1000
    source = replace(show.source, rated_kw=planned / share, rated_kva=planned / share * 1.25)
    return replace(show, source=replace(source, amps_per_leg=None))


def overloaded(m: Maker) -> Scene:
    """More load than the set can give: hertz and volts fall together."""
    show = m.show(kind="generator")
    show = _rated(show, m.random.uniform(1.05, 1.25))
    if show.source.governor == "inverter":
        show = replace(show, source=replace(show.source, rated_kva=(show.source.rated_kw or 1.0)))
    day = m.day(show, (1,))
    hertz, volts = -m.random.uniform(0.03, 0.08), 1 - m.random.uniform(0.05, 0.12)

    def sink(d: Day) -> None:
        d.hertz_off = 0.0 if show.source.governor == "inverter" else hertz
        for leg in d.rig.legs:
            d.rig.emf[leg] = volts

    day.at(AT, sink)
    return Scene("source overload", (Kind.SOURCE_OVERLOAD,), ("source", "source/L1"), day, AT + 40)


def starving(m: Maker) -> Scene:
    """Air in the fuel: hertz hunt and sink at the same load, and it stops or doesn't."""
    show = m.show(kind="generator")
    show = replace(
        _rated(show, m.random.uniform(0.3, 0.7)), source=replace(_rated(show, 0.5).source, governor="isochronous")
    )
    day = m.day(show, (1,))
    random, stops = m.random, m.random.random() < 0.6
    size, pace = random.uniform(0.015, 0.035), random.uniform(1.5, 3.5)
    lasts = random.randint(12, 40)

    def hunt(second: int) -> Act:
        def act(d: Day) -> None:
            deep = second / lasts
            d.hertz_off = size * (0.4 + deep) * sin(second / pace * 3.1) - 0.1 * deep**3
            d.volts_off = 1 - 0.06 * deep**3

        return act

    for second in range(lasts):
        day.at(AT + second, hunt(second))

    def end(d: Day) -> None:
        if stops:
            d.dead = True
        else:
            d.hertz_off, d.volts_off = -0.08, 0.97

    day.at(AT + lasts, end)
    return Scene("starving", (Kind.FUEL_OR_GOVERNOR,), ("source", "source/L1"), day, AT + lasts + 40)


def low_hertz(m: Maker) -> Scene:
    """The governor sits wrong: hertz off at a modest load."""
    show = m.show(kind="generator")
    show = replace(show, source=replace(_rated(show, 0.5).source, governor=m.random.choice(("isochronous", "droop"))))
    day = m.day(show)
    least = 0.11 if show.source.governor == "droop" else 0.05  # a droop of 8 % is within class G1
    off = m.random.choice((-1, 1)) * m.random.uniform(least, 0.13)
    day.at(AT, lambda d: setattr(d, "hertz_off", off))
    return Scene("hertz off", (Kind.FUEL_OR_GOVERNOR,), ("source", "source/L1"), day, AT + 45)


def _emf(day: Day, part: float, legs: tuple[str, ...] = ()) -> None:
    for leg in legs or day.rig.legs:
        day.rig.emf[leg] = part


def high(m: Maker) -> Scene:
    """All volts high together."""
    show = m.show()
    day = m.day(show)
    least = 1.08 if show.region == "north-america" else 1.14
    part = m.random.uniform(least, 1.22)
    day.at(AT, lambda d: _emf(d, part))
    return Scene("high", (Kind.OVERVOLTAGE,), ("source", "source/L1"), day, AT + 40)


def low(m: Maker) -> Scene:
    """All volts low together."""
    show = m.show()
    day = m.day(show)
    most = 0.925 if show.region == "north-america" else 0.87
    part = m.random.uniform(0.75, most)
    day.at(AT, lambda d: _emf(d, part))
    return Scene("low", (Kind.UNDERVOLTAGE_SOURCE,), ("source", "source/L1"), day, AT + 45)


def long_run(m: Maker) -> Scene:
    """A box at the end of a long run: more load pulls it below its limit while the rest of the set stands."""
    show = m.show(metering=("circuits", "source", "all"))
    where = m.random.choice(show.feeders).id
    watts = 900.0 if show.region == "north-america" else 1900.0
    circuits = [c.id for c in show.circuits if c.fed_from == where and len(c.legs) == 1]
    limit = (0.945 if show.region == "north-america" else 0.895) - m.random.uniform(0.003, 0.02)
    ohms = _ohms(show, where, limit, dict.fromkeys(circuits, watts))
    far = tuple(
        replace(f, cable=replace(f.cable, metres=ohms / 0.0009)) if f.id == where and f.cable else f
        for f in show.feeders
    )
    day = m.day(replace(show, feeders=far))
    for circuit in circuits:
        day.at(AT, heater(circuit, watts))
    wanted = (Kind.UNDERVOLTAGE_RUN,)
    return Scene(
        "long run", wanted, (where, f"{where}/L1", *circuits, *(f"{where}/{c}" for c in day.rig.legs)), day, AT + 45
    )


def worn_run(m: Maker) -> Scene:
    """A run gets so much worse at once that its far end is low."""
    show = m.show(metering=("circuits", "source", "all"))
    where = m.random.choice(show.feeders).id
    limit = (0.95 if show.region == "north-america" else 0.90) - m.random.uniform(0.008, 0.04)
    day = m.day(show)
    legs = "* N" if show.source.system != "230" else "L1 N"
    day.at(AT, run(where, legs, _ohms(show, where, limit, {})))
    circuits = [c.id for c in show.circuits if c.fed_from == where]
    return Scene("worn run", (Kind.UNDERVOLTAGE_RUN,), (where, f"{where}/L1", *circuits), day, AT + 45)


def _ohms(show: Show, where: str, part: float, heaters: dict[str, float]) -> float:
    """Give the resistance of a run's conductors that brings its highest leg to a part of nominal [ohm]."""
    rig = Rig(show)
    for c in show.circuits:
        rig.on[c.id] = {load.name: Running(load) for load in c.load}
    for circuit, watts in heaters.items():
        rig.on[circuit]["heater"] = Running(Load("heater", watts, kind="resistive"))
    short, long_ = 0.005, 5.0
    for _ in range(30):
        ohms = (short * long_) ** 0.5
        for conductor in (*rig.legs, "N"):
            rig.ohms[where, conductor] = ohms
        points = rig.solve()
        highest = float(max(abs(points[f"{where}/{leg}"][0]) for leg in rig.legs)) / rig.nominal
        short, long_ = (ohms, long_) if highest > part else (short, ohms)
    return float(ohms)


def neutral(m: Maker) -> Scene:
    """A neutral opens, at the source or at a box, with the legs unlike."""
    show = m.show(systems=SEVERAL)
    day = m.day(show)
    where = m.random.choice(("source", *(f.id for f in show.feeders)))
    under = [c for c in show.circuits if len(c.legs) == 1 and (where in (c.fed_from, "source"))]
    leg = m.random.choice(day.rig.legs)
    keep = m.random.uniform(0.0, 0.5)
    for c in under:
        if c.legs[0] == leg and m.random.random() > keep:
            day.at(AT - 60, lambda d, i=c.id: d.rig.on[i].clear())  # type: ignore[misc]
    ohms = m.random.choice((1e7, 1e7, 20.0, 5.0))
    day.at(AT, run(where, "N", ohms))
    return Scene("neutral", (Kind.LOST_NEUTRAL,), (where,), day, AT + 30)


def leg(m: Maker) -> Scene:
    """One leg is lost, at the source or at a box."""
    show = m.show(systems=SEVERAL)
    day = m.day(show)
    where = m.random.choice(("source", *(f.id for f in show.feeders)))
    which = m.random.choice(day.rig.legs)
    day.at(AT, run(where, which))
    metered = any(p.place == where for p in show.points())
    under = [c for c in show.circuits if c.legs == (which,) and where in ("source", c.fed_from)]
    if len(under) < 2 and not metered:  # one circuit alone reads that leg: the log can't tell
        return Scene("leg", (Kind.OPENED_CAUSE_NOT_SHOWN, Kind.LOST_LEG), (under[0].id,), day, AT + 30)
    return Scene("leg", (Kind.LOST_LEG,), (f"{where}/{which}",), day, AT + 30)


def joint(m: Maker) -> Scene:
    """A joint gets worse over minutes at the same load."""
    show = m.show(metering=("source", "all"))
    day = m.day(show, (1, 2))
    where = m.random.choice(show.feeders).id
    conductor = m.random.choice(day.rig.legs)
    base = day.rig.ohms[where, conductor]
    rig = Rig(show)
    for c in show.circuits:
        rig.on[c.id] = {load.name: Running(load) for load in c.load}
    amps = abs(rig.solve()[f"{where}/{conductor}"][1])
    # So many watts in the joint at the end; the drop in it stays below a tenth of the volts.
    grown = min(m.random.uniform(60, 250) / amps**2, 0.09 * rig.nominal / amps)
    lasts = m.random.choice((120, 300, 600))

    def worse(part: float) -> Act:
        return lambda d: d.rig.ohms.__setitem__((where, conductor), base + grown * part)

    for n in range(20):
        day.at(AT + 120 + n * lasts // 20, worse((n + 1) / 20))
    return Scene("joint", (Kind.RESISTANCE_RISE,), (where, f"{where}/{conductor}"), day, AT + 120 + lasts + 400)


def service(m: Maker) -> Scene:
    """Another service at first power, with nothing on."""
    show = m.show(metering=("source", "all", "circuits"))
    day = m.day(show)
    for second in list(day._acts):
        del day._acts[second]
    part = m.random.choice(
        (208 / 120, 230 / 120, 2.0, 277 / 120) if show.region == "north-america" else (120 / 230, 400 / 230, 0.552)
    )
    for conductor in day.rig.legs:
        day.rig.emf[conductor] = part * m.random.uniform(0.99, 1.01)
    day.dead = m.random.random() < 0.7

    def power(d: Day) -> None:
        d.dead = False

    day.at(30, power)
    return Scene("service", (Kind.WRONG_SERVICE,), ("source", "source/L1"), day, 90, 30 if day.dead else 0)


def hush(m: Maker) -> Scene:
    """One meter says nothing any more."""
    show = m.show()
    day = m.day(show)
    meter = m.random.choice(show.meters)
    day.at(AT, lambda d: d.silent.add(f"{meter.bus}:{meter.unit}"))
    return Scene("hush", (Kind.METER_SILENT,), tuple(str(p) for _, p in meter.points), day, AT + 40)


MAKERS: tuple[Callable[[Maker], Scene], ...] = (
    overload_load, overload_line, fault, by_hand, near_rating, line_side, own_power, box, stopped, overloaded, starving,
    low_hertz, high, low, long_run, worn_run, neutral, leg, joint, service, hush,
)  # fmt: skip
