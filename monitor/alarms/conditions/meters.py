"""Meters that say nothing, or what can't be; the log that can't be written, and its clock."""

from __future__ import annotations

from typing import TYPE_CHECKING

from drivers.reading import Quality
from monitor.alarms.conditions.layout import parents
from monitor.alarms.conditions.watch import Watch
from monitor.show.model import NEUTRAL, SOURCE_ID

if TYPE_CHECKING:
    from monitor.alarms.conditions.known import Known
    from monitor.alarms.conditions.layout import Layout
    from monitor.alarms.conditions.tracks import Track
    from monitor.alarms.model import Now, Observation
    from monitor.show.model import Meter

_WAIT_MS = 3000  # a bus whose other meters may yet fall silent too is waited for this long
_FIRST_MS = 10_000  # a meter that never answered is silent after this
_SEVERAL = 2
_BACKWARDS = -0.5  # watts an ampere: less is no rounding
_BACKWARDS_AMPS = 0.5
_REFUSED = (Quality.IMPLAUSIBLE, Quality.REFUSED)


def bus_name(bus: str) -> str:
    """Give the place of an alarm about a whole bus."""
    return f"bus {bus}"


class _Meter:
    def __init__(self, layout: Layout, meter: Meter, tracks: list[Track], *, shared: bool) -> None:
        self.name = f"{meter.bus}:{meter.unit}"
        self.tracks = tracks
        self.silent_ms: int | None = None
        self._points = ", ".join(str(track.point) for track in tracks)
        explains = _powered(layout, meter.powered_from)
        if shared:
            explains = (("meter-silent", bus_name(meter.bus)), *explains)
        self.watch = Watch("meter-silent", self.name, parents=explains)

    def look(self, time_ms: int, first_ms: int) -> None:
        """See whether it says anything."""
        told = any(track.quality is not None for track in self.tracks) or time_ms - first_ms >= _FIRST_MS
        if any(track.values is not None for track in self.tracks) or not told:
            self.silent_ms = None
        elif self.silent_ms is None:
            self.silent_ms = time_ms

    def seen(self) -> str:
        """Say what is known of its silence."""
        qualities = {track.quality for track in self.tracks if track.quality is not None} - {Quality.GOOD}
        why = f" (last answer: {', '.join(sorted(qualities))})" if qualities else ""
        return f"meter {self.name} gives no values{why}; not watched meanwhile: {self._points}"


class Silence:
    """Silent meters, and silent buses."""

    def __init__(self, layout: Layout, known: Known) -> None:
        buses: dict[str, list[Meter]] = {}
        for meter in layout.show.meters:
            if meter.points:
                buses.setdefault(meter.bus, []).append(meter)
        self._buses = [
            (
                bus,
                [
                    _Meter(layout, m, [known.tracks[point] for _, point in m.points], shared=len(meters) >= _SEVERAL)
                    for m in meters
                ],
                Watch("meter-silent", bus_name(bus), parents=parents(("source-lost",), (SOURCE_ID,))),
            )
            for bus, meters in buses.items()
        ]
        self._first_ms: int | None = None

    def observe(self, known: Known, out: list[Observation]) -> None:
        """Give the observations of every meter, and of every bus with several."""
        now = known.time_ms
        if self._first_ms is None or known.resumed:
            self._first_ms = now
        for bus, meters, watch in self._buses:
            for meter in meters:
                meter.look(now, self._first_ms)
            silent = [meter for meter in meters if meter.silent_ms is not None]
            whole = len(meters) >= _SEVERAL and len(silent) == len(meters)
            if len(meters) >= _SEVERAL:
                names = ", ".join(meter.name for meter in meters) if whole else ""
                out.append(watch.state(f"no meter on bus {bus} gives values: {names}" if whole else None))
            for meter in meters:
                waits = len(meters) >= _SEVERAL and not whole and _may_follow(meters, silent, now)
                shown = meter.silent_ms is not None and not waits
                out.append(meter.watch.state(meter.seen() if shown else None))


def _may_follow(meters: list[_Meter], silent: list[_Meter], now: int) -> bool:
    """Say whether the rest of a bus may be falling silent too: nothing came from it since the first went."""
    first = min((meter.silent_ms or now for meter in silent), default=now)
    speaks = any(track.heard_ms >= first for meter in meters for track in meter.tracks if track.values is not None)
    return not speaks and now - first < _WAIT_MS


def _powered(layout: Layout, by: str) -> tuple[tuple[str, str], ...]:
    """Give what would explain that a meter has no power."""
    if by in layout.places:
        return parents(("feeder-lost",), (by, *layout.places[by].up))
    circuit = next((c for c in layout.circuits if c.circuit.id == by), None)
    up = circuit.up if circuit else (SOURCE_ID,)
    return (("circuit-opened", by), *parents(("feeder-lost", "lost-leg"), up))


class Implausible:
    """Values that can't be: refused ones, and watts below nothing."""

    def __init__(self, layout: Layout, known: Known) -> None:
        up = {circuit.circuit.id: circuit.up for circuit in layout.circuits}
        up |= {place.id: (place.id, *place.up) for place in layout.places.values()}
        self._watched = [
            (
                track,
                Watch("value-implausible", str(point), parents=parents(("lost-leg", "lost-neutral"), up[point.place])),
            )
            for point, track in known.tracks.items()
        ]

    def observe(self, out: list[Observation]) -> None:
        """Give the observation of every point."""
        for track, watch in self._watched:
            if track.values is None:
                out.append(watch.unknown)
            elif track.quality in _REFUSED:
                out.append(watch.state(f"{watch.where} gives a value that is refused ({track.quality})"))
            else:
                out.append(watch.state(_backwards(track)))


def _backwards(track: Track) -> str | None:
    watts, amps = track.settled_watts, track.settled_amps
    if track.point.leg == NEUTRAL or watts is None or amps is None or amps < _BACKWARDS_AMPS:
        return None
    if watts >= _BACKWARDS * amps:
        return None
    return f"{track.point} reads {watts:.0f} W at {amps:.1f} A: below zero, where only loads hang"


class LogKeeping:
    """The log and its clock."""

    def __init__(self, layout: Layout) -> None:
        self._log = Watch("log-not-written", "log")
        self._clock = Watch("clock-stepped", "log")
        self._least_s = layout.show.setting("clock_step_seconds")
        self._not_kept = 0

    def observe(self, now: Now, out: list[Observation]) -> None:
        """Give both observations."""
        lost, self._not_kept = now.not_kept > self._not_kept, now.not_kept
        seen = None
        if now.log_problem:
            seen = f"the log is not being written: {now.log_problem}; {now.not_kept} readings not kept so far"
        elif lost:
            seen = f"{now.not_kept} readings could not be kept in the log so far"
        out.append(self._log.state(seen))
        step = now.clock_step_s
        stepped = abs(step) >= self._least_s
        way = "forward" if step > 0 else "back"
        out.append(self._clock.state(f"the computer's clock was moved {way} by {abs(step):.1f} s" if stepped else None))
