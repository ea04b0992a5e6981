"""One cause, one alarm: which alarm explains another at one moment.

An observation names its parents: what would explain it. A rule names the worse rules of the same thing. An alarm is
explained by the nearest of these that is in alarm (its condition holds; behind a shelf too, since who shelves a cause
has seen it). Explanations reach through a parent that is itself explained, or of which nothing is known; they don't
reach through one that is seen to be in order.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.alarms.rules import rules
from monitor.alarms.timing import Look

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from monitor.alarms.model import Observation
    from monitor.alarms.track import Key, Track


class Folding:
    """The explanations of one moment. Ask for the cause of an alarm after its parents have taken the moment."""

    def __init__(
        self, observations: Sequence[Observation], looks: Mapping[Key, Look], tracks: Mapping[Key, Track]
    ) -> None:
        self._observed = {(seen.code, seen.where): seen for seen in observations}
        self._looks = looks
        self._tracks = tracks
        self._causes: dict[Key, Track | None] = {}

    def order(self, keys: Iterable[Key]) -> Iterator[Key]:
        """Give ``keys`` with parents first, the same whatever order they came in."""
        wanted = set(keys)
        done: set[Key] = set()
        for key in sorted(wanted):
            for each in self._upward(key, done):
                if each in wanted:
                    yield each

    def _upward(self, key: Key, done: set[Key]) -> Iterator[Key]:
        if key in done:
            return
        done.add(key)
        for parent in self._parents(key):
            yield from self._upward(parent, done)
        yield key

    def _parents(self, key: Key) -> tuple[Key, ...]:
        seen = self._observed.get(key)
        if seen is None:
            return ()
        code, where = key
        return (*((worse, where) for worse in rules()[code].under), *seen.parents)

    def cause(self, key: Key) -> Track | None:
        """Give the alarm that explains ``key`` now, or None."""
        if key not in self._causes:
            self._causes[key] = None  # a circle explains nothing
            self._causes[key] = self._look_up(key)
        return self._causes[key]

    def _look_up(self, key: Key) -> Track | None:
        parents = [parent for parent in self._parents(key) if parent != key]
        tracks = (self._tracks.get(parent) for parent in parents)
        found = next((track for track in tracks if track is not None and track.active), None)
        if found is not None:
            return found
        through = (self.cause(parent) for parent in parents if self._look(parent) in (Look.BEYOND, Look.UNKNOWN))
        own = self._tracks.get(key)
        return next((cause for cause in through if cause is not None and cause is not own), None)

    def coming(self, key: Key) -> bool:
        """Say whether a parent's condition is seen that has not been raised yet."""
        return any(self._look(parent) is Look.BEYOND for parent in self._parents(key))

    def _look(self, key: Key) -> Look:
        if key in self._looks:
            return self._looks[key]
        return Look.CLEAR if key in self._observed else Look.UNKNOWN  # what is calm has not been looked at
