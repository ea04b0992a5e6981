"""The source: hertz, kilowatts and kVA against its ratings, hours at low load."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from monitor.alarms.conditions.tracks import Service
from monitor.alarms.conditions.watch import Watch
from monitor.electrical.demand import Running, Stretch, Window
from monitor.electrical.supply import hertz_band
from monitor.show.model import SOURCE_ID

if TYPE_CHECKING:
    from monitor.alarms.conditions.known import Known
    from monitor.alarms.conditions.layout import Layout
    from monitor.alarms.conditions.past import SourceMinute
    from monitor.alarms.model import Observation
    from monitor.electrical.demand import Demand

_HOUR_S = 3600.0
_TOLD = 0.95  # of a limit: sentences are made from here on
_LOST = (("source-lost", SOURCE_ID),)


class Hertz:
    """Hertz against the set's kind; nothing for an inverter, whose hertz say nothing."""

    def __init__(self, layout: Layout, known: Known) -> None:
        source, setting = layout.show.source, layout.show.setting
        band = hertz_band(source)
        self._watched = band.low is not None and band.high is not None
        low = min(band.low or 0.0, source.hertz * setting("hertz_low_percent") / 100)
        usual = hertz_band(replace(source, performance_class=None))  # with droop, more than the best classes have
        high = max(band.high or 0.0, usual.high or 0.0, source.hertz * setting("hertz_high_percent") / 100)
        self._low = Watch("hertz-low", SOURCE_ID, low, _LOST)
        self._high = Watch("hertz-high", SOURCE_ID, high, _LOST)
        self._tracks = tuple(known.tracks.values())

    def observe(self, known: Known, out: list[Observation]) -> None:
        """Give both observations."""
        if not self._watched:
            return
        hertz = known.hertz
        coming = any(track.service is Service.COMING for track in self._tracks)
        serving = any(track.service is Service.IN for track in self._tracks)
        if hertz is None or (coming and not serving):
            out += (self._low.unknown, self._high.unknown)
            return
        low, high = self._low.limit, self._high.limit
        seen = (
            ""
            if low * 1.005 < hertz < high * 0.995
            else f"the source runs at {hertz:.2f} Hz; limits {low:.2f} and {high:.2f} Hz"
        )
        out += (self._low.at(hertz, seen), self._high.at(hertz, seen))


@dataclass(frozen=True, slots=True)
class Power:
    """What the source gives at one moment.

    Attributes:
        watts: sum of its legs [W].
        volt_amperes: sum of the legs' volts times amps [VA].
        measured: False where ``watts`` are taken from volts times amps, an upper bound.

    """

    watts: float
    volt_amperes: float
    measured: bool


def power(known: Known) -> Power | None:
    """Give the source's power from settled values; None unless every leg of it is known."""
    source = known.layout.places[SOURCE_ID]
    if len(source.own) < len(source.legs):
        return None
    tracks = [known.tracks[point] for point in source.own.values()]
    products = [
        t.settled_volts * t.settled_amps for t in tracks if t.settled_volts is not None and t.settled_amps is not None
    ]
    watts = [abs(t.settled_watts) for t in tracks if t.settled_watts is not None]
    if len(products) < len(tracks):
        return None
    apparent = sum(products)
    measured = len(watts) == len(tracks)
    return Power(sum(watts) if measured else apparent, apparent, measured)


class Output:
    """Kilowatts and kVA against the ratings, and hours at low load.

    Attributes:
        quarter: the last 15 minutes.
        hour: the last 60 minutes.
        worst_hour_watts: the highest mean of any hour so far [W], or None.
        running: energy, and time at low and high load (these mean nothing without rated kW); None where not every leg
            has a meter.
        low_load_s: time at low load, less the time above it since [s].

    """

    def __init__(self, layout: Layout) -> None:
        source, setting = layout.show.source, layout.show.setting
        whole = len(layout.places[SOURCE_ID].own) == len(source.legs)
        self.quarter = Window()
        self.hour = Window(_HOUR_S)
        self.worst_hour_watts: float | None = None
        self.running = Running(1000 * (source.rated_kw or 0.0)) if whole else None
        self.low_load_s = 0.0
        self.now: Power | None = None
        self._kw = Watch("source-kw", SOURCE_ID, setting("source_kw_percent")) if whole and source.rated_kw else None
        self._kva = (
            Watch("source-kva", SOURCE_ID, setting("source_kva_percent"), (("source-kw", SOURCE_ID),))
            if whole and source.rated_kva
            else None
        )
        minds = source.kind == "generator" and source.governor != "inverter"
        diesel = source.fuel is None or source.fuel.kind == "diesel"
        self._low = (
            Watch("source-low-load", SOURCE_ID, setting("source_low_load_hours"))
            if self.running and source.rated_kw and minds and diesel
            else None
        )
        self._low_watts = setting("source_low_load_percent") * 10 * (source.rated_kw or 0.0)
        self._rated = (source.rated_kw or 0.0, source.rated_kva or 0.0)

    @property
    def demand(self) -> Demand | None:
        """Mean of the last 15 minutes; None where nothing of them is known."""
        return self.quarter.demand(self.quarter.last[0]) if self.quarter.last else None

    @property
    def hour_mean(self) -> Demand | None:
        """Mean of the last hour; None where nothing of it is known."""
        return self.hour.demand(self.hour.last[0]) if self.hour.last else None

    def observe(self, known: Known, out: list[Observation]) -> None:
        """Take the moment's power into every figure, and give the observations."""
        self.now = power(known)
        self._count(known)
        kw, kva = self._rated
        bound = "" if self.now is None or self.now.measured else " (volts times amps: an upper bound)"
        if self._kw is not None:
            out.append(_percent(self._kw, self.now.watts if self.now else None, kw, f"kW{bound}"))
        if self._kva is not None:
            out.append(_percent(self._kva, self.now.volt_amperes if self.now else None, kva, "kVA"))
        if self._low is not None:
            out.append(self._low_load(self._low))

    def recall(self, begin_ms: int, minute: SourceMinute) -> None:
        """Count a minute of the past: at its mean, as a whole to one side of every limit."""
        if minute.watts is None:
            return
        begin_s, watts, seconds = begin_ms / 1000, minute.watts, minute.seconds
        stretch = Stretch(begin_s, begin_s + seconds, watts, watts)
        self.quarter, self.hour = _extended(self.quarter, stretch), _extended(self.hour, stretch)
        self._mind_worst_hour()
        if self.running is None or not minute.turning:
            return
        low, high = (part * self.running.rated_watts for part in (Running.LOW, Running.HIGH))
        self.running = replace(
            self.running,
            joules=self.running.joules + watts * seconds,
            covered_s=self.running.covered_s + seconds,
            low_s=self.running.low_s + (seconds if watts < low else 0.0),
            high_s=self.running.high_s + (seconds if watts > high else 0.0),
            peak_watts=max(self.running.peak_watts or 0.0, watts),
        )
        self.low_load_s = max(0.0, self.low_load_s + (seconds if watts < self._low_watts else -seconds))

    def _mind_worst_hour(self) -> None:
        if self.hour.covered_s >= 0.9 * _HOUR_S:
            self.worst_hour_watts = max(self.worst_hour_watts or 0.0, self.hour.joules / self.hour.covered_s)

    def _count(self, known: Known) -> None:
        time_s = known.time_ms / 1000
        watts = self.now.watts if self.now and not known.resumed else None
        self.quarter = self.quarter.add(time_s, watts)
        self.hour = self.hour.add(time_s, watts)
        self._mind_worst_hour()
        turning = any(
            known.tracks[point].service is Service.IN for point in known.layout.places[SOURCE_ID].own.values()
        )
        if self.running is None:
            return
        self.running = self.running.add(time_s, watts if turning else None)
        if watts is not None and turning:
            change = known.elapsed_s if watts < self._low_watts else -known.elapsed_s
            self.low_load_s = max(0.0, self.low_load_s + change)

    def _low_load(self, watch: Watch) -> Observation:
        if self.now is None:
            return watch.unknown
        hours = self.low_load_s / 3600
        if hours < 0.95 * watch.limit:
            return watch.at(hours)
        percent = self._low_watts / 10 / self._rated[0]
        return watch.at(
            hours,
            f"the source has run for {hours:.1f} h under {percent:g} % of its {self._rated[0]:g} kW,"
            f" time above that taken off; limit {watch.limit:g} h",
        )


def _extended(window: Window, new: Stretch) -> Window:
    """Add a stretch to a window that no sample has been added to yet."""
    start, held = new.end_s - window.length_s, window.stretches
    first = next((i for i, old in enumerate(held) if old.end_s > start), len(held))
    joules = window.joules + new.joules - sum(old.joules for old in held[:first])
    covered = window.covered_s + new.seconds - sum(old.seconds for old in held[:first])
    return Window(window.length_s, None, (*held[first:], new), joules, covered)


def _percent(watch: Watch, value: float | None, rated: float, unit: str) -> Observation:
    """Observe a load [W or VA] in percent of its rating [kW or kVA]."""
    if value is None:
        return watch.unknown
    percent = value / 10 / rated
    seen = (
        f"the source gives {value / 1000:.1f} {unit}, {percent:.0f} % of its rated {rated:g}; limit {watch.limit:g} %"
    )
    return watch.at(percent, seen if percent > _TOLD * watch.limit else "")
