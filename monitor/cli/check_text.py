"""What ``legwatch check`` prints."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from drivers.reading import Quality
from monitor.cautions import FULL, SHORT
from monitor.cli.check_findings import readings_of
from monitor.cli.prose import counted, say
from monitor.engine.memory import carries_values

if TYPE_CHECKING:
    from collections.abc import Sequence

    from monitor.cli.check_findings import Finding
    from monitor.cli.check_rounds import Asked
    from monitor.engine.reading import Reading
    from monitor.plan.bus_budget import Budget
    from monitor.show.model import Show

FITTING = FULL[3:5]
"""The cautions on live work and current transformers."""


def print_places(show: Show) -> None:
    """Say that the file reads well, and what is in it."""
    parts = ((show.circuits, "circuit"), (show.feeders, "feeder"), (show.meters, "meter"))
    say(f"{show.name}: the file reads well: {', '.join(counted(len(found), word) for found, word in parts)}")


def print_meters(show: Show, asked: Sequence[Asked]) -> None:
    """Print each meter with a line a point."""
    for one in asked:
        click.echo(f"\nbus {one.meter.bus} unit {one.meter.unit} {answers(one)}")
        for line in _lines(readings_of(show, (one,))):
            say(f"  {line}", indent="    ")
    click.echo()


def answers(one: Asked) -> str:
    """Say whether and how fast a meter answers."""
    if not one.answered:
        return "gives no good reading"
    if one.listening:
        return "sends" if one.spacing_s is None else f"sends every {one.spacing_s:.1f} s"
    times = [poll.latency_s for poll in one.polls if poll.latency_s]
    slowest = f", {1000 * max(times):.0f} ms at most" if len(times) > 1 else ""
    return f"answers in {1000 * (one.latency_s or max(times, default=0.0)):.0f} ms{slowest}"


def budget_line(spent: Budget) -> str:
    """Say how often a bus reads its meters."""
    at = "" if spent.baud is None else f" at {spent.baud} baud"
    known = "" if spent.counted == spent.meters else f" ({counted(spent.meters - spent.counted, 'more')} not known)"
    how = "measured" if spent.measured else "worked out where not measured"
    urgent = f", one near its limit every {spent.urgent_s:.2g} s" if spent.urgent_s < spent.each_s else ""
    line = f"bus {spent.bus}: {counted(spent.counted, 'meter')}{at}{known}: each is read every {spent.each_s:.2g} s"
    return f"{line}{urgent}; the line takes {spent.round_s:.2g} s a round ({how})"


def print_findings(found: Sequence[Finding]) -> None:
    """Print the findings, the wrong ones first, each with what to do."""
    for finding in sorted(found, key=lambda one: one.severity != "wrong"):
        say(f"{finding.severity}: {finding.where}: {finding.text}", indent="  ")
        if finding.do:
            say(f"    do: {finding.do}", indent="        ")


def print_end(asked: Sequence[Asked], found: Sequence[Finding], *, file_only: bool) -> None:
    """Print the count and the cautions."""
    wrong = sum(finding.severity == "wrong" for finding in found)
    rounds = max((len(one.polls) for one in asked), default=1)
    times = "once" if rounds == 1 else f"{rounds} times"
    told = "no meter was asked" if file_only else f"{counted(len(asked), 'meter')} asked {times}"
    click.echo(f"{wrong} wrong, {counted(len(found) - wrong, 'remark')}; {told}.\n")
    for line in () if file_only else FITTING:
        say(line)
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
