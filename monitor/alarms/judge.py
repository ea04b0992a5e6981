"""The judge: observations in, changes of alarms out. The one place where an alarm is raised, cleared or answered.

It knows no clock and no readings. The same observations give the same changes, whatever their order within a moment.
The alarms as they stand are all it needs after a restart: ``restore(alarms())`` goes on as if there had been a pause.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from drivers.files.checked import nearest
from monitor.alarms.folding import Folding
from monitor.alarms.lifecycle import ACTIVE, ASKING, Event, State, after
from monitor.alarms.model import AlarmChange, Priority
from monitor.alarms.rules import rules
from monitor.alarms.timing import Look, Timing
from monitor.alarms.track import Track

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from monitor.alarms.model import Alarm, Now, Observation
    from monitor.alarms.track import Key
    from monitor.show.model import Show

LONGEST_SHELF_MS = 24 * 3600 * 1000
_PRIORITIES = tuple(Priority)
_NOT_ACKNOWLEDGED = {
    State.ACKNOWLEDGED: "is acknowledged already",
    State.LATCHED_ACKNOWLEDGED: "is acknowledged already; it can be reset",
    State.SHELVED: "is on the shelf; take it off first",
}
_NOT_RESET = {
    State.UNACKNOWLEDGED: "can't be reset while its condition holds; acknowledge it",
    State.ACKNOWLEDGED: "can't be reset while its condition holds",
    State.RETURNED: "needs no reset; acknowledge it",
    State.LATCHED: "must be acknowledged before it can be reset",
    State.SHELVED: "is on the shelf; take it off first",
}


class CannotDo(Exception):
    """What a person asks can't be done; its text says why, in plain words."""


class Judge:
    """The alarms of one show."""

    def __init__(self, show: Show) -> None:
        self._show = show
        self._circuits = {circuit.id: circuit for circuit in show.circuits}
        self._timings: dict[Key, Timing] = {}
        self._tracks: dict[Key, Track] = {}
        self._observed: dict[Key, Observation] = {}
        self._watched: dict[Key, Observation] = {}  # the first observation of each place of each rule
        self._heard: set[Key] = set()
        self._restored: dict[Key, Alarm] = {}

    def restore(self, alarms: Iterable[Alarm]) -> None:
        """Go on from alarms as they stood, before the first moment.

        Those that the first moment doesn't observe at all are retired then: the show file no longer has their place.
        """
        for alarm in alarms:
            if alarm.state == State.NORMAL:
                continue
            key = (alarm.code, alarm.where)
            self._restored[key] = alarm
            if alarm.code in rules():
                self._tracks[key] = Track.of(alarm, rules()[alarm.code], self._timing(key))

    def alarms(self) -> tuple[Alarm, ...]:
        """Give every alarm that is not normal: most urgent first, unacknowledged before acknowledged, oldest first.

        Shelved ones come last.
        """
        return tuple(sorted((t.alarm() for t in self._tracks.values() if t.state is not State.NORMAL), key=_rank))

    def judge(self, observations: Sequence[Observation], now: Now) -> tuple[AlarmChange, ...]:
        """Take one moment; give what changed.

        Args:
            observations: every place of every rule, once each.
            now: the moment.

        """
        told = [seen for seen in observations if not seen.calm]
        self._observed = {(seen.code, seen.where): seen for seen in told}
        self._meet(told)
        changes = self._retire(now.time_ms)
        if now.resumed:
            for track in self._tracks.values():
                track.pause()
        looks = {key: self._timing(key).look(seen) for key, seen in self._observed.items()}
        busy = {key for key, look in looks.items() if look is Look.BEYOND} | self._tracks.keys()
        if busy:
            changes += self._weigh(busy, looks, Folding(observations, looks, self._tracks), now.time_ms)
            self._forget_idle()
            self._listen()
        return tuple(changes)

    def _weigh(
        self, busy: Iterable[Key], looks: Mapping[Key, Look], folding: Folding, time_ms: int
    ) -> list[AlarmChange]:
        """Let every alarm that there is something to say about take the moment."""
        befores: dict[Key, State] = {}
        order = tuple(folding.order(busy))
        for key in order:
            before = self._step(key, looks.get(key, Look.UNKNOWN), folding, time_ms)
            if before is not None:
                befores[key] = before
        for key in self._list_folded(order, looks, folding):
            befores.setdefault(key, self._tracks[key].state)
        return [AlarmChange(time_ms, self._tracks[key].alarm(), befores[key]) for key in order if key in befores]

    def _meet(self, told: Iterable[Observation]) -> None:
        """Let every teller that is new rest while its values stand clear, unless there is an alarm of it."""
        for seen in told:
            key = (seen.code, seen.where)
            if key not in self._watched:
                self._watched[key] = seen
                self._rest(key)

    def _rest(self, key: Key) -> None:
        seen = self._watched.get(key)
        if seen is not None and seen.teller is not None and key not in self._tracks:
            seen.teller.rest(*self._timing(key).clear_span(seen.limit))

    def _listen(self) -> None:
        """Have every value told where there is an alarm, and only there."""
        for key in self._tracks.keys() - self._heard:
            seen = self._watched.get(key)
            if seen is not None and seen.teller is not None:
                seen.teller.speak()
        for key in self._heard - self._tracks.keys():
            self._rest(key)
        self._heard = set(self._tracks)

    def _timing(self, key: Key) -> Timing:
        timing = self._timings.get(key)
        if timing is None:
            code, where = key
            rule, circuit = rules()[code], self._circuits.get(where.partition("/")[0])

            def setting(what: str) -> float:
                name = rule.setting(what)
                return self._show.setting(name, circuit) if name in self._show.settings else 0.0

            on_ms, off_ms = 1000.0 * setting("on_seconds"), 1000.0 * setting("off_seconds")
            timing = self._timings[key] = Timing(rule.side, on_ms, off_ms, setting("deadband") / 100.0)
        return timing

    def _track(self, key: Key) -> Track:
        track = self._tracks.get(key)
        if track is None:
            code, where = key
            track = self._tracks[key] = Track(rules()[code], where, self._timing(key))
        return track

    def _retire(self, time_ms: int) -> list[AlarmChange]:
        """Let go of restored alarms that nothing observes any more."""
        gone = [key for key in self._restored if key not in self._observed]
        changes = []
        for key in sorted(gone):
            alarm = self._restored[key]
            self._tracks.pop(key, None)
            before = State(alarm.state)
            now = replace(
                alarm,
                state=after(before, Event.RETIRED).value,
                changed_ms=time_ms,
                who="",
                why="no longer watched: the show file has changed",
                until_ms=None,
            )
            changes.append(AlarmChange(time_ms, now, before))
        self._restored.clear()
        return changes

    def _step(self, key: Key, look: Look, folding: Folding, time_ms: int) -> State | None:
        """Let one alarm take the moment; give its state before, None where it hasn't changed."""
        track, seen = self._track(key), self._observed.get(key)
        if seen is not None:
            track.note(seen, time_ms)
        cause = folding.cause(key)
        event = track.step(look, time_ms, cause, wait=cause is None and folding.coming(key))
        if track.state is State.SHELVED and (track.until_ms is None or track.until_ms <= time_ms):
            return track.apply(track.shelf_end(), time_ms, why="its shelf has ended")
        if event is None:
            return None
        why = f"folded under {cause.rule.code} at {cause.where}" if event is Event.LET_GO and cause else ""
        return track.apply(event, time_ms, why=why)

    def _list_folded(self, order: Sequence[Key], looks: Mapping[Key, Look], folding: Folding) -> set[Key]:
        """Write what each alarm explains into it; give those that explain something new."""
        news: set[Key] = set()
        for key in order:
            cause, track = folding.cause(key), self._tracks[key]
            if cause is None or looks.get(key) is not Look.BEYOND or track.active or track.worse(cause):
                continue
            if cause.state in ACTIVE:
                if key not in cause.explains:
                    news.add((cause.rule.code, cause.where))
                cause.explains[key] = track.seen
                cause.folded = tuple(sentence for _, sentence in sorted(cause.explains.items()))
        return news

    def _forget_idle(self) -> None:
        for key in [key for key, track in self._tracks.items() if track.idle]:
            del self._tracks[key]

    def acknowledge(self, code: str, where: str, who: str, time_ms: int) -> tuple[AlarmChange, ...]:
        """Take note that somebody has seen an alarm; it goes on for as long as its condition holds.

        Raises:
            CannotDo: and why.

        """
        track = self._standing(code, where)
        return self._do(track, Event.ACKNOWLEDGED, time_ms, _NOT_ACKNOWLEDGED, who=_name(who))

    def reset(self, code: str, where: str, who: str, time_ms: int) -> tuple[AlarmChange, ...]:
        """Let go of a latched alarm that has been acknowledged and whose condition has gone.

        Raises:
            CannotDo: and why.

        """
        return self._do(self._standing(code, where), Event.RESET, time_ms, _NOT_RESET, who=_name(who), why="reset")

    def shelve(self, code: str, where: str, who: str, why: str, until_ms: int, time_ms: int) -> tuple[AlarmChange, ...]:
        """Put an alarm aside until a time [ms]; one that is normal too, before work that would raise it.

        Raises:
            CannotDo: and why.

        """
        who = _name(who)
        if not why.strip():
            raise CannotDo("shelving needs a reason: say why")
        if not time_ms < until_ms <= time_ms + LONGEST_SHELF_MS:
            raise CannotDo("a shelf must end in the future, at most 24 hours from now")
        _known(code)
        if rules()[code].latched:
            raise CannotDo(f"{code} latches and can't be shelved; acknowledge it instead")
        if (code, where) not in self._watched and (code, where) not in self._tracks:
            raise CannotDo(f"nothing watches {code} at {where or 'no place'}: check the place's name")
        track = self._track((code, where))
        if track.state is State.NORMAL:
            track.since_ms = time_ms
            if (code, where) in self._watched:
                unknown = replace(self._watched[code, where], value=None, seen="")
                track.note(self._observed.get((code, where), unknown), time_ms)
            self._listen()
        refused = {State.SHELVED: "is on the shelf already; take it off first"}
        return self._do(track, Event.SHELVED, time_ms, refused, who=who, why=why.strip(), until_ms=until_ms)

    def unshelve(self, code: str, where: str, who: str, time_ms: int) -> tuple[AlarmChange, ...]:
        """Take an alarm off the shelf before its time.

        Raises:
            CannotDo: and why.

        """
        track = self._standing(code, where)
        refused = dict.fromkeys(State, "is not on the shelf")
        return self._do(track, track.shelf_end(), time_ms, refused, who=_name(who), why="taken off the shelf")

    def _standing(self, code: str, where: str) -> Track:
        track = self._tracks.get((code, where))
        if track is None or track.state is State.NORMAL:
            _known(code)
            raise CannotDo(f"no alarm {code} stands at {where or 'no place'}{self._others(where)}")
        return track

    def _others(self, where: str) -> str:
        codes = sorted(
            code for (code, at), track in self._tracks.items() if at == where and track.state != State.NORMAL
        )
        return f"; standing there: {', '.join(codes)}" if codes else ""

    def _do(  # noqa: PLR0913 - what a person's act consists of
        self,
        track: Track,
        event: Event,
        time_ms: int,
        refused: Mapping[State, str],
        *,
        who: str,
        why: str = "",
        until_ms: int | None = None,
    ) -> tuple[AlarmChange, ...]:
        by = f", by {track.who}" if track.who else ""
        before = track.apply(event, time_ms, who, why, until_ms)
        if before is None:
            raise CannotDo(f"{track.rule.code} at {track.where} {refused[track.state]}{by}")
        return (AlarmChange(time_ms, track.alarm(), before),)


def _name(who: str) -> str:
    if not who.strip():
        raise CannotDo("it needs a name: say who you are")
    return who.strip()


def _known(code: str) -> None:
    if code not in rules():
        raise CannotDo(f"there is no alarm {code or 'without a code'}; {nearest(code, tuple(rules()))}")


def _rank(alarm: Alarm) -> tuple[bool, int, bool, int, str, str]:
    state = State(alarm.state)
    priority = _PRIORITIES.index(alarm.priority)
    return (state is State.SHELVED, priority, state not in ASKING, alarm.since_ms, alarm.code, alarm.where)
