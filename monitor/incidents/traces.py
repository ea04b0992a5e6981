"""The last samples of every point, and which points stand outside of what is calm: power gone, volts low or high."""

from __future__ import annotations

from collections import deque
from math import inf
from statistics import median
from typing import TYPE_CHECKING

from drivers.reading import Quality
from monitor.show.model import SOURCE_ID

if TYPE_CHECKING:
    from drivers.reading import Values
    from monitor.alarms.conditions.layout import CircuitPlace, Layout
    from monitor.alarms.model import Now
    from monitor.show.model import Point

GONE, POWERED = 0.10, 0.50  # of nominal, as ``monitor.alarms.conditions.tracks`` has them
KEPT = 260  # samples of a point: two minutes at two a second
_CALM = (0.955, 1.045)  # of nominal: where several legs' volts stand within, no neutral has moved by 5 %
_MOST_INTERVAL_MS = 120_000
_MIDDLE = 3
_FEW = 8  # samples that teach the interval quickly
_BEFORE, _GUARD_MS = 10, 2000  # samples of "before", and how long before a change they end

Sampled = tuple[int, "Values"]


class Trace:
    """One point.

    Attributes:
        point: which.
        label: for people.
        circuit: the circuit it measures, or None.
        place: the circuit's, feeder's or source's id.
        up: places above it, nearest first; for a place's own meter the place itself comes first.
        legs: that its volts depend on.
        nominal: volts as its meter sees them [V]; 0 for a neutral.
        low: volts below this are low [V].
        high: volts above this are high [V].
        rated: amps of its breaker [A]; infinite where it has none.
        least_amps: less counts as no load [A].
        samples: (time [ms], values), oldest first.
        odd: whether its last volts were not calm.
        live: whether its last values still count as live.
        powered: whether its last volts were above half of nominal; None before the first.
        heard_ms: time of the last sample [ms].
        interval_ms: how often it is read [ms].
        live_ms: last sample with power [ms], or None.
        first_ms: since when it has had power [ms], or None.
        down_ms: first sample without power after some with it [ms], or None.
        gone_ms: first sample under a tenth of nominal, likewise.
        low_ms: first of the samples in a row that were low [ms], or None.
        high_ms: likewise high.
        back_ms: when it last came back inside the limits [ms].

    """

    __slots__ = (
        "back_ms", "calm_high", "calm_low", "circuit", "down_ms", "first_ms", "gone_ms", "heard_ms", "high", "high_ms",
        "interval_ms", "label", "least_amps", "legs", "live", "live_ms", "low", "low_ms", "nominal", "odd", "place",
        "point", "powered", "rated", "samples", "up",
    )  # fmt: skip

    def __init__(self, point: Point, layout: Layout, circuit: CircuitPlace | None) -> None:
        show = layout.show
        self.point, self.circuit, self.place = point, circuit, point.place
        self.nominal = layout.nominal(point)
        own = circuit.circuit if circuit else None
        low, high = (show.setting(f"volts_{side}_percent", own) / 100 for side in ("low", "high"))
        self.low, self.high = low * self.nominal, high * self.nominal
        self.calm_low, self.calm_high = max(low, _CALM[0]) * self.nominal, min(high, _CALM[1]) * self.nominal
        if circuit is not None:
            self.label = circuit.label if not point.leg else f"{point.leg} of {circuit.label}"
            self.up = circuit.up
            self.legs = (point.leg,) if point.leg else circuit.circuit.legs
            self.rated = circuit.circuit.breaker.amps
        else:
            place = layout.places[point.place]
            self.label = f"{point.leg} of {place.label}"
            self.up = (place.id, *place.up)
            self.legs = (point.leg,)
            self.rated = inf
        rated = self.rated if circuit else (layout.places[point.place].rated_amps or 0.0)
        self.least_amps = max(0.3, 0.02 * rated)
        self.samples: deque[Sampled] = deque(maxlen=KEPT)
        self.interval_ms = 1000.0
        self.heard_ms = 0
        self.forget()

    def forget(self) -> None:
        """Forget everything: nothing is known of the time between the last sample and the next."""
        self.samples.clear()
        self.live = self.odd = False
        self.powered: bool | None = None
        self.live_ms: int | None = None
        self.first_ms: int | None = None
        self.down_ms: int | None = None
        self.gone_ms: int | None = None
        self.low_ms: int | None = None
        self.high_ms: int | None = None
        self.back_ms = 0

    @property
    def volts(self) -> float | None:
        """Last volts [V]."""
        return self.samples[-1][1].volts if self.samples else None

    @property
    def amps(self) -> float | None:
        """Last amps [A]."""
        return self.samples[-1][1].amps if self.samples else None

    @property
    def settled_volts(self) -> float | None:
        """Middle of the last three volts [V]."""
        found: list[float] = []
        for _, values in reversed(self.samples):
            if values.volts is not None:
                found.append(values.volts)
                if len(found) == _MIDDLE:
                    return sorted(found)[1]
        return median(found) if found else None

    def middle(self, name: str, count: int, until_ms: float = inf) -> float | None:
        """Give the middle of the last ``count`` samples of a quantity up to a moment; None where there are none."""
        found = self.last(name, count, until_ms)
        return median(found) if found else None

    def last(self, name: str, count: int, until_ms: float = inf) -> list[float]:
        """Give the last ``count`` values of a quantity up to a moment, newest first."""
        found: list[float] = []
        for at_ms, values in reversed(self.samples):
            value = getattr(values, name)
            if at_ms <= until_ms and value is not None:
                found.append(value)
                if len(found) == count:
                    break
        return found

    def before(self, name: str, change_ms: float) -> float | None:
        """Give the middle of the ten samples that end two seconds before a change, or of those that are there."""
        return self.middle(name, _BEFORE, change_ms - _GUARD_MS) or self.middle(name, _BEFORE, change_ms - 1)

    def between(self, begin_ms: float, end_ms: float) -> list[Sampled]:
        """Give the samples of a stretch, both ends included."""
        found = []
        for sample in reversed(self.samples):
            if sample[0] < begin_ms:
                break
            if sample[0] <= end_ms:
                found.append(sample)
        found.reverse()
        return found

    def amps_at_last(self, count: int = 2) -> list[float]:
        """Give the amps of the last samples that had power [A]."""
        return self.last("amps", count, self.live_ms) if self.live_ms is not None else []

    @property
    def loaded(self) -> bool:
        """Whether it carried load before its power went; where its amps aren't measured, it may have."""
        amps = self.amps_at_last(3)
        return not amps or max(amps) >= self.least_amps

    def serve(self, at_ms: int, volts: float) -> bool:
        """Follow the volts of a sample that is not calm, or the first calm one after such; True: power has gone."""
        nominal = self.nominal
        sank = False
        if volts >= POWERED * nominal:
            if not self.powered:
                self.first_ms = at_ms
            self.powered, self.live_ms, self.down_ms, self.gone_ms = True, at_ms, None, None
        elif self.powered:
            self.powered, sank, self.down_ms, self.first_ms = False, True, at_ms, None
        else:
            self.powered = False
        if volts < GONE * nominal and self.gone_ms is None and self.down_ms is not None:
            self.gone_ms = at_ms
        self.low_ms = (self.low_ms or at_ms) if GONE * nominal <= volts < self.low else None
        self.high_ms = (self.high_ms or at_ms) if volts > self.high else None
        if self.low_ms is None and self.high_ms is None and self.powered:
            self.back_ms = at_ms
        return sank


class Board:
    """All points of a show.

    Args:
        layout: of the show.

    Attributes:
        time_ms: the log's clock [ms].
        resumed: nothing is known of the time before.
        traces: in the show's order, neutrals too.
        of: by point.
        odd: whose power or volts are not calm.
        sank: whose power went with this moment.
        fresh: samples heard with this moment, a point's own in order of time.
        over: (point's trace, time [ms], amps [A]) of samples above the rating, heard with this moment.
        hushed: whose values stopped being live with this moment.

    """

    def __init__(self, layout: Layout) -> None:
        by_point = {point: circuit for circuit in layout.circuits for point in circuit.points}
        self.traces = [Trace(point, layout, by_point.get(point)) for point in layout.show.points()]
        self.of = {trace.point: trace for trace in self.traces}
        self.powered = [trace for trace in self.traces if trace.nominal]
        self.time_ms = 0
        self.resumed = True
        self.odd: dict[Point, Trace] = {}
        self.sank: list[Trace] = []
        self.fresh: list[tuple[Trace, Sampled]] = []
        self.over: list[tuple[Trace, int, float]] = []
        self.hushed: list[Trace] = []

    def take(self, now: Now) -> None:
        """Take one moment."""
        self.resumed = now.resumed or not self.time_ms
        time_ms = self.time_ms = now.time_ms
        if self.resumed:
            self.odd.clear()
            for trace in self.traces:
                trace.forget()
        for found in (self.fresh, self.over, self.sank, self.hushed):
            found.clear()
        good = Quality.GOOD
        for listed, (point, known) in zip(self.traces, now.points.items(), strict=False):
            trace = listed if listed.point is point else self.of[point]
            values = known.values
            if values is None:
                if trace.live:
                    self._hush(trace)
                continue
            for at_ms, earlier in known.earlier:
                self._hear(trace, at_ms, earlier)
            if known.fresh and (known.quality is good or known.quality is Quality.IMPLAUSIBLE):
                self._hear(trace, time_ms - int(1000 * (known.age_s or 0.0)), values)

    def _hear(self, trace: Trace, at_ms: int, values: Values) -> None:
        """Take one sample."""
        passed = at_ms - trace.heard_ms
        if passed <= 0:
            return
        if passed < _MOST_INTERVAL_MS:
            trace.interval_ms += (0.1 if len(trace.samples) > _FEW else 0.5) * (passed - trace.interval_ms)
        trace.heard_ms = at_ms
        trace.live = True
        sample = (at_ms, values)
        trace.samples.append(sample)
        self.fresh.append((trace, sample))
        amps, volts = values.amps, values.volts
        if amps is not None and amps > trace.rated:
            self.over.append((trace, at_ms, amps))
        if volts is None:
            return
        if trace.powered and trace.calm_low < volts < trace.calm_high:
            trace.live_ms = at_ms
            if not trace.odd:
                return
        self._odd(trace, at_ms, volts)

    def _odd(self, trace: Trace, at_ms: int, volts: float) -> None:
        if not trace.nominal:
            return
        if trace.serve(at_ms, volts):
            self.sank.append(trace)
        trace.odd = not trace.calm_low < volts < trace.calm_high
        if trace.odd:
            self.odd[trace.point] = trace
        else:
            self.odd.pop(trace.point, None)

    def _hush(self, trace: Trace) -> None:
        trace.live = trace.odd = False
        trace.low_ms = trace.high_ms = None
        self.hushed.append(trace)
        self.odd.pop(trace.point, None)

    def standing(self, trace: Trace) -> bool:
        """Say whether a point is read and has power."""
        return trace.live and bool(trace.powered)

    def under(self, place: str) -> list[Trace]:
        """Give what measures volts at or under a place, its own meter too."""
        if place == SOURCE_ID:
            return self.powered
        return [trace for trace in self.powered if place in trace.up or trace.place == place]
