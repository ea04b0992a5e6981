"""The volts of a place's legs, also as an open neutral leaves them: one reads nothing, another far too much."""

from __future__ import annotations

from statistics import median
from typing import TYPE_CHECKING

from monitor.alarms.conditions.tracks import Service

if TYPE_CHECKING:
    from monitor.alarms.conditions.known import Known
    from monitor.alarms.conditions.layout import Place

_FAR_HIGH = 1.2  # of nominal: a leg beyond it tells that one without volts is no row of open breakers (a judgement)


def legs_read(known: Known, place: Place) -> list[float] | None:
    """Give the volts of every leg of a place from last samples [V]; None unless all are known.

    Where a leg is read by its circuits and all of these have lost their volts, it is taken to have none only while
    another leg stands far too high: all its load on one leg, with the neutral open. Else they may just be switched off.
    """
    volts = [known.leg_volts(place, leg, settled=False) for leg in place.legs]
    if None in volts:
        high = max((v for v in volts if v is not None), default=0.0)
        if high < _FAR_HIGH * known.layout.leg_volts:
            return None
        volts = [_gone(known, place, leg) if v is None else v for leg, v in zip(place.legs, volts, strict=True)]
    found = [v for v in volts if v is not None]
    return found if len(found) == len(volts) else None


def _gone(known: Known, place: Place, leg: str) -> float | None:
    tracks = [known.tracks[point] for circuit in place.circuits for at, point in circuit.on_leg if at == leg]
    gone = [track.volts for track in tracks if track.service is Service.GONE and track.volts is not None]
    return median(gone) if gone else None
