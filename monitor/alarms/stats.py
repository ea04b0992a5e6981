"""How many alarms there were, beside what is published about how many a person can follow.

The figures' definitions and limits stand in ``config/standards/alarms.toml`` with their sources. An alarm counts each
time it comes to be unacknowledged: raised, raised again, or back from a shelf with its condition holding.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from monitor.alarms.lifecycle import ACTIVE, State
from monitor.alarms.model import Priority
from monitor.electrical.tables import table

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from monitor.alarms.model import AlarmChange

TEN_MINUTES_MS, MINUTE_MS, DAY_MS = 600_000, 60_000, 86_400_000
_TOP = 10
_HOUR = 60


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure beside its guidance.

    Attributes:
        name: ``rate``, ``peak``, ``flood`` ...
        value: in ``unit``; None where there is nothing to count it from.
        unit: what the value counts.
        guidance: what is published, in words.
        source: where.
        within: whether the value is within the guidance; None where that can't be said.
        why_not: why that can't be said although there is a value and a limit: too little data; else empty.

    """

    name: str
    value: float | None
    unit: str
    guidance: str
    source: str
    within: bool | None
    why_not: str = ""


@dataclass(frozen=True, slots=True)
class Flood:
    """More alarms than a person can follow.

    Attributes:
        begin_ms: when the limit was passed [ms].
        end_ms: when it was over, or the end of the data [ms].
        alarms: how many came in it, with those of the 10 min that made it one.
        over: False where it lasted to the end of the data.

    """

    begin_ms: int
    end_ms: int
    alarms: int
    over: bool = True


@dataclass(frozen=True, slots=True)
class Cause:
    """One alarm that came often.

    Attributes:
        code: of the rule.
        where: the place.
        times: how often it came.
        percent: of all alarms [%].

    """

    code: str
    where: str
    times: int
    percent: float


@dataclass(frozen=True, slots=True)
class Stats:
    """The alarms of a time.

    Attributes:
        begin_ms: of the time [ms].
        end_ms: of the time [ms].
        alarms: how many came.
        figures: each beside its guidance.
        floods: in order.
        chattering: (code, where) of what came three times within a minute.
        stale: (code, where) of what held for more than 24 h.
        top: the ten most frequent.

    """

    begin_ms: int
    end_ms: int
    alarms: int
    figures: tuple[Figure, ...]
    floods: tuple[Flood, ...]
    chattering: tuple[tuple[str, str], ...]
    stale: tuple[tuple[str, str], ...]
    top: tuple[Cause, ...]


def stats(changes: Sequence[AlarmChange], begin_ms: int, end_ms: int) -> Stats:
    """Count the alarms of a time.

    Args:
        changes: every change of the log in that time, oldest first.
        begin_ms: of the time [ms].
        end_ms: of the time, after ``begin_ms`` [ms].

    """
    came = [change for change in changes if _comes(change) and begin_ms <= change.time_ms <= end_ms]
    times = [change.time_ms for change in came]
    floods = tuple(_floods(times, end_ms))
    chattering, stale, top = _chattering(came), _stale(changes, end_ms), _top(came)
    span_ms = max(end_ms - begin_ms, 0)
    priorities = Counter(change.alarm.priority for change in came)
    values: dict[str, float | None] = {
        "rate": len(came) * TEN_MINUTES_MS / span_ms if span_ms else None,
        "peak": float(max((count for _, count in _sliding(times, TEN_MINUTES_MS)), default=0)),
        "flood": 100.0 * sum(f.end_ms - f.begin_ms for f in floods) / span_ms if span_ms else None,
        "chattering": float(len(chattering)),
        "stale": float(len(stale)),
        "top": sum(cause.percent for cause in top) if came else None,
        **{each.value: 100.0 * priorities[each] / len(came) if came else None for each in reversed(Priority)},
        "span": span_ms / DAY_MS,
    }
    figures = tuple(_figure(name, value, span_ms, len(came)) for name, value in values.items())
    return Stats(begin_ms, end_ms, len(came), figures, floods, chattering, stale, top)


def _guidance(name: str) -> dict[str, Any]:
    entry: dict[str, Any] = table("alarms")["guidance"][name]
    return entry


def _figure(name: str, value: float | None, span_ms: int, alarms: int) -> Figure:
    """Hold a figure against its guidance, which is about a time and a number of alarms: from less nothing follows.

    What more data can't lower is outside whatever they are.
    """
    entry = _guidance(name)
    within, why_not = None, ""
    if value is not None and "limit" in entry:
        why_not = _too_little(entry, span_ms, alarms)
        grown = value > entry["limit"] and entry.get("only_grows", False)
        within = False if grown else None if why_not else value <= entry["limit"]
    return Figure(
        name, value, entry["unit"], entry["text"], entry["source"], within, "" if within is False else why_not
    )


def _too_little(entry: dict[str, Any], span_ms: int, alarms: int) -> str:
    minutes, least = entry.get("needs_minutes", 0), entry.get("needs_alarms", 0)
    if span_ms < minutes * MINUTE_MS:
        time = f"{minutes / 60:g} h" if minutes >= _HOUR else f"{minutes:g} min"
        return f"too short to judge: that takes {time} of data"
    return f"too few alarms to judge: that takes {least}" if alarms < least else ""


def _comes(change: AlarmChange) -> bool:
    return change.alarm.state == State.UNACKNOWLEDGED and change.before != State.UNACKNOWLEDGED


def _sliding(times: Sequence[int], window_ms: int) -> Iterator[tuple[int, int]]:
    """Give, whenever it changes, how many ``times`` [ms] lie in the window that ends there, as (time, count)."""
    steps = sorted([(time_ms + window_ms, -1) for time_ms in times] + [(time_ms, 1) for time_ms in times])
    count = 0
    for time_ms, step in steps:  # what leaves a window goes before what comes at the same moment
        count += step
        yield time_ms, count


def _floods(times: Sequence[int], end_ms: int) -> Iterator[Flood]:
    entry = _guidance("flood")
    began: int | None = None
    for time_ms, count in _sliding(times, TEN_MINUTES_MS):
        if began is None and count > entry["begins_above"]:
            began = time_ms
        elif began is not None and count < entry["ends_below"] and time_ms <= end_ms:
            yield Flood(began, time_ms, _within(times, began - TEN_MINUTES_MS, time_ms))
            began = None
    if began is not None:
        yield Flood(began, end_ms, _within(times, began - TEN_MINUTES_MS, end_ms), over=False)


def _within(times: Iterable[int], after_ms: int, until_ms: int) -> int:
    return sum(after_ms < time_ms <= until_ms for time_ms in times)


def _chattering(came: Iterable[AlarmChange]) -> tuple[tuple[str, str], ...]:
    times: defaultdict[tuple[str, str], list[int]] = defaultdict(list)
    for change in came:
        times[change.alarm.code, change.alarm.where].append(change.time_ms)
    least = _guidance("chattering")["times"]
    return tuple(
        key for key, each in sorted(times.items()) if any(count >= least for _, count in _sliding(each, MINUTE_MS))
    )


def _stale(changes: Iterable[AlarmChange], end_ms: int) -> tuple[tuple[str, str], ...]:
    """Give what held for more than a day at a stretch; what began before the data counts from when it began."""
    since: dict[tuple[str, str], int] = {}
    stale: set[tuple[str, str]] = set()
    for change in changes:
        key = change.alarm.code, change.alarm.where
        if change.alarm.state in ACTIVE:
            since[key] = change.alarm.since_ms
        elif change.before in ACTIVE:
            began = since.pop(key, change.alarm.since_ms)
            if change.time_ms - began > DAY_MS:
                stale.add(key)
    stale |= {key for key, began in since.items() if end_ms - began > DAY_MS}
    return tuple(sorted(stale))


def _top(came: Sequence[AlarmChange]) -> tuple[Cause, ...]:
    counts = Counter((change.alarm.code, change.alarm.where) for change in came)
    most = sorted(counts.items(), key=lambda item: (-item[1], item[0]))[:_TOP]
    return tuple(Cause(code, where, times, 100.0 * times / len(came)) for (code, where), times in most)
