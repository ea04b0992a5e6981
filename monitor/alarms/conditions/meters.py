"""Meters that say nothing, or what can't be; the log that can't be written, and its clock."""

from __future__ import annotations

from typing import TYPE_CHECKING

from drivers.reading import Quality
from monitor.alarms.conditions.layout import parents
from monitor.alarms.conditions.watch import Watch
from monitor.show.model import NEUTRAL, SOURCE_ID

if TYPE_CHECKING:
    from collections.abc import Iterable

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
    """One meter.

    Args:
        meter: which.
        tracks: its points.
        explained: what would explain its silence.

    """

    def __init__(self, meter: Meter, tracks: list[Track], explained: tuple[tuple[str, str], ...]) -> None:
        self.name = f"{meter.bus}:{meter.unit}"
        self.tracks = tracks
        self.silent_ms: int | None = None
        self._points = ", ".join(str(track.point) for track in tracks)
        self.watch = Watch("meter-silent", self.name, parents=explained)

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
        why = f" ({', '.join(sorted(qualities))})" if qualities else ""
        return f"meter {self.name} gives no values{why}; not watched meanwhile: {self._points}"


class _Group:
    """Several meters that share a bus, or what powers them: silent together they are told as one."""

    def __init__(self, what: str, meters: list[_Meter], watch: Watch) -> None:
        self._what = what
        self.meters = meters
        self._watch = watch
        self.waits = False

    def observe(self, now: int) -> Observation:
        """Give the observation, and see whether single meters had better wait for it."""
        silent = [meter for meter in self.meters if meter.silent_ms is not None]
        whole = len(silent) == len(self.meters)
        self.waits = bool(silent) and not whole and self._may_follow(silent, now)
        names = ", ".join(meter.name for meter in self.meters)
        return self._watch.state(f"no meter {self._what} gives values: {names}" if whole else None)

    def _may_follow(self, silent: list[_Meter], now: int) -> bool:
        """Say whether the rest may be falling silent too: nothing came from it since the first went."""
        first = min(meter.silent_ms or now for meter in silent)
        speaks = any(t.heard_ms >= first for meter in self.meters for t in meter.tracks if t.values is not None)
        return not speaks and now - first < _WAIT_MS


class Silence:
    """Silent meters, and what several silent ones share."""

    def __init__(self, layout: Layout, known: Known) -> None:
        listed = [meter for meter in layout.show.meters if meter.points]
        buses = _shared((meter.bus, meter) for meter in listed)
        powers = _shared((meter.powered_from, meter) for meter in listed)
        if len({meter.bus for meter in listed}) < _SEVERAL:
            powers.pop(SOURCE_ID, None)  # the bus says the same
        self._meters: dict[str, _Meter] = {}
        for meter in listed:
            explained = (("meter-silent", bus_name(meter.bus)),) if meter.bus in buses else ()
            if meter.powered_from in powers:
                explained = (*explained, ("meter-silent", meter.powered_from))
            explained = (*explained, *_powered(layout, meter.powered_from))
            made = _Meter(meter, [known.tracks[point] for _, point in meter.points], explained)
            self._meters[made.name] = made
        self._groups = [
            self._group(f"on bus {bus}", of, bus_name(bus), parents(("source-lost", "meter-silent"), (SOURCE_ID,)))
            for bus, of in buses.items()
        ]
        self._groups += [
            self._group(f"powered from {place}", of, place, _powered(layout, place)) for place, of in powers.items()
        ]
        self._first_ms: int | None = None

    def _group(self, what: str, of: list[Meter], where: str, explained: tuple[tuple[str, str], ...]) -> _Group:
        meters = [self._meters[f"{meter.bus}:{meter.unit}"] for meter in of]
        return _Group(what, meters, Watch("meter-silent", where, parents=explained))

    def observe(self, known: Known, out: list[Observation]) -> None:
        """Give the observations of every group and every meter."""
        now = known.time_ms
        if self._first_ms is None or known.resumed:
            self._first_ms = now
        for meter in self._meters.values():
            meter.look(now, self._first_ms)
        out += [group.observe(now) for group in self._groups]
        waiting = {meter.name for group in self._groups if group.waits for meter in group.meters}
        for meter in self._meters.values():
            shown = meter.silent_ms is not None and meter.name not in waiting
            out.append(meter.watch.state(meter.seen() if shown else None))


def _shared(pairs: Iterable[tuple[str, Meter]]) -> dict[str, list[Meter]]:
    """Give the meters by what they share, where several do."""
    found: dict[str, list[Meter]] = {}
    for shared, meter in pairs:
        found.setdefault(shared, []).append(meter)
    return {shared: meters for shared, meters in found.items() if len(meters) >= _SEVERAL}


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
            seen = (
                f"the log is not being written: {now.log_problem}; {now.not_kept} readings wait in memory or are lost"
            )
        elif lost:
            seen = f"{now.not_kept} readings could not be kept in the log so far"
        out.append(self._log.state(seen))
        step = now.clock_step_s
        stepped = abs(step) >= self._least_s
        way = "forward" if step > 0 else "back"
        out.append(self._clock.state(f"the computer's clock was moved {way} by {abs(step):.1f} s" if stepped else None))
