"""``legwatch breaker``."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import click

from monitor.cautions import SHORT
from monitor.cli.band_plot import band_plot
from monitor.cli.errors import fail, guarded
from monitor.cli.numbers import Number
from monitor.electrical.breaker import band
from monitor.show.model import Breaker, Gate, Standard

if TYPE_CHECKING:
    from monitor.electrical.breaker import Band, Latest, Requirement, Soonest

STANDARDS: tuple[Standard, ...] = ("UL 489", "IEC 60898-1", "IEC 60947-2", "custom")
_KINDS = {"holds": "does not open within", "not-before": "does not open before", "latest": "has opened by"}


@click.command(epilog=SHORT)
@click.option("--amps", type=Number(min=0, max=10_000, min_open=True), required=True, help="The breaker's rating [A].")
@click.option("--load", type=Number(min=0, max=1_000_000), required=True, help="A steady current through it [A].")
@click.option("--standard", type=click.Choice(STANDARDS, case_sensitive=False), default="UL 489", show_default=True)
@click.option("--class", "curve", default="", help="B, C or D; IEC 60898-1 only.")
@click.option("--magnetic", type=float, help="Setting of the magnetic part, times the rating; IEC 60947-2 only.")
@click.option(
    "--gate",
    "gates",
    multiple=True,
    metavar="MULTIPLE:SOONEST:LATEST",
    help='One point of a datasheet\'s curve, times in seconds, either may be empty: "2:8:90". Custom only; repeat.',
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@guarded
def command(  # noqa: PLR0913 - one parameter an option
    amps: float,
    load: float,
    standard: Standard,
    curve: str,
    magnetic: float | None,
    gates: tuple[str, ...],
    *,
    as_json: bool,
) -> None:
    """Print the band of one breaker at one steady load: soonest and latest opening that its standard allows.

    The band is what the standard's test points (gates) say, and that more current never takes longer; nothing is
    interpolated. UL 489 sets no lower time above the rating. It is no forecast: it holds for a breaker that starts
    cold at the standard's reference temperature, and a breaker in the sun or beside warm ones opens sooner.

    Example: legwatch breaker --amps 16 --standard "IEC 60898-1" --class C --load 23.2

    With the points of a datasheet's own curve: --standard custom --gate 1.3:600:7200 --gate 3:4:30 --gate 12::0.1
    """
    try:
        breaker = Breaker(amps, standard, curve.upper(), gates=tuple(map(_gate, gates)))
        if gates and standard != "custom":
            fail(f'legwatch: --gate belongs to --standard custom; found --standard "{standard}"')
        if curve and standard == "custom":
            fail(f'legwatch: --class belongs to --standard "IEC 60898-1"; found --class {curve} with custom')
        result = band(breaker, load, magnetic)
    except ValueError as error:
        fail(f"legwatch: {error}")
    if as_json:
        click.echo(json.dumps(_json(breaker, load, result), indent=1, ensure_ascii=False))
    else:
        _print(breaker, load, result)


def _gate(text: str) -> Gate:
    parts = text.split(":")
    if len(parts) != 3:  # noqa: PLR2004 - multiple, soonest, latest
        raise ValueError(f'a gate is MULTIPLE:SOONEST:LATEST, such as "2:8:90" or "2::90"; found "{text}"')
    try:
        multiple, soonest, latest = (float(part) if part.strip() else None for part in parts)
    except ValueError:
        raise ValueError(f'a gate holds numbers, such as "2:8:90"; found "{text}"') from None
    if multiple is None:
        raise ValueError(f'a gate needs its multiple of the rating; found "{text}"')
    return Gate(multiple, soonest or None, latest)  # "not before 0 s" asks nothing


def _json(breaker: Breaker, load: float, result: Band) -> dict[str, object]:
    soonest: dict[str, object] = {"kind": result.soonest.kind, "seconds": result.soonest.seconds}
    if result.soonest.kind == "holds":
        soonest["holds_for_seconds"] = result.soonest.holds_for_s
    return {
        "standard": breaker.standard,
        "class": breaker.curve or None,
        "amps": breaker.amps,
        "load": load,
        "multiple": result.multiple,
        "soonest": soonest,
        "latest": {"kind": result.latest.kind, "seconds": result.latest.seconds},
        "gates": [_gate_json(gate) for gate in result.gates],
        "source": result.source,
    }


def _gate_json(gate: Requirement) -> dict[str, object]:
    return {"multiple": gate.multiple, "kind": gate.kind, "seconds": gate.seconds, "from_memory": not gate.seen}


def _print(breaker: Breaker, load: float, result: Band) -> None:
    name = f"{breaker.amps:g} A {breaker.standard}" + (f" class {breaker.curve}" if breaker.curve else "")
    click.echo(f"{name} at {load:g} A: {result.multiple:.3g} times its rating\n")
    click.echo(f"  soonest  {_soonest(result.soonest)}")
    click.echo(f"  latest   {_latest(result.latest)}\n")
    click.echo("  gates")
    for gate in result.gates:
        memory = "" if gate.seen else "  (from memory)"
        told = "does not open" if gate.seconds is None else f"{_KINDS[gate.kind]} {_time(gate.seconds)}"
        click.echo(f"    {gate.multiple:>6.3g} x {gate.multiple * breaker.amps:>8.5g} A  {told}{memory}")
    click.echo()
    for line in band_plot(result.gates, result.multiple):
        click.echo(line)
    click.echo("- not open yet   # opened by then   . either   | the load\n")
    click.echo(f"source: {result.source}")
    click.echo("From cold, at the standard's reference temperature; a real breaker may open sooner.")


def _soonest(soonest: Soonest) -> str:
    if soonest.kind == "time" and soonest.seconds is not None:
        return f"not before {_time(soonest.seconds)}"
    if soonest.kind == "holds":
        within = "at any time" if soonest.holds_for_s is None else f"within {_time(soonest.holds_for_s)}"
        return f"the standard wants it to hold: no opening {within}"
    return "not set by the standard: it may open at once"


def _latest(latest: Latest) -> str:
    return "none required" if latest.seconds is None else f"open by {_time(latest.seconds)}"


def _time(seconds: float) -> str:
    if seconds >= 3600:  # noqa: PLR2004 - an hour
        return f"{seconds / 3600:.3g} h"
    return f"{seconds / 60:.3g} min" if seconds >= 60 else f"{seconds:.3g} s"  # noqa: PLR2004 - a minute
