"""The plain and JSON twins of the source's and the meters' screens. Loads no Textual."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from monitor.dashboard import meterwords, sourcewords, words

if TYPE_CHECKING:
    from monitor.engine.snapshot import Measured, Snapshot
    from monitor.engine.told import BusView, HeatView, MeterView


def source_texts(shown: Snapshot) -> list[str]:
    """Give what the source's screen says besides its legs: kVA, neutral, demand, energy, load, fuel."""
    source, output, fuel = shown.source, shown.source.output, shown.source.fuel
    texts = []
    if source.kva is not None:
        of = "" if source.rated_kva is None else f" of {source.rated_kva:g} kVA, {words.percent(source.kva_percent)}"
        texts.append(f"{sourcewords.kilowatts(source.kva)} kVA{of}")
    if source.neutral_estimate_amps is not None:
        texts.append(f"N {sourcewords.neutral(source.neutral_estimate_amps)}")
    apart = sourcewords.apart(source)
    texts.append(apart)
    if output is None:
        texts.append(f"energy and demand: {sourcewords.unknown(shown)}")
    else:
        over = sourcewords.demand_over(output)
        demand = "no readings in the last 15 min" if output.demand_kw is None else f"{output.demand_kw:.1f} kW ({over})"
        texts.append(f"demand: {demand}")
        texts.append(f"energy: {sourcewords.energy(output, shown.timezone)}")
        texts.append(f"load: {sourcewords.load(output)}" if output.covered_s else "")
    if fuel is not None:
        texts += [f"fuel: {sourcewords.tank(fuel, shown)}", sourcewords.lasts(fuel, shown)]
    return [text for text in texts if text]


def meter_texts(shown: Snapshot) -> list[str]:
    """Give every bus, then its meters, and what to look at where one does not answer."""
    texts = []
    for bus in shown.buses:
        parts = [f"Bus {bus.id}, {bus.where}, {bus.protocol}", meterwords.rate(bus), meterwords.busy(bus)]
        texts.append("; ".join(part for part in (*parts, meterwords.whole_bus(bus)) if part))
        texts += [f"  {_meter_text(meter, bus)}" for meter in bus.meters]
    return texts


def _meter_text(meter: MeterView, bus: BusView) -> str:
    counts, latest = meter.counts, meter.latest
    said = f"unit {meter.unit} {meter.map}: {meterwords.state(latest)}"
    said += "" if latest.age_s is None else f", {words.age(latest.age_s)} old"
    if counts is not None:
        median, worst = meterwords.latency(counts)
        said += f"; {meterwords.good_share(counts)} % of {counts.polls} polls good, {median} ms, worst {worst} ms"
        said += f"; retries {counts.retries}, faults {meterwords.faults(counts)}"
    todo = meterwords.why_dark(meter, bus)
    return said + (f". {todo}" if todo else "")


def source_data(shown: Snapshot) -> dict[str, Any]:
    """Give the same as plain data; times as in the rest of the JSON."""
    source = shown.source
    output = None if source.output is None else asdict(source.output)
    fuel = None if source.fuel is None else asdict(source.fuel)
    if output is not None:
        output["highest"] = _iso(output.pop("highest_ms"), shown)
    if fuel is not None:
        fuel["since"] = _iso(fuel.pop("since_ms"), shown)
    return {
        "kind": source.kind,
        "kva": source.kva,
        "rated_kva": source.rated_kva,
        "kva_percent": source.kva_percent,
        "neutral_estimate_amps": source.neutral_estimate_amps,
        "output": output,
        "fuel": fuel,
    }


def buses_data(shown: Snapshot) -> list[dict[str, Any]]:
    """Give the buses with their meters as plain data; ``counts`` is null where they are not known."""
    return [
        {
            "id": bus.id,
            "where": bus.where,
            "protocol": bus.protocol,
            "interval_s": bus.interval_s,
            "timeout_s": bus.timeout_s,
            "is_open": bus.is_open,
            "problem": bus.problem,
            "meters": [_meter_data(meter) for meter in bus.meters],
        }
        for bus in shown.buses
    ]


def heat_data(heat: HeatView | None) -> dict[str, float | None] | None:
    """Give the heat of a breaker as plain data; None where it is not known."""
    return None if heat is None else asdict(heat)


def _meter_data(meter: MeterView) -> dict[str, Any]:
    counts = None
    if meter.counts is not None:
        counts = asdict(meter.counts) | {"faults": dict(meter.counts.faults)}
    return {
        "unit": meter.unit,
        "map": meter.map,
        "points": dict(meter.points),
        **_reply(meter.latest),
        "counts": counts,
    }


def _reply(latest: Measured) -> dict[str, Any]:
    quality = None if latest.quality is None else latest.quality.value
    return {
        "freshness": latest.freshness.value,
        "age_s": latest.age_s,
        "quality": quality,
        "detail": latest.detail,
    }


def _iso(time_ms: int | None, shown: Snapshot) -> str | None:
    return None if time_ms is None else words.moment(time_ms, shown.timezone).isoformat(timespec="milliseconds")
