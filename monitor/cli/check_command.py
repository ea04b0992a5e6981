"""``legwatch check``."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

import click

from drivers.files.faults import FileFaults
from drivers.reading import Quality
from monitor.cautions import SHORT
from monitor.cli.errors import FOUND_WRONG, USED_WRONGLY, guarded
from monitor.cli.prose import counted, say
from monitor.electrical.fuel import source_faults
from monitor.engine.memory import carries_values
from monitor.engine.watch import Watch
from monitor.recorder.polling import PointNames, poll_each_once
from monitor.show.loading import load_show
from monitor.show.remarks import remarks

if TYPE_CHECKING:
    from collections.abc import Mapping

    from drivers.reading import MeterPoll
    from monitor.engine.reading import Reading
    from monitor.show.model import Circuit, Show

STAYS_S = 6  # some rules look at several readings in a row


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is wrong or worth knowing; ``severity`` is ``wrong`` or ``remark``."""

    severity: str
    where: str
    text: str


@click.command(epilog=SHORT)
@click.argument("show_file", metavar="SHOW", type=click.Path(path_type=Path))
@click.option("--file-only", is_flag=True, help="Read the file and stop: no meter is asked.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@guarded
def command(show_file: Path, *, file_only: bool, as_json: bool) -> None:
    """Read SHOW, telling every fault at once, then ask each of its meters once.

    For every meter: whether it answers, how fast, and what it reads at each point; then what is wrong: silence,
    volts outside the limits of the system and the legs, values that can't be. Do this before any load is connected.

    Exit code: 0 nothing wrong found (that is all it says); 1 something wrong; 2 used wrongly.
    """
    try:
        show = load_show(show_file)
    except FileFaults as faults:
        _file_faults(faults, as_json=as_json)
        raise SystemExit(FOUND_WRONG if show_file.is_file() else USED_WRONGLY) from None
    found = [Finding("remark", remark.where, remark.text) for remark in remarks(show)]
    found += [Finding("wrong", "source.fuel", text) for text in source_faults(show.source)]
    polls = () if file_only else poll_each_once(show)
    found += _wrong(show, polls)
    if as_json:
        click.echo(json.dumps(_json(show, polls, found), indent=1, ensure_ascii=False))
    else:
        _print(show, polls, found, file_only=file_only)
    if any(finding.severity == "wrong" for finding in found):
        raise SystemExit(FOUND_WRONG)


def _readings(show: Show, polls: tuple[MeterPoll, ...]) -> list[Reading]:
    names = PointNames(show)
    return [reading for poll in polls for reading in names.readings(poll, poll.at.wall_ms)]


def _wrong(show: Show, polls: tuple[MeterPoll, ...]) -> list[Finding]:
    """Judge the one round of readings as it would be live if it stayed so, without waiting for any delay."""
    readings = sorted(_readings(show, polls), key=lambda reading: reading.time_ms)
    if not readings:
        return []
    watch = Watch(_without_delays(show))
    for second in range(STAYS_S):
        later = [replace(reading, time_ms=reading.time_ms + 1000 * second) for reading in readings]
        watch.advance(later, later[-1].time_ms)
    return [Finding("wrong", alarm.where, alarm.seen) for alarm in watch.judge.alarms()]


def _without_delays(show: Show) -> Show:
    settings = {name: 0.0 if name.endswith("_on_seconds") else value for name, value in show.settings.items()}
    circuits = tuple(replace(circuit, settings=_kept(circuit)) for circuit in show.circuits)
    return replace(show, settings=MappingProxyType(settings), circuits=circuits)


def _kept(circuit: Circuit) -> Mapping[str, float]:
    return {name: value for name, value in circuit.settings.items() if not name.endswith("_on_seconds")}


def _file_faults(faults: FileFaults, *, as_json: bool) -> None:
    if as_json:
        rows = [{"severity": "wrong", "where": f.key, "line": f.line, "text": f.text} for f in faults.faults]
        click.echo(json.dumps({"file": faults.faults[0].file, "meters": [], "findings": rows}, indent=1))
    else:
        click.echo(str(faults), err=True)
        click.echo(f"{counted(len(faults.faults), 'fault')} found in the file; no meter was asked", err=True)


def _json(show: Show, polls: tuple[MeterPoll, ...], found: list[Finding]) -> dict[str, object]:
    meters = [
        {
            "bus": poll.bus,
            "unit": poll.unit,
            "seconds": round(poll.latency_s, 4),
            "points": [
                {
                    "point": str(r.point),
                    "volts": r.values.volts,
                    "amps": r.values.amps,
                    "hertz": r.values.hertz,
                    "watts": r.values.watts,
                    "quality": r.quality.value,
                    "detail": r.detail,
                }
                for r in _readings(show, (poll,))
            ],
        }
        for poll in polls
    ]
    rows = [{"severity": f.severity, "where": f.where, "text": f.text} for f in found]
    return {"show": show.name, "meters": meters, "findings": rows}


def _print(show: Show, polls: tuple[MeterPoll, ...], found: list[Finding], *, file_only: bool) -> None:
    parts = ((show.circuits, "circuit"), (show.feeders, "feeder"), (show.meters, "meter"))
    places = ", ".join(counted(len(found), word) for found, word in parts)
    say(f"{show.name}: the file reads well: {places}")
    for poll in polls:
        readings = _readings(show, (poll,))
        good = any(r.quality is Quality.GOOD for r in readings)
        answers = f"answers in {1000 * poll.latency_s:.0f} ms" if good else "gives no good reading"
        click.echo(f"\nbus {poll.bus} unit {poll.unit} {answers}")
        for line in _lines(readings):
            say(f"  {line}", indent="    ")
    click.echo()
    for finding in found:
        say(f"{finding.severity}: {finding.where}: {finding.text}", indent="  ")
    wrong = sum(finding.severity == "wrong" for finding in found)
    asked = "no meter was asked" if file_only else f"{counted(len(polls), 'meter')} asked once"
    click.echo(f"{wrong} wrong, {counted(len(found) - wrong, 'remark')}; {asked}.\n")
    say(SHORT)


def _lines(readings: list[Reading]) -> list[str]:
    """Give a line a point; where all of a meter's points fail for one reason, that reason once."""
    reasons = {(r.quality, r.detail) for r in readings}
    if len(reasons) == 1 and all(r.quality is not Quality.GOOD and not carries_values(r) for r in readings):
        ((quality, detail),) = reasons
        points = ", ".join(str(r.point) for r in readings)
        return [f"{points}: no values ({quality}: {detail})" if detail else f"{points}: no values ({quality})"]
    return [_line(reading) for reading in readings]


def _line(reading: Reading) -> str:
    v = reading.values
    figures = (("V", v.volts, 1), ("A", v.amps, 2), ("Hz", v.hertz, 2), ("W", v.watts, 0))
    told = "  ".join(f"{value:.{digits}f} {unit}" for unit, value, digits in figures if value is not None)
    why = f"{reading.quality}: {reading.detail}" if reading.detail else str(reading.quality)
    return f"{reading.point!s:<12} {told or 'no values'}" + ("" if reading.quality is Quality.GOOD else f"  ({why})")
