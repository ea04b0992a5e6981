"""What is no fault in a show file and still worth telling before power."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from monitor.show.model import SOURCE_ID, Point

if TYPE_CHECKING:
    from collections.abc import Iterator

    from monitor.show.model import Show


@dataclass(frozen=True, slots=True)
class Remark:
    """One thing worth telling.

    Attributes:
        where: a circuit, feeder or bus id, ``source``, or ``BUS unit N`` for a meter.
        text: one plain sentence.

    """

    where: str
    text: str


def remarks(show: Show) -> tuple[Remark, ...]:
    """Give everything worth telling about ``show``."""
    return (*_source(show), *_feeders(show), *_circuits(show), *_buses(show), *_meters(show))


def _source(show: Show) -> Iterator[Remark]:
    measured = set(show.points())
    missing = [leg for leg in show.source.legs if Point(SOURCE_ID, leg) not in measured]
    if missing:
        legs = " and ".join(missing)
        yield Remark(SOURCE_ID, f"no meter measures {legs}: its load is known only from what is measured below it")
    if show.source.amps_per_leg is None:
        yield Remark(SOURCE_ID, "amps_per_leg is not given: its legs have no limit to be compared with")


def _feeders(show: Show) -> Iterator[Remark]:
    fed = {feeder.fed_from for feeder in show.feeders} | {circuit.fed_from for circuit in show.circuits}
    for feeder in show.feeders:
        if feeder.id not in fed:
            yield Remark(feeder.id, "feeds nothing")


def _circuits(show: Show) -> Iterator[Remark]:
    measured = set(show.points())
    for circuit in show.circuits:
        by_leg = [leg for leg in circuit.legs if Point(circuit.id, leg) in measured]
        missing = [leg for leg in circuit.legs if leg not in by_leg]
        if Point(circuit.id) not in measured and not by_leg:
            yield Remark(circuit.id, "no meter measures it")
        elif by_leg and missing:
            yield Remark(circuit.id, f"measured on {' and '.join(by_leg)}, but not on {' and '.join(missing)}")
        if any(load.kind == "motor" for load in circuit.load) and "motor" not in circuit.tags:
            yield Remark(circuit.id, 'has a motor in its load, but not the tag "motor": its starts may alarm')


def _buses(show: Show) -> Iterator[Remark]:
    meters = Counter(meter.bus for meter in show.meters)
    old_after = show.settings["old_after_seconds"]
    for bus in show.buses:
        if not meters[bus.id]:
            yield Remark(bus.id, "has no meter")
        elif bus.interval_s >= old_after:
            polled = f"polled every {bus.interval_s:g} s, while readings count as old after {old_after:g} s"
            yield Remark(bus.id, f"{polled}: raise old_after_seconds above that")


def _meters(show: Show) -> Iterator[Remark]:
    for meter in show.meters:
        if meter.powered_from != SOURCE_ID and any(point.place == meter.powered_from for _, point in meter.points):
            text = (
                f"powered from {meter.powered_from}, which it measures: when that loses power this meter falls silent"
            )
            yield Remark(f"{meter.bus} unit {meter.unit}", f"{text}, and the log can't tell the one from the other")
