"""The screen's twins for scripts, screen readers and simple terminals: lines of text, and JSON. Loads no Textual."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

from monitor.alarms.lifecycle import State
from monitor.alarms.model import Priority
from monitor.dashboard import words
from monitor.dashboard.needs import key_of
from monitor.dashboard.pieces import clean, fit, right
from monitor.dashboard.plaintold import buses_data, heat_data, meter_texts, source_data, source_texts
from monitor.dashboard.shown import as_shown
from monitor.engine.snapshot import Freshness

if TYPE_CHECKING:
    from monitor.engine.snapshot import AlarmView, CircuitView, FeederView, LegView, Measured, Snapshot

_WIDTH = 80
_FIGURES = ("volts", "amps", "hertz", "watts", "power_factor")


def snapshot_lines(snapshot: Snapshot) -> list[str]:
    """Give a Snapshot as lines of at most 80 cells, most urgent first, without colour and without glyphs of ours.

    Names that the user wrote are kept as they are, but for characters that could steer a terminal.
    """
    shown = as_shown(snapshot)
    at = words.moment(shown.time_ms, shown.timezone).isoformat(" ", "seconds")
    lines = _wrapped(f"{shown.show_name}, {at}; {words.logger_state(shown.logger)}", "")
    lines += _wrong(shown)
    lines += _source(shown)
    for feeder in shown.feeders:
        lines += _feeder(feeder)
    lines.append(_HEADER)
    lines += [_circuit(circuit) for circuit in shown.circuits]
    for text in meter_texts(shown):
        lines += _wrapped(text.lstrip(), "  " if text.startswith(" ") else "")
    return [line.rstrip() for line in lines]


def snapshot_json(snapshot: Snapshot) -> dict[str, Any]:
    """Give a Snapshot as plain data for ``json.dumps``.

    ``volts`` to ``power_factor`` are null unless live; the last good values of a place that is not live stand under
    ``last_good``. Times are ISO 8601 in the show's zone with its offset; units are those of ``Snapshot``.
    """
    shown = as_shown(snapshot)
    logger, source = shown.logger, shown.source
    return {
        "time": _iso(shown.time_ms, shown),
        "show": shown.show_name,
        "logger": {
            "running": logger.running,
            "last_commit_age_s": logger.last_commit_age_s,
            "not_kept": logger.not_kept,
            "problem": logger.problem,
            "log": logger.log_path,
            "cut_off": logger.cut_off,
        },
        "wrong": [_alarm_data(wrong, shown) for wrong in shown.wrong],
        "alarms": [_alarm_data(alarm, shown) for alarm in shown.alarms],
        "source": {
            "name": source.name,
            "system": source.system,
            "nominal_hertz": source.nominal_hertz,
            "hertz": source.hertz,
            "kilowatts": source.kilowatts,
            "kilowatts_measured": source.kilowatts_measured,
            "rated_kw": source.rated_kw,
            "percent": source.percent,
            "legs": [_leg_data(leg) for leg in source.legs],
            **source_data(shown),
        },
        "feeders": [
            {
                "id": feeder.id,
                "name": feeder.name,
                "fed_from": feeder.fed_from,
                "legs": [_leg_data(leg) for leg in feeder.legs],
            }
            for feeder in shown.feeders
        ],
        "circuits": [_circuit_data(circuit) for circuit in shown.circuits],
        "told": shown.told,
        "buses": buses_data(shown),
    }


def _wrapped(text: str, indent: str) -> list[str]:
    return textwrap.wrap(clean(text), _WIDTH, initial_indent=indent, subsequent_indent=indent + "  ")


def _wrong(shown: Snapshot) -> list[str]:
    if not shown.logger.running:
        age = words.age(shown.logger.last_commit_age_s)
        lines = _wrapped(f"LOGGER STOPPED: nothing here is live. Last written: {age} ago, {shown.logger.log_path}", "")
        lines += ["When it stopped:"] if shown.wrong else []
    elif shown.logger.cut_off:
        lines = _wrapped("LOG NOT WRITTEN: nothing here is live, though the logger runs; see its problem above", "")
        lines += ["When it was last written:"] if shown.wrong else []
    else:
        lines = ["Wrong now:"] if shown.wrong else _wrapped(words.nothing_wrong(shown), "")
    for wrong in shown.wrong:
        lines += _alarm(wrong, shown)
    standing = {key_of(wrong) for wrong in shown.wrong}
    aside = [alarm for alarm in shown.alarms if key_of(alarm) not in standing]
    lines += ["Also standing:"] if aside else []
    for alarm in aside:
        lines += _alarm(alarm, shown)
    return lines


def _alarm(alarm: AlarmView, shown: Snapshot) -> list[str]:
    since = words.moment(alarm.since_ms, shown.timezone).strftime("%H:%M:%S")
    state = words.state(alarm, shown.timezone) + (f" ({alarm.why})" if alarm.why else "")
    lines = _wrapped(f"{alarm.weight.upper()}: {words.told(alarm, shown)}, since {since}; {state}", "  ")
    urges = alarm.weight is not Priority.LOW and alarm.state not in {State.SHELVED, State.RETURNED}
    return lines + (_wrapped(f"Do now: {alarm.do}", "      ") if alarm.do and urges else [])


def _source(shown: Snapshot) -> list[str]:
    source = shown.source
    said = f"Source: {source.name}, {source.system} V: {words.power(source)}, {words.cycles(source)}"
    lines = _wrapped(said, "")
    for leg in source.legs:
        lines += _wrapped(_leg(leg), "  ")
    for text in source_texts(shown):
        lines += _wrapped(text, "  ")
    return lines


def _feeder(feeder: FeederView) -> list[str]:
    name = "" if feeder.name == feeder.id else f" {feeder.name}"
    return _wrapped(f"{feeder.id}{name}, from {feeder.fed_from}: {'; '.join(_leg(leg) for leg in feeder.legs)}", "")


def _leg(leg: LegView) -> str:
    of = "" if leg.limit_amps is None else f" of {words.limit(leg.limit_amps)} A"
    if leg.measured.live:
        share = "" if leg.percent is None else f", {words.percent(leg.percent)}"
        at = "" if leg.measured.volts is None else f", {words.volts(leg.measured.volts, 1)} V"
        return f"{leg.leg} {words.amps(leg.measured.amps)} A{of}{share}{at}"
    if leg.measured.freshness is Freshness.UNMETERED and leg.circuits_amps is not None:
        return f"{leg.leg} not measured, its live circuits add up to {words.amps(leg.circuits_amps)} A{of}"
    return f"{leg.leg} {words.no_reading(leg.measured)} {words.last_good(leg.measured)}".rstrip()


_COLUMNS = (("amps", 5), ("plan", 5), ("of", 4), ("%", 4), ("volts", 5), ("Hz", 4), ("watts", 5), ("age", 5))
_HEADER = f"{'id':<7} {'name':<12} {'box':<7} {'leg':<6} " + " ".join(right(name, width) for name, width in _COLUMNS)


def _circuit(circuit: CircuitView) -> str:
    head = f"{fit(circuit.id, 7)} {fit(circuit.name, 12)} {fit(circuit.box, 7)} {fit(words.legs(circuit.legs), 6)} "
    measured = circuit.measured
    if not measured.live:
        return head + words.with_last(measured, _WIDTH - len(head))
    share = words.MISSING if circuit.percent is None else f"{circuit.percent:.0f}"
    figures = (
        words.amps(measured.amps),
        words.amps(circuit.planned_amps),
        words.limit(circuit.rated_amps),
        share,
        words.volts(measured.volts, 1),
        words.hertz(measured.hertz),
        words.watts(measured.watts),
        words.age(measured.age_s),
    )
    return head + " ".join(right(text, width) for text, (_, width) in zip(figures, _COLUMNS, strict=True))


def _iso(time_ms: int, shown: Snapshot) -> str:
    return words.moment(time_ms, shown.timezone).isoformat(timespec="milliseconds")


def _alarm_data(alarm: AlarmView, shown: Snapshot) -> dict[str, Any]:
    return {
        "code": alarm.code,
        "weight": alarm.weight.value,
        "where": alarm.where,
        "text": alarm.text,
        "seen": None if alarm.told_ms is None else _iso(alarm.told_ms, shown),
        "since": _iso(alarm.since_ms, shown),
        "state": alarm.state,
        "changed": None if alarm.changed_ms is None else _iso(alarm.changed_ms, shown),
        "means": alarm.means,
        "do": alarm.do,
        "cannot_know": alarm.cannot_know,
        "folded": list(alarm.folded),
        "who": alarm.who,
        "why": alarm.why,
        "until": None if alarm.until_ms is None else _iso(alarm.until_ms, shown),
    }


def _leg_data(leg: LegView) -> dict[str, Any]:
    return {
        "leg": leg.leg,
        **_measured_data(leg.measured),
        "circuits_amps": leg.circuits_amps,
        "limit_amps": leg.limit_amps,
        "percent": leg.percent,
        "nominal_volts": leg.nominal_volts,
    }


def _circuit_data(circuit: CircuitView) -> dict[str, Any]:
    return {
        "id": circuit.id,
        "name": circuit.name,
        "box": circuit.box,
        "legs": list(circuit.legs),
        **_measured_data(circuit.measured),
        "nominal_volts": circuit.nominal_volts,
        "planned_amps": circuit.planned_amps,
        "continuous_amps": circuit.continuous_amps,
        "rated_amps": circuit.rated_amps,
        "percent": circuit.percent,
        "over_plan_amps": circuit.over_plan_amps,
        "heat": heat_data(circuit.heat),
        "by_leg": [{"leg": leg, **_measured_data(measured)} for leg, measured in circuit.by_leg],
    }


def _measured_data(measured: Measured) -> dict[str, Any]:
    figures = {name: getattr(measured, name) for name in _FIGURES}
    nothing: dict[str, float | None] = dict.fromkeys(_FIGURES)
    return {
        **(figures if measured.live else nothing),
        "freshness": measured.freshness.value,
        "age_s": measured.age_s,
        "quality": None if measured.quality is None else measured.quality.value,
        "detail": measured.detail,
        "last_good": figures if measured.freshness is Freshness.OLD else None,
    }
