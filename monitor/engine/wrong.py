"""What is wrong now: plain rules over the views of one moment, each a sentence with value and limit.

Defaults of the limits stand in ``config/standards/defaults.toml`` with their sources. A place without a live value
gives no finding of its own: its silence is one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from drivers.reading import Quality
from monitor.engine.snapshot import CircuitView, Freshness, LegView, Measured, Weight
from monitor.show.model import NEUTRAL, SOURCE_ID

if TYPE_CHECKING:
    from collections.abc import Iterator

    from monitor.engine.views import Moment
    from monitor.show.model import Circuit, Meter, Show

GONE_FRACTION = 0.1  # volts below this part of nominal are "gone" (IEEE 1159's interruption: below 0.1 of nominal)


class Finding(NamedTuple):
    """Something wrong, before it is known since when."""

    code: str
    weight: Weight
    where: str
    text: str


def findings(moment: Moment) -> Iterator[Finding]:
    """Give everything that is wrong at ``moment``."""
    show = moment.figures.show
    silent = frozenset(_silent_places(moment))
    for meter in show.meters:
        yield from _meter(moment, meter)
    for circuit, view in zip(show.circuits, moment.circuits, strict=True):
        if circuit.id not in silent:
            yield from _circuit(show, circuit, view)
    for feeder in moment.feeders:
        for leg in feeder.legs:
            yield from _leg(show, feeder.id, leg)
    for leg in moment.source.legs:
        yield from _leg(show, SOURCE_ID, leg)
    yield from _source(moment)


def _silent_places(moment: Moment) -> Iterator[str]:
    for view in moment.circuits:
        if view.measured.freshness in (Freshness.OLD, Freshness.NEVER):
            yield view.id


def _meter(moment: Moment, meter: Meter) -> Iterator[Finding]:
    """Tell of a meter once, however many points it measures; of a point alone where only that one fails."""
    states = [(str(point), moment.point(point)) for _, point in meter.points]
    gone = [(name, m) for name, m in states if m.freshness in (Freshness.OLD, Freshness.NEVER) and m.quality]
    if not gone:
        yield from _refused_values(states)
        return
    names = ", ".join(name for name, _ in gone)
    worst = gone[0][1]
    told = "no values yet" if worst.age_s is None else "no values now"
    reason = Quality.SILENT if worst.quality is Quality.GOOD else worst.quality  # good, and then nothing more
    why = f"{reason}: {worst.detail}" if worst.detail else f"{reason}"
    text = f"{names}: {told} from unit {meter.unit} on bus {meter.bus} ({why})"
    yield Finding(f"meter-{reason}", Weight.HIGH, f"{meter.bus}:{meter.unit}", text)


def _refused_values(states: list[tuple[str, Measured]]) -> Iterator[Finding]:
    for name, measured in states:
        if measured.live and measured.quality is Quality.IMPLAUSIBLE:
            text = f"{name}: a value is refused as implausible: {measured.detail}"
            yield Finding("value-implausible", Weight.LOW, name, text)
        if measured.live and measured.watts is not None and measured.amps and measured.watts < -0.5 * measured.amps:
            text = (
                f"{name} reads {measured.watts:.0f} W, below zero: its current transformer may sit the wrong way round"
            )
            yield Finding("watts-negative", Weight.LOW, name, text)


def _circuit(show: Show, circuit: Circuit, view: CircuitView) -> Iterator[Finding]:
    measured = view.measured
    if not measured.live:
        return
    if measured.amps is not None:
        yield from _load(show, circuit, view, measured.amps)
    if measured.volts is not None:
        yield from _volts(show, circuit, view, measured.volts)


def _load(show: Show, circuit: Circuit, view: CircuitView, amps: float) -> Iterator[Finding]:
    rating = view.rated_amps * show.setting("rating_percent", circuit) / 100.0
    label = _label(view)
    if amps > rating:
        text = f"{label} carries {amps:.1f} A, above its breaker's {view.rated_amps:g} A"
        yield Finding("above-rating", Weight.URGENT, view.id, text)
    elif amps > view.continuous_amps:
        text = f"{label} carries {amps:.1f} A, above its continuous limit of {view.continuous_amps:.1f} A"
        yield Finding("above-continuous", Weight.LOW, view.id, text)
    over = amps - view.planned_amps
    if over > show.setting("over_plan_amps", circuit):
        text = f"{label} carries {over:.1f} A more than its planned {view.planned_amps:.1f} A"
        yield Finding("over-plan", Weight.LOW, view.id, text)


def _volts(show: Show, circuit: Circuit, view: CircuitView, volts: float) -> Iterator[Finding]:
    nominal, label = view.nominal_volts, _label(view)
    low = nominal * show.setting("volts_low_percent", circuit) / 100.0
    high = nominal * show.setting("volts_high_percent", circuit) / 100.0
    if volts < GONE_FRACTION * nominal:
        text = f"{label} reads {volts:.1f} V: its breaker or something before it may be open; no proof that it is"
        yield Finding("volts-gone", Weight.HIGH, view.id, text)
    elif volts < low:
        yield Finding("volts-low", Weight.HIGH, view.id, f"{label} reads {volts:.1f} V, below {low:.1f} V")
    elif volts > high:
        yield Finding("volts-high", Weight.URGENT, view.id, f"{label} reads {volts:.1f} V, above {high:.1f} V")


def _leg(show: Show, place: str, leg: LegView) -> Iterator[Finding]:
    if not leg.measured.live:
        return
    name = f"{place}/{leg.leg}"
    amps, volts = leg.measured.amps, leg.measured.volts
    if amps is not None and leg.limit_amps is not None and amps > leg.limit_amps:
        text = f"{name} carries {amps:.1f} A, above its {leg.limit_amps:g} A"
        yield Finding("leg-above-rating", Weight.URGENT, name, text)
    if volts is None or leg.leg == NEUTRAL:
        return
    low = leg.nominal_volts * show.setting("volts_low_percent") / 100.0
    high = leg.nominal_volts * show.setting("volts_high_percent") / 100.0
    if volts < low:
        yield Finding("leg-volts-low", Weight.HIGH, name, f"{name} reads {volts:.1f} V, below {low:.1f} V")
    elif volts > high:
        yield Finding("leg-volts-high", Weight.URGENT, name, f"{name} reads {volts:.1f} V, above {high:.1f} V")


def _source(moment: Moment) -> Iterator[Finding]:
    source, show = moment.source, moment.figures.show
    if source.percent is not None and source.kilowatts is not None and source.percent > 100.0:  # noqa: PLR2004 - percent
        text = f"the source gives {source.kilowatts:.1f} kW, above its {source.rated_kw:g} kW"
        yield Finding("source-above-rating", Weight.URGENT, SOURCE_ID, text)
    if source.hertz is None or show.source.governor == "inverter":
        return
    low = source.nominal_hertz * show.setting("hertz_low_percent") / 100.0
    high = source.nominal_hertz * show.setting("hertz_high_percent") / 100.0
    if not low <= source.hertz <= high:
        text = f"the source runs at {source.hertz:.2f} Hz, outside {low:.1f} to {high:.1f} Hz"
        yield Finding("hertz", Weight.HIGH, SOURCE_ID, text)


def _label(view: CircuitView) -> str:
    return view.id if view.name == view.id else f"{view.id} {view.name}"
