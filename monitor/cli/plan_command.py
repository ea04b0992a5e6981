"""``legwatch plan``."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import TYPE_CHECKING

import click

from drivers.files.checked import nearest
from monitor.cautions import SHORT
from monitor.cli.errors import FOUND_WRONG, fail, guarded
from monitor.cli.numbers import Number
from monitor.cli.prose import columns, say
from monitor.electrical.balance import balance, moved
from monitor.electrical.headroom import headroom, planned_present
from monitor.plan.as_json import add_json, balance_json, plan_json
from monitor.plan.loadlist import to_csv, with_loads
from monitor.plan.schedule import make_schedule
from monitor.plan.source_findings import findings
from monitor.plan.text import add_lines, balance_lines, plan_lines
from monitor.show.loading import load_show

if TYPE_CHECKING:
    from monitor.electrical.balance import Balance
    from monitor.electrical.headroom import Headroom
    from monitor.plan.findings import Finding
    from monitor.show.model import Circuit, Show

_ADD = re.compile(
    r"(?P<circuit>[^=]+)=(?P<number>\d+(\.\d+)?)\s*(?P<unit>k?W)(@(?P<factor>[01](\.\d+)?))?", re.IGNORECASE
)


@click.command(epilog=SHORT)
@click.argument("show_file", metavar="SHOW", type=click.Path(path_type=Path))
@click.option(
    "--add", metavar="ID=WATTS", help="Does one more load fit there? Such as A3=1200W, A3=1.2kW@0.95 (power factor)."
)
@click.option("--balance", "balancing", is_flag=True, help="The fewest moves to other legs that lower the highest leg.")
@click.option(
    "--hours",
    type=Number(min=0, min_open=True, max=48),
    default=12.0,
    show_default=True,
    help="Length of the day, for fuel.",
)
@click.option(
    "--csv-in", type=click.Path(path_type=Path), help="Take the planned loads from this load list instead of SHOW."
)
@click.option("--csv-out", is_flag=True, help="Print the planned loads as a load list (CSV) and nothing else.")
@click.option(
    "--width", type=click.IntRange(min=40), help="Columns to print in. Default: the terminal's, 80 in a pipe."
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@guarded
def command(  # noqa: PLR0913 - one parameter an option
    show_file: Path,
    add: str | None,
    hours: float,
    csv_in: Path | None,
    width: int | None,
    *,
    balancing: bool,
    csv_out: bool,
    as_json: bool,
) -> None:
    """Print the load schedule of SHOW: the paper before any power flows.

    Per circuit: planned watts, amps at power factor, paper amps (watts / 100), the breaker's rating, the limit for
    continuous load, the room below it, and the volts lost from the source to the far end. Then feeders, legs, the
    neutral, the source and its fuel, and what stands out, with what to do.

    --balance moves circuits of one leg to other legs of what feeds them, and on a wye two-hot circuits to other pairs
    of legs; "movable = false" keeps a circuit where it is. Of the arrangements with the lowest highest leg it gives one
    with the fewest moves. A pair is written L1-L2, here and in the JSON's "from" and "to". Boxes on the way are checked
    after the moves, and what they would put wrong there is told. A set too large to try every arrangement is said to be
    one, with what no arrangement could come below ("exact": false and "floor_amps" in the JSON).

    Drops are those of resistance alone, at the planned amps and power factor: AWG by NEC chapter 9 table 8 at 75
    degrees C, mm2 by IEC 60228 class 5 at 70, in percent of nominal volts (leg to leg for a two-hot circuit).

    Exit code: 0 nothing wrong found in what the file tells; 1 something wrong, or --add does not fit; 2 used wrongly.
    """
    show = load_show(show_file)
    if csv_in is not None:
        show = with_loads(show, csv_in)
    if csv_out:
        click.echo(to_csv(show), nl=False)
        return
    asked = _asked(show, add) if add else None
    answer = headroom(show, asked[0], (asked[1], asked[2]), planned_present(show)) if asked else None
    balanced = balance(show) if balancing else None
    found = findings(make_schedule(show, hours))
    if as_json:
        data = plan_json(make_schedule(show, hours), found)
        if asked and answer:
            data["add"] = add_json(asked[0].id, answer)
        if balanced:
            data |= balance_json(balanced, _worse(show, hours, found, balanced))
        click.echo(json.dumps(data, indent=1, ensure_ascii=False))
    else:
        _print(show, hours, found, width or columns())
        worse = _worse(show, hours, found, balanced) if balanced else ()
        _print_answers(asked, answer, balanced, worse, width or columns())
    if any(f.severity == "wrong" for f in found) or (answer is not None and not answer.fits):
        raise SystemExit(FOUND_WRONG)


def _asked(show: Show, text: str) -> tuple[Circuit, float, float]:
    """Read ``A3=1200W``: circuit, watts, power factor."""
    match = _ADD.fullmatch(text.strip())
    if match is None:
        fail(f'legwatch: --add takes ID=WATTS, such as A3=1200W or A3=1.2kW@0.95; found "{text}"')
    circuits = {circuit.id: circuit for circuit in show.circuits}
    name = match["circuit"].strip()
    if name not in circuits:
        fail(f'legwatch: no circuit is called "{name}"; {nearest(name, tuple(circuits))}')
    factor = float(match["factor"] or 1.0)
    if not 0 < factor <= 1:
        fail(f"legwatch: a power factor is above 0 and at most 1; found {factor:g}")
    return circuits[name], float(match["number"]) * (1000 if match["unit"].lower() == "kw" else 1), factor


def _print(show: Show, hours: float, found: tuple[Finding, ...], width: int) -> None:
    for line in plan_lines(make_schedule(show, hours), found, width):
        click.echo(line)


def _worse(show: Show, hours: float, before: tuple[Finding, ...], balanced: Balance) -> tuple[Finding, ...]:
    """Give what the moves would put wrong elsewhere."""
    known = {_same(f) for f in before}
    after = findings(make_schedule(moved(show, balanced.moves), hours))
    return tuple(f for f in after if _same(f) not in known)


def _same(finding: Finding) -> tuple[str, str]:
    """Give what makes a finding the same; the hardest motor start is one, on whichever leg it falls."""
    return finding.code, "" if finding.code == "motor-start" else finding.where


def _print_answers(
    asked: tuple[Circuit, float, float] | None,
    answer: Headroom | None,
    balanced: Balance | None,
    worse: tuple[Finding, ...],
    width: int,
) -> None:
    if asked and answer:
        click.echo()
        for line in add_lines(asked[0].id, answer, asked[1], width):
            click.echo(line)
    if balanced:
        click.echo()
        for line in balance_lines(balanced, worse, width):
            click.echo(line)
    click.echo()
    say(SHORT)
