"""A Snapshot as it may be shown: nothing counts as live once the logger behind it has stopped."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from monitor.engine.snapshot import Freshness
from monitor.engine.told import FuelView

if TYPE_CHECKING:
    from monitor.engine.snapshot import CircuitView, LegView, Measured, Snapshot, SourceView
    from monitor.engine.told import BusView


def as_shown(snapshot: Snapshot) -> Snapshot:
    """Give the Snapshot with every live value marked old while its logger is not running."""
    if snapshot.logger.running:
        return snapshot
    age_s = snapshot.logger.last_commit_age_s
    return replace(
        snapshot,
        source=_source(snapshot.source, age_s),
        feeders=tuple(replace(feeder, legs=_legs(feeder.legs, age_s)) for feeder in snapshot.feeders),
        circuits=tuple(_circuit(circuit, age_s) for circuit in snapshot.circuits),
        buses=tuple(_bus(bus, age_s) for bus in snapshot.buses),
        told=False,
    )


def _source(source: SourceView, age_s: float | None) -> SourceView:
    """Give the source without any figure that has gone on since."""
    return replace(
        source,
        legs=_legs(source.legs, age_s),
        hertz=None,
        kilowatts=None,
        percent=None,
        kva=None,
        kva_percent=None,
        neutral_estimate_amps=None,
        output=None,
        fuel=None if source.fuel is None else FuelView(source.fuel.tank_litres, source.fuel.reserve_litres),
    )


def _bus(bus: BusView, age_s: float | None) -> BusView:
    """Give a bus of whose meters nothing is known at present."""
    meters = tuple(
        replace(meter, latest=replace(_old(meter.latest, age_s), quality=None, detail=""), counts=None)
        for meter in bus.meters
    )
    return replace(bus, meters=meters, is_open=None, problem="")


def _legs(legs: tuple[LegView, ...], age_s: float | None) -> tuple[LegView, ...]:
    return tuple(replace(leg, measured=_old(leg.measured, age_s), circuits_amps=None, percent=None) for leg in legs)


def _circuit(circuit: CircuitView, age_s: float | None) -> CircuitView:
    by_leg = tuple((leg, _old(measured, age_s)) for leg, measured in circuit.by_leg)
    measured = _old(circuit.measured, age_s)
    bare = replace(circuit, over_plan_amps=None, percent=None, heat=None, over_minute_amps=None)
    return replace(bare, measured=measured, by_leg=by_leg)


def _old(measured: Measured, age_s: float | None) -> Measured:
    """Mark values old, at least as old as the log's last sign of life."""
    if measured.freshness not in {Freshness.LIVE, Freshness.OLD}:
        return measured
    aged = replace(measured, freshness=Freshness.OLD, age_s=max(measured.age_s or 0.0, age_s or 0.0))
    return replace(aged, quality=None, detail="the logger has stopped") if measured.live else aged
