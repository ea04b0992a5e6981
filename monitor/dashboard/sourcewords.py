"""The source's figures over time in words: demand, energy, load, fuel; the same on screen and in print."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.dashboard import words

if TYPE_CHECKING:
    from monitor.engine.snapshot import Snapshot, SourceView
    from monitor.engine.told import FuelView, OutputView

_QUARTER_S = 900.0
_WHOLE = 0.98  # of the 15 minutes: less is told as less
_MINUTE_S, _HOUR_S, _DAY_S = 60, 3600, 86400
_LONG_H = 24 * 7.0
_NO_AMPS = 0.05  # [A]: less is shown as 0.0
NOT_TOLD = "not known here: this screen does not get the logger's own figures"


def unknown(snapshot: Snapshot) -> str:
    """Say why energy, demand and fuel are not known."""
    if not snapshot.logger.running:
        return "not known: the logger has stopped"
    return "not known: not every leg of the source has a meter" if snapshot.told else NOT_TOLD


def span(seconds: float) -> str:
    """Give a time [s] as ``40 s``, ``40 min``, ``3 h 10 min`` or ``2 d 3 h``, rounded down."""
    minutes = int(seconds // _MINUTE_S)
    if 0 < seconds < _MINUTE_S:
        return f"{int(seconds)} s"
    if seconds >= _DAY_S:
        return f"{int(seconds // _DAY_S)} d {int(seconds % _DAY_S // _HOUR_S)} h"
    return f"{minutes // 60} h {minutes % 60} min" if seconds >= _HOUR_S else f"{minutes} min"


def kilowatts(value: float | None) -> str:
    """Give kilowatts or kilovolt-amperes as ``13.1``."""
    return words.MISSING if value is None else f"{value:.1f}"


def demand_over(output: OutputView) -> str:
    """Say over how much of the last 15 minutes the demand is a mean: ``15 min``, or less."""
    whole = output.demand_covered_s >= _WHOLE * _QUARTER_S
    return "15 min" if whole else span(output.demand_covered_s)


def neutral(amps: float | None) -> str:
    """Say that the neutral has no meter, with the estimate [A] and its limit."""
    return "not measured" if amps is None else f"not measured; estimate {amps:.0f} A, harmonics not in it"


def energy(output: OutputView, timezone: str) -> str:
    """Say how much was given in how long, and the highest demand."""
    if not output.covered_s:
        return "nothing read yet"
    said = f"{output.energy_kwh:.1f} kWh in {span(output.covered_s)}"
    if output.highest_kw is None or output.highest_ms is None:
        return said
    at = words.moment(output.highest_ms, timezone)
    return f"{said}; highest demand {kilowatts(output.highest_kw)} kW at {at:%H:%M}"


def apart(source: SourceView) -> str:
    """Say how far the lowest leg's amps are below the highest's; empty where a leg is not live, or none carries any."""
    hot = [leg for leg in source.legs if leg.nominal_volts]
    known = [abs(leg.measured.amps) for leg in hot if leg.measured.live and leg.measured.amps is not None]
    if len(known) < max(2, len(hot)) or max(known) < _NO_AMPS:
        return ""
    return f"legs {100 * (max(known) - min(known)) / max(known):.0f} % apart"


def load(output: OutputView) -> str:
    """Say how it was loaded: mean, peak, and how long it ran at low and at high load."""
    if not output.covered_s:
        return ""
    mean = output.energy_kwh / output.covered_s * _HOUR_S
    said = f"mean {kilowatts(mean)}, peak {kilowatts(output.peak_kw)} kW"
    if output.low_s is None or output.high_s is None:
        return said
    said += f"; under 30 %: {span(output.low_s)}, over 80 %: {span(output.high_s)}"
    counted = output.low_net_s
    differs = counted is not None and abs(counted - output.low_s) >= _MINUTE_S
    return f"{said}; low load not made up for: {span(counted or 0.0)}" if differs else said


def tank(fuel: FuelView, snapshot: Snapshot) -> str:
    """Say how much is in the tank, that this is an estimate, and since when it is counted."""
    if fuel.litres is None:
        return unknown(snapshot)
    share = 100 * fuel.litres / fuel.tank_litres
    full = "" if fuel.since_ms is None else f"{'' if fuel.entered else 'if '}full at {clock(fuel.since_ms, snapshot)}"
    gap = f"{span(fuel.unknown_s)} unread not in it" if fuel.unknown_s >= _MINUTE_S else ""
    known = "estimate, by refuels too" if fuel.calibrated else "estimate"
    parts = (f"{known}: {fuel.litres:.0f} of {fuel.tank_litres:g} l, {share:.0f} %", full, gap)
    return ", ".join(part for part in parts if part)


def lasts(fuel: FuelView, snapshot: Snapshot) -> str:
    """Say until when it lasts, by both measures, and when the reserve is reached; empty where that is not known."""
    if fuel.litres is None:
        return ""
    if fuel.hours_mean is None and fuel.hours_worst is None:
        return "until when is not known before 10 min of load are read"
    until = [f"about {_until(fuel.hours_mean, snapshot)}"] if fuel.hours_mean is not None else []
    until += [f"at the worst hour's load {_until(fuel.hours_worst, snapshot)}"] if fuel.hours_worst is not None else []
    said = f"until {', '.join(until)}"
    if fuel.hours_reserve == 0:
        return f"{said}; at its reserve of {fuel.reserve_litres:.0f} l now"
    return said if fuel.hours_reserve is None else f"{said}; reserve {_until(fuel.hours_reserve, snapshot)}"


def clock(time_ms: int, snapshot: Snapshot) -> str:
    """Give a moment in the show's zone, with its date where it is another day's."""
    at, today = (words.moment(ms, snapshot.timezone) for ms in (time_ms, snapshot.time_ms))
    return f"{at:%H:%M}" if at.date() == today.date() else f"{at:%m-%d %H:%M}"


def _until(hours: float, snapshot: Snapshot) -> str:
    if hours > _LONG_H:
        return "more than a week"
    if hours <= 0:
        return "now"
    at = words.moment(snapshot.time_ms + round(hours * _HOUR_S * 1000), snapshot.timezone)
    return f"{at:%H:%M}" if hours < _DAY_S / _HOUR_S else f"{at:%a %H:%M}"
