"""``legwatch probe``."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

import click

from drivers.errors import LinkError
from drivers.links.opening import open_link
from drivers.maps.encodings import ENCODINGS
from drivers.maps.model import Table
from drivers.probe.ports import serial_ports
from drivers.probe.registers import read_range
from drivers.probe.scan import scan
from monitor.cautions import SHORT
from monitor.cli import probe_listen
from monitor.cli.errors import FOUND_WRONG, fail, guarded
from monitor.cli.numbers import Number, Numbers, Percent
from monitor.cli.probe_asked import NETWORK, SERIAL, Asked
from monitor.cli.probe_dump import dump_json, dump_lines
from monitor.cli.probe_find import Hunt
from monitor.cli.probe_scan import answer_json, answer_line, ports_json, print_ports, what_next

if TYPE_CHECKING:
    from drivers.probe.scan import Answer

_NOBODY = """\
nothing answered. Look at, in this order:
  power      the meter's display or lamp is on
  wires      A to A, B to B; try them swapped: that harms nothing
  settings   baud, parity and number stand in the meter's menu; try --baud, --parity, --units, --protocol
  the ends   a long line wants 120 ohms at both ends; a line with three or more wants none"""


@click.command(epilog=SHORT)
@click.option("--port", help="A serial port. Without --port and --tcp: the list of serial ports.")
@click.option("--tcp", metavar="HOST:PORT", help="A meter or gateway on the network.")
@click.option(
    "--protocol", type=click.Choice([*SERIAL, *NETWORK]), help="Default: modbus-rtu, on the network modbus-tcp."
)
@click.option("--baud", type=Numbers(300, 1_000_000), default="9600,19200,38400,115200,4800,2400", show_default=True)
@click.option("--parity", default="N,E", show_default=True, help="N, E and O, the likeliest first.")
@click.option("--units", type=Numbers(0, 255), default="1-247", show_default=True, help="As 1-16,50.")
@click.option("--all", "everywhere", is_flag=True, help="Try every line setting, even after one that finds a meter.")
@click.option("--timeout", "timeout_s", type=click.FloatRange(0.02, 10), default=0.2, show_default=True, help="[s].")
@click.option("--dump", is_flag=True, help="Print the registers of one unit, decoded every way.")
@click.option("--find", "wanted", type=float, help="Find the registers that read this value.")
@click.option("--tolerance", type=Percent(), default="1%", show_default=True, help="How far the value may be off.")
@click.option("--registers", type=Numbers(0, 65535), default="0-99", show_default=True, help="For --dump and --find.")
@click.option("--table", type=click.Choice([t.value for t in Table]), help="Default: both.")
@click.option("--encoding", type=click.Choice(ENCODINGS), multiple=True, help="For --dump: only these.")
@click.option(
    "--keep", type=click.Path(path_type=Path), help="Keep what --find found here; the next --find narrows it."
)
@click.option("--choose", "choice", type=int, help="Of several ways, write this one (its number in the list).")
@click.option("--as", "name", metavar="CHANNEL.QUANTITY", help="What the value is, for --map: such as ch1.volts.")
@click.option("--map", "map_file", type=click.Path(path_type=Path), help="Write what --find found into this map.")
@click.option("--listen", is_flag=True, help="Send nothing; show what comes, for meters that send by themselves.")
@click.option("--seconds", type=Number(0.2, 600), default=4.0, show_default=True, help="For --listen, at each speed.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@guarded
def command(**options: Any) -> None:
    """Get to know a meter: which ports there are, who answers, what its registers hold.

    \b
    legwatch probe                                     lists the serial ports
    legwatch probe --port P                            asks every unit number at the usual line settings
    legwatch probe --port P --listen                   shows what a meter sends by itself
    legwatch probe --port P --units 3 --dump           prints registers decoded every way
    legwatch probe --port P --units 3 --find 121.3     says which registers read 121.3
    legwatch probe ... --find 121.3 --as ch1.volts --map my-meter.toml

    probe only reads, one short question at a time; let no other program poll the bus meanwhile.

    --find compares with what your own instrument shows now. Several ways to read will fit: change the load, or wait
    until the instrument shows another value, and give that; on a terminal you are asked, else name a file with --keep.

    Exit code: 0 done; 1 nothing answered or nothing was found; 2 used wrongly.
    """  # noqa: D301 - \b is click's mark for lines that stay as they are
    asked = Asked(**options)
    if not asked.port and not asked.tcp:
        _list_ports(as_json=asked.as_json)
    elif asked.listen:
        probe_listen.run(asked)
    elif asked.dump or asked.wanted is not None:
        _look_inside(asked)
    else:
        _scan(asked)


def _list_ports(*, as_json: bool) -> None:
    ports = serial_ports()
    if as_json:
        click.echo(json.dumps(ports_json(ports), indent=1))
    if not ports:
        fail("no serial port found: plug the adapter in, then look again", FOUND_WRONG)
    if not as_json:
        print_ports(ports)


def _scan(asked: Asked) -> None:
    """Ask every unit, and tell who answers."""
    settings = asked.settings()
    answers: list[Answer] = []
    length = len(settings) * len(asked.units)
    with click.progressbar(length=length, label="asking", file=sys.stderr, show_pos=True) as bar:
        try:
            for answer in scan(settings, asked.units, lambda: bar.update(1), everywhere=asked.everywhere):
                answers.append(answer)  # noqa: PERF402 - what was found must stay when the line breaks off
        except LinkError as error:
            click.echo(f"\nthe line broke off: {error}", err=True)
    if asked.as_json:
        click.echo(json.dumps({"answers": [answer_json(answer) for answer in answers]}, indent=1))
    else:
        for answer in answers:
            click.echo(answer_line(answer))
    whole = [answer for answer in answers if answer.whole]
    if not whole:
        fail(f"only broken replies came: try other line settings\n{_NOBODY}" if answers else _NOBODY, FOUND_WRONG)
    if not asked.as_json:
        click.echo("\n".join(what_next(whole[0])))


def _look_inside(asked: Asked) -> None:
    """Read one unit's registers, and print or search them."""
    if len(asked.units) != 1:
        fail("legwatch: --dump and --find look into one meter: name it, as in --units 3")
    hunt = None if asked.wanted is None else Hunt(asked.wanted, asked)
    with _Reader(asked) as reader:
        if hunt is not None:
            hunt.run(reader.read)
            return
        tables = reader.read()
    if asked.as_json:
        click.echo(json.dumps(dump_json(tables), indent=1))
    else:
        click.echo("\n".join(dump_lines(tables, asked.encoding or ENCODINGS)))
    if not any(tables.values()):
        fail(f"unit {asked.units[0]} gives none of these registers: try others with --registers", FOUND_WRONG)


class _Reader:
    """Reads one meter's registers again and again; a context manager."""

    def __init__(self, asked: Asked) -> None:
        self._asked = asked

    def __enter__(self) -> Self:
        self._link = open_link(self._asked.settings()[0])
        return self

    def __exit__(self, *error: object) -> None:
        self._link.close()

    def read(self) -> dict[Table, dict[int, int]]:
        """Read every table's registers."""
        unit, registers = self._asked.units[0], self._asked.registers
        tables = (Table(self._asked.table),) if self._asked.table else tuple(Table)
        first, last = min(registers), max(registers)
        with click.progressbar(length=len(tables) * (last - first + 1), label="reading", file=sys.stderr) as bar:
            try:
                return {table: read_range(self._link, unit, table, first, last, bar.update) for table in tables}
            except LinkError as error:
                fail(f"\nlegwatch: {error}\nsee who answers: legwatch probe without --dump and --find", FOUND_WRONG)
