"""Figures and words, the same on every screen and in every print. Pure; a missing value is ``-``, never 0."""

from __future__ import annotations

import textwrap
from collections import Counter
from datetime import datetime
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from rich.cells import cell_len

from drivers.reading import Quality
from monitor.alarms.lifecycle import State
from monitor.dashboard.pieces import clean, fit
from monitor.engine.snapshot import Freshness

if TYPE_CHECKING:
    from collections.abc import Iterable

    from monitor.engine.snapshot import AlarmView, CircuitView, LegView, LoggerView, Measured, Snapshot, SourceView

MISSING = "-"
_WHOLE_FROM = 99.95  # from here on a tenth says nothing any more
_KILO_FROM = 9999.5
_LEAST_NAME = 16  # cells that a name keeps in a sentence
_TOLD_NOW_MS = 5_000  # a sentence that was told longer ago has its time before it
_MINUTE_S, _HOUR_S, _DAY_S = 60, 3600, 86400


def amps(value: float | None) -> str:
    """Give amps [A] as ``24.6`` or ``104``."""
    if value is None:
        return MISSING
    return f"{value:.0f}" if abs(value) >= _WHOLE_FROM else _signless_zero(f"{value:.1f}")


def limit(value: float | None) -> str:
    """Give a rating or limit [A] as ``20`` or ``12.5``."""
    return MISSING if value is None else f"{round(value, 1):g}"


def difference(value: float | None) -> str:
    """Give a difference [A] with its sign, as ``+9.1``."""
    if value is None:
        return MISSING
    text = amps(value)
    return text if value < 0 or not text.strip("0.") else f"+{text}"


def volts(value: float | None, digits: int = 0) -> str:
    """Give volts [V]."""
    return MISSING if value is None else f"{value:.{digits}f}"


def hertz(value: float | None, digits: int = 1) -> str:
    """Give hertz [Hz]."""
    return MISSING if value is None else f"{value:.{digits}f}"


def watts(value: float | None) -> str:
    """Give watts [W] as ``2905`` or ``12.3k``."""
    if value is None:
        return MISSING
    return f"{value / 1000:.1f}k" if abs(value) >= _KILO_FROM else _signless_zero(f"{value:.0f}")


def percent(value: float | None) -> str:
    """Give percent as ``71 %``."""
    return MISSING if value is None else f"{value:.0f} %"


def age(seconds: float | None) -> str:
    """Give an age [s] as ``3 s``, ``12 min``, ``5 h`` or ``2 d``, rounded down."""
    if seconds is None:
        return MISSING
    for unit, length in (("d", _DAY_S), ("h", _HOUR_S), ("min", _MINUTE_S)):
        if seconds >= length:
            return f"{int(seconds // length)} {unit}"
    return f"{int(max(seconds, 0))} s"


def length(seconds: float) -> str:
    """Give a length of time [s] to about three figures, as ``0.02 s``, ``45 s``, ``2.5 min`` or ``1 h``."""
    if seconds >= _HOUR_S:
        return f"{seconds / _HOUR_S:.3g} h"
    return f"{seconds / _MINUTE_S:.3g} min" if seconds >= _MINUTE_S else f"{seconds:.3g} s"


def moment(time_ms: int, timezone: str) -> datetime:
    """Give a moment of the log's clock in the show's zone."""
    return datetime.fromtimestamp(time_ms / 1000, ZoneInfo(timezone))


def legs(names: Iterable[str]) -> str:
    """Give a circuit's legs as ``L1`` or ``L1+2``."""
    first, *rest = names
    return "+".join([first, *(name.removeprefix("L") for name in rest)])


def no_reading(measured: Measured) -> str:
    """Say why a place shows no live figures; empty while it is live."""
    match measured.freshness:
        case Freshness.LIVE:
            return ""
        case Freshness.UNMETERED:
            return "not measured"
        case Freshness.NEVER:
            return f"no reading yet{_because(measured.quality)}"
        case Freshness.OLD:
            kind = "reading" if measured.quality in {None, Quality.SILENT, Quality.GOOD} else "good reading"
            return f"no {kind} for {age(measured.age_s)}{_because(measured.quality)}"


def last_good(measured: Measured) -> str:
    """Give the last good amps of a place that is not live, in brackets so that nobody takes them for live."""
    if measured.freshness is not Freshness.OLD:
        return ""
    return f"(last {amps(measured.amps)} A)" if measured.amps is not None else ""


def with_last(measured: Measured, width: int) -> str:
    """Say why a place is not live, followed by its last good amps where ``width`` cells hold both."""
    why, last = no_reading(measured), last_good(measured)
    return f"{why} {last}" if last and len(why) + 1 + len(last) <= width else why


def logger_state(logger: LoggerView) -> str:
    """Say in a few words whether the readings are being kept."""
    if not logger.running:
        return "LOGGER STOPPED"
    if logger.not_kept or logger.problem:
        many = f"{logger.not_kept} reading{'' if logger.not_kept == 1 else 's'} NOT KEPT"
        return f"{many if logger.not_kept else 'LOG'}{': ' if logger.problem else ''}{logger.problem}"
    if logger.last_commit_age_s is None:
        return "nothing logged yet"
    return f"logged {age(logger.last_commit_age_s)} ago"


def power(source: SourceView) -> str:
    """Say what the source gives, against its rating."""
    if source.kilowatts is None:
        metered = any(leg.measured.freshness is not Freshness.UNMETERED for leg in source.legs)
        return "kW: no live reading of every leg" if metered else "kW not measured"
    at_most = "" if source.kilowatts_measured else "at most "
    rated = "" if source.rated_kw is None else f" of {source.rated_kw:g} kW, {percent(source.percent)}"
    return f"{at_most}{source.kilowatts:.1f} kW{rated}"


def cycles(source: SourceView) -> str:
    """Say what the source's hertz are."""
    return "hertz not known" if source.hertz is None else f"{hertz(source.hertz, 2)} Hz"


def state(alarm: AlarmView, timezone: str, *, short: bool = False) -> str:
    """Say the state in the standard's words, and whose name stands on it."""
    said: tuple[str, ...]
    by = f"{'' if short else 'by '}{clean(alarm.who)}" if alarm.who else ""
    match alarm.state:
        case State.ACKNOWLEDGED:
            said = ("ack." if short else "acknowledged", by)
        case State.LATCHED_ACKNOWLEDGED:
            said = ("latched," if by or not short else "latched", "" if short else "acknowledged", by)
        case State.LATCHED:
            said = ("latched" if short else "latched, not acknowledged",)
        case State.RETURNED:
            said = ("returned" if short else "returned, not acknowledged",)
        case State.SHELVED:
            until = "" if alarm.until_ms is None else f"until {moment(alarm.until_ms, timezone):%H:%M}"
            said = ("" if short and until else "shelved", until, by)
        case _:
            said = (alarm.state,)
    return " ".join(part for part in said if part)


def told(alarm: AlarmView, snapshot: Snapshot, room: int | None = None) -> str:
    """Give an alarm's sentence, with the time of its figures before it where they are not of now.

    Args:
        alarm: what is told.
        snapshot: in which it stands.
        room: cells that there are; seconds and a long name give way to the figures behind them.

    """
    text = clean(alarm.text)
    at = alarm.changed_ms if alarm.told_ms is None else alarm.told_ms
    when = short = ""
    if at is not None and snapshot.time_ms - at > _TOLD_NOW_MS:
        time, word = moment(at, snapshot.timezone), "before" if alarm.told_ms is None else "at"
        when, short = f"{word} {time:%H:%M:%S} ", f"{word} {time:%H:%M} "
    if room is None or cell_len(when + text) <= room:
        return when + text
    return short + _with_shorter_name(text, alarm, snapshot, cell_len(short + text) - room)


def _with_shorter_name(text: str, alarm: AlarmView, snapshot: Snapshot, over: int) -> str:
    names = {each.id: each.name for each in snapshot.circuits} | {each.id: each.name for each in snapshot.feeders}
    name = clean(names.get(alarm.where.partition("/")[0], ""))
    shorter = fit(name, min(cell_len(name), max(cell_len(name) - max(over, 0), _LEAST_NAME)))
    return text.replace(name, shorter, 1) if name else text


def places(snapshot: Snapshot) -> frozenset[str]:
    """Give the places that a note can be about."""
    return frozenset({"source", *(box.id for box in snapshot.feeders), *(each.id for each in snapshot.circuits)})


def wrapped(text: str, width: int) -> list[str]:
    """Break a sentence into lines of at most ``width`` cells, without anything that could steer a terminal."""
    return textwrap.wrap(clean(text), max(width, 1))


def nothing_wrong(snapshot: Snapshot) -> str:
    """Say what an empty list of wrong things means, and how far it reaches."""
    at_legs = [*snapshot.source.legs, *(leg for feeder in snapshot.feeders for leg in feeder.legs)]
    places = [*(circuit.measured for circuit in snapshot.circuits), *(leg.measured for leg in at_legs)]
    if not any(place.live for place in places):
        return "No live reading: nothing can be said about the present."
    shelved = any(alarm.state == State.SHELVED for alarm in snapshot.alarms)
    said = f"No alarm stands in what is measured{', apart from what is shelved' if shelved else ''}."
    for what, state in (("Not measured", {Freshness.UNMETERED}), ("No reading", {Freshness.OLD, Freshness.NEVER})):
        counted = _counted(snapshot.circuits, at_legs, state)
        said += f" {what}: {counted}." if counted else ""
    return said


def _counted(circuits: Iterable[CircuitView], at_legs: Iterable[LegView], state: set[Freshness]) -> str:
    count = Counter(
        [
            *("circuit" for circuit in circuits if circuit.measured.freshness in state),
            *("leg" for leg in at_legs if leg.measured.freshness in state),
        ]
    )
    return ", ".join(f"{number} {word}{'' if number == 1 else 's'}" for word, number in count.items())


def _because(quality: Quality | None) -> str:
    return "" if quality in {None, Quality.GOOD} else f": {quality}"


def _signless_zero(text: str) -> str:
    return text.removeprefix("-") if not text.strip("-0.") else text
