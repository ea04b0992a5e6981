"""The plots of points: which limits, ratings and plan belong to each."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from monitor.electrical.generator import leg_rating
from monitor.electrical.legs import planned_legs
from monitor.electrical.loads import LEG_TO_NEUTRAL, nominal_volts, planned_amps
from monitor.electrical.supply import hertz_band
from monitor.review.panel import Line, Panel
from monitor.show.model import NEUTRAL, SOURCE_ID

if TYPE_CHECKING:
    from collections.abc import Sequence
    from xml.etree.ElementTree import Element

    from monitor.log.gaps import Gap
    from monitor.review.panel import Mark
    from monitor.review.series import Series
    from monitor.show.model import Point, Show

UNITS = {"amps": "A", "volts": "V", "hertz": "Hz"}


def plot(  # noqa: PLR0913 - a plot has that many parts; the last two by name
    show: Show,
    point: Point,
    quantity: str,
    series: Series,
    stretch: tuple[int, int],
    *,
    marks: Sequence[Mark] = (),
    gaps: Sequence[Gap] = (),
) -> Element:
    """Draw one quantity (``amps``, ``volts`` or ``hertz``) of one point from begin to end [ms, the log's clock]."""
    begin_ms, end_ms = stretch
    here = [(gap.begin_ms, gap.end_ms or end_ms) for gap in gaps if gap.point == point]
    panel = Panel(
        title=f"{point}: {quantity} [{UNITS[quantity]}]" + _by(series.step_ms),
        series=series,
        begin_ms=begin_ms,
        end_ms=end_ms,
        timezone=show.timezone,
        lines=lines(show, point, quantity),
        marks=marks,
        gaps=[(begin, end) for begin, end in here if begin < end_ms and end > begin_ms],
        from_zero=quantity == "amps",
    )
    return panel.svg()


def _by(step_ms: int) -> str:
    minutes = step_ms // 60_000
    return "" if not minutes else ", by minute" if minutes == 1 else f", by {minutes} minutes"


def lines(show: Show, point: Point, quantity: str) -> tuple[Line, ...]:
    """Give limits, rating and plan of a point's quantity; what is not known is left out."""
    if quantity == "hertz":
        return _hertz(show)
    if quantity == "volts":
        return _volts(show, point)
    return tuple(_amps(show, point))


def _hertz(show: Show) -> tuple[Line, ...]:
    """Give the limits as the alarms have them: the governor's band or the show's setting, whichever is wider."""
    band, hertz = hertz_band(show.source), show.source.hertz
    if band.low is None or band.high is None:
        return ()
    low = min(band.low, hertz * show.setting("hertz_low_percent") / 100)
    usual = hertz_band(replace(show.source, performance_class=None))
    high = max(band.high, usual.high or 0.0, hertz * show.setting("hertz_high_percent") / 100)
    return Line(low, f"low below {low:.1f} Hz"), Line(high, f"high above {high:.1f} Hz")


def _volts(show: Show, point: Point) -> tuple[Line, ...]:
    circuit = next((c for c in show.circuits if c.id == point.place), None)
    if point.leg == NEUTRAL:
        return ()
    if circuit is not None and not point.leg:
        nominal = nominal_volts(show.source.system, circuit.legs)
    else:
        nominal = LEG_TO_NEUTRAL[show.source.system]
    low, high = (nominal * show.setting(f"volts_{side}_percent", circuit) / 100 for side in ("low", "high"))
    return Line(low, f"low below {low:.0f} V"), Line(high, f"high above {high:.0f} V")


def _amps(show: Show, point: Point) -> list[Line]:
    circuit = next((c for c in show.circuits if c.id == point.place), None)
    if circuit is not None:
        planned = planned_amps(circuit, show.source.system)
        plan = [Line(planned, f"plan {planned:.1f} A", "plan")] if circuit.load else []
        return [*plan, Line(circuit.breaker.amps, f"breaker {circuit.breaker.amps:g} A")]
    feeder = next((f for f in show.feeders if f.id == point.place), None)
    if point.place == SOURCE_ID:
        rated = show.source.neutral_amps if point.leg == NEUTRAL else leg_rating(show.source)
    else:
        rated = feeder.breaker.amps if feeder is not None and feeder.breaker is not None else None
    found = [] if rated is None else [Line(rated, f"rating {rated:.0f} A")]
    legs = planned_legs(show, point.place) if point.leg != NEUTRAL and any(c.load for c in show.circuits) else {}
    if point.leg in legs:
        planned = abs(legs[point.leg])
        found.append(Line(planned, f"plan {planned:.1f} A", "plan"))
    return found
