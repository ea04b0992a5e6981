"""``legwatch check``."""

from __future__ import annotations

import json
import sys
from contextlib import nullcontext, redirect_stdout
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click

from drivers.files.faults import FileFaults
from monitor.cautions import SHORT
from monitor.cli import check_handheld as handheld
from monitor.cli.check_findings import Finding, budgets, findings, readings_of
from monitor.cli.check_rounds import ask
from monitor.cli.check_text import budget_line, print_end, print_findings, print_meters, print_places
from monitor.cli.doctor_checks import clock
from monitor.cli.errors import FOUND_WRONG, USED_WRONGLY, fail, guarded
from monitor.cli.prose import counted, say
from monitor.cli.session import default_log
from monitor.electrical.fuel import source_faults
from monitor.show.loading import load_show
from monitor.show.remarks import remarks

if TYPE_CHECKING:
    from collections.abc import Sequence

    from monitor.cli.check_handheld import ByHand, Compared
    from monitor.cli.check_rounds import Asked
    from monitor.show.model import Show

_CLOCK_BACK_S = 2.0


@click.command(epilog=SHORT)
@click.argument("show_file", metavar="SHOW", type=click.Path(path_type=Path))
@click.option("--file-only", is_flag=True, help="Read the file and stop: no meter is asked.")
@click.option(
    "--handheld",
    "by_hand",
    metavar="POINT=VALUE",
    type=handheld.HandheldType(),
    multiple=True,
    help="What your own instrument shows there now, as A1=12.3 or A1/L1=119.8V: compared, and kept in the log.",
)
@click.option("--by", "who", metavar="NAME", help="Who measured. Default: your login name.")
@click.option("--log", "log_file", type=click.Path(path_type=Path), help="The log. Default: beside SHOW, NAME.sqlite.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@guarded
def command(
    show_file: Path,
    by_hand: tuple[ByHand, ...],
    who: str | None,
    log_file: Path | None,
    *,
    file_only: bool,
    as_json: bool,
) -> None:
    """Read SHOW, telling every fault at once, then ask each of its meters a few times.

    For every meter: whether it answers, how fast, and what it reads at each point; how often its bus can read it;
    then what is wrong, each with what to do: silence, garbled answers, volts that another system or another tap has,
    current transformers that seem turned or on another leg, scales that don't agree. Run it before any load is
    connected, then again with one known load after the other.

    Exit code: 0 nothing wrong found (that is all it says); 1 something wrong; 2 used wrongly.
    """
    if file_only and by_hand:
        fail("legwatch: --handheld needs the meters: leave --file-only out")
    show = _loaded(show_file, as_json=as_json)
    log = log_file or default_log(show_file)
    for fault in handheld.points_faults(show, by_hand):
        fail(f"legwatch: {fault}")
    found = [Finding("remark", remark.where, remark.text) for remark in remarks(show)]
    found += [Finding("wrong", "source.fuel", text) for text in source_faults(show.source)]
    asked = () if file_only else ask(show)
    told = _clock(found, log)
    found += findings(show, asked)
    compared = handheld.compare(show, by_hand, readings_of(show, asked), log) if by_hand else []
    found += handheld.findings(compared)
    if as_json:
        click.echo(json.dumps(_json(show, asked, found, compared), indent=1, ensure_ascii=False))
    else:
        _print(show, asked, found, compared, told if asked else "", log)
        print_end(asked, found, file_only=file_only)
    with redirect_stdout(sys.stderr) if as_json else nullcontext():
        handheld.keep(show, compared, who or handheld.known_name(), log)
    if any(finding.severity == "wrong" for finding in found):
        raise SystemExit(FOUND_WRONG)


def _loaded(show_file: Path, *, as_json: bool) -> Show:
    try:
        return load_show(show_file)
    except FileFaults as faults:
        _file_faults(faults, as_json=as_json)
        raise SystemExit(FOUND_WRONG if show_file.is_file() else USED_WRONGLY) from None


def _file_faults(faults: FileFaults, *, as_json: bool) -> None:
    if as_json:
        rows = [{"severity": "wrong", "where": f.key, "line": f.line, "text": f.text} for f in faults.faults]
        click.echo(json.dumps({"file": faults.faults[0].file, "meters": [], "findings": rows}, indent=1))
    else:
        click.echo(str(faults), err=True)
        click.echo(f"{counted(len(faults.faults), 'fault')} found in the file; no meter was asked", err=True)


def _clock(found: list[Finding], log: Path) -> str:
    """Judge the computer's clock: give a line on it, and a finding where it can't be right."""
    state = next(iter(clock()))
    behind_s = handheld.behind_log(log)
    do = "set the clock before logging; a computer without a clock battery needs a time server or setting by hand"
    if state.state == "wrong":
        found.append(Finding("wrong", "clock", state.text, do, "clock-not-set"))
    elif behind_s > _CLOCK_BACK_S:
        text = f"the computer's clock is {behind_s:.0f} s behind the newest entry of {log}: it was set back or not kept"
        found.append(Finding("wrong", "clock", text, do, "clock-behind"))
    return f"clock: {state.text}" + (f"; {state.do}" if state.do else "")


def _json(
    show: Show, asked: Sequence[Asked], found: Sequence[Finding], compared: Sequence[Compared]
) -> dict[str, object]:
    meters = [
        {
            "bus": one.meter.bus,
            "unit": one.meter.unit,
            "seconds": round(one.latency_s if one.latency_s is not None else one.best.latency_s, 4),
            "rounds": len(one.polls),
            "answered": one.answered,
            "garbled": one.garbled,
            "spacing_seconds": one.spacing_s,
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
                for r in readings_of(show, (one,))
            ],
        }
        for one in asked
    ]
    rows = [{"severity": f.severity, "where": f.where, "code": f.code, "text": f.text, "do": f.do} for f in found]
    buses = [{**asdict(spent), "keeps_up": spent.keeps_up} for spent in budgets(show, asked)]
    by_hand = [
        {
            "point": c.by_hand.point,
            "quantity": c.by_hand.quantity,
            "by_hand": c.by_hand.value,
            "shown": c.shown,
            "offset": c.offset,
        }
        for c in compared
    ]
    return {"show": show.name, "meters": meters, "buses": buses, "handheld": by_hand, "findings": rows}


def _print(
    show: Show, asked: Sequence[Asked], found: Sequence[Finding], compared: Sequence[Compared], told: str, log: Path
) -> None:
    print_places(show)
    print_meters(show, asked)
    for spent in budgets(show, asked):
        say(budget_line(spent), indent="  ")
    if told:
        say(told, indent="  ")
    for one in compared:
        say(f"{one.by_hand.point}: {one.sentence()}", indent="  ")
    for note in handheld.last_comparisons(show, log):
        say(handheld.note_line(note, show.timezone), indent="  ")
    click.echo()
    print_findings(found)
