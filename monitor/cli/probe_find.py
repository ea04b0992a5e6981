"""The hunt for the registers that read a value measured by hand."""

from __future__ import annotations

import json
import sys
from dataclasses import asdict
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import click

from drivers.clock import now
from drivers.maps.model import Table
from drivers.probe.mapwriter import CannotWrite, Found, refuse_known, write_map
from drivers.probe.ways import Way, alike, find, narrow
from drivers.quantities import QUANTITIES
from monitor.cli.errors import FOUND_WRONG, fail

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from monitor.cli.probe_asked import Asked

    Tables = dict[Table, dict[int, int]]
    Candidates = dict[Table, tuple[Way, ...]]

_SHOWN = 12


class Hunt:
    """Searches a meter's registers for a value, and narrows what it finds over further values.

    Args:
        wanted: the value measured by hand now.
        asked: what was asked.

    """

    def __init__(self, wanted: float, asked: Asked) -> None:
        self._wanted = wanted
        self._tolerance, self._keep, self._map, self._json = asked.tolerance, asked.keep, asked.map_file, asked.as_json
        self._choice = asked.choice
        self._channel, self._quantity = _named(asked.name) if asked.name else ("", "")
        if wanted == 0:
            fail("legwatch: --find 0 would find every empty register: switch something on and measure that")
        if bool(self._map) != bool(self._channel):
            fail("legwatch: --map and --as go together: --as ch1.volts --map my-meter.toml")
        if self._map is not None:
            try:
                refuse_known(self._map, self._channel, self._quantity)
            except CannotWrite as problem:
                fail(f"legwatch: {problem}")

    def run(self, read: Callable[[], Tables]) -> None:
        """Search what ``read`` gives, narrow, tell, and write the map where one was asked for."""
        tables = read()
        kept = self._known()
        found = self._search(tables) if kept is None else self._narrowed(kept, tables)
        while self._undecided(found) and (value := self._ask_for_more(found, tables)) is not None:
            self._wanted = value
            tables = read()
            found = self._narrowed(found, tables)
        self._remember(found)
        if self._json:
            click.echo(json.dumps({"found": self._rows(found, tables)}, indent=1))
        else:
            self._tell(found, tables)
        if not any(found.values()):
            fail(_nothing(self._wanted, self._tolerance, narrowed=kept is not None), FOUND_WRONG)
        if self._map is not None:
            self._write(self._map, found, tables)

    def _search(self, tables: Tables) -> Candidates:
        return {table: find(registers, self._wanted, self._tolerance) for table, registers in tables.items()}

    def _narrowed(self, before: Candidates, tables: Tables) -> Candidates:
        return {t: narrow(ways, tables.get(t, {}), self._wanted, self._tolerance) for t, ways in before.items()}

    def _undecided(self, found: Candidates) -> bool:
        return len(_groups(found)) > 1 and self._choice is None and sys.stdin.isatty() and not self._json

    def _ask_for_more(self, found: Candidates, tables: Tables) -> float | None:
        self._tell(found, tables)
        click.echo("Change the load, or wait until your instrument shows another value; then type that.")
        text = click.prompt("Now it shows (Enter ends)", default="", show_default=False)
        try:
            return float(text) if text.strip() else None
        except ValueError:
            click.echo(f"{text} is no number")
            return self._ask_for_more(found, tables)

    def _tell(self, found: Candidates, tables: Tables) -> None:
        rows = _groups(found)
        for number, (table, group) in enumerate(rows[:_SHOWN], 1):
            way = group[0]
            last = f"-{way.address + way.words - 1}" if way.words > 1 else ""
            scale = f", times {way.scale:g}" if way.scale != 1 else ""
            value = way.value(tables[table])
            reads = "" if value is None else f" reads {value:.6g}"
            click.echo(f"{number:>2}  {table} {way.address}{last}  {way.encoding} {way.word_order}{scale}{reads}")
            if len(group) > 1:
                others = ", ".join(f"{other.encoding} {other.word_order} at {other.address}" for other in group[1:4])
                click.echo(f"    or, the same as long as the number is small: {others}")
        if len(rows) > _SHOWN:
            click.echo(f"and {len(rows) - _SHOWN} more")

    def _rows(self, found: Candidates, tables: Tables) -> list[dict[str, object]]:
        return [
            {"table": table.value, **asdict(way), "reads": way.value(tables[table])}
            for table, ways in found.items()
            for way in ways
        ]

    def _write(self, path: Path, found: Candidates, tables: Tables) -> None:
        groups = _groups(found)
        if len(groups) > 1 and self._choice is None:
            text = f"{path} is not written: {len(groups)} ways fit; measure at another value too, or --choose one"
            fail(text, FOUND_WRONG)
        if not 1 <= (self._choice or 1) <= len(groups):
            fail(f"legwatch: --choose {self._choice}: only {len(groups)} fit")
        table, (way, *_) = groups[(self._choice or 1) - 1]
        words = tuple(tables[table][way.address + i] for i in range(way.words))
        value = Found(self._channel, self._quantity, table, way, words, self._wanted)
        try:
            new = write_map(path, path.stem, value, _today())
        except CannotWrite as problem:
            fail(f"legwatch: {problem}")
        click.echo(f"{self._channel}.{self._quantity} {'written to' if new else 'added to'} {path}", err=self._json)

    def _known(self) -> Candidates | None:
        if self._keep is None or not self._keep.exists():
            return None
        try:
            data = json.loads(self._keep.read_text(encoding="utf-8"))
            return {Table(name): tuple(Way(**way) for way in ways) for name, ways in data.items()}
        except (OSError, ValueError, TypeError, AttributeError):
            fail(f"legwatch: {self._keep} holds nothing that --find kept: name another file")

    def _remember(self, found: Candidates) -> None:
        if self._keep is not None:
            data = {table.value: [asdict(way) for way in ways] for table, ways in found.items()}
            self._keep.write_text(json.dumps(data), encoding="utf-8")


def _groups(found: Candidates) -> list[tuple[Table, tuple[Way, ...]]]:
    return [(table, group) for table, ways in found.items() for group in alike(ways)]


def _nothing(wanted: float, tolerance: float, *, narrowed: bool) -> str:
    if narrowed:
        return (
            f"none of the ways kept before reads {wanted:g}: begin anew without --keep, or allow more with --tolerance"
        )
    return (
        f"no register reads {wanted:g} within {100 * tolerance:g} %: look at more registers with --registers,"
        " allow more with --tolerance, and see that instrument and meter measure the same thing"
    )


def _today() -> str:
    """Give the day on the user's calendar."""
    return datetime.fromtimestamp(now().wall_ms / 1000, UTC).astimezone().date().isoformat()


def _named(text: str) -> tuple[str, str]:
    channel, _, quantity = text.rpartition(".")
    if not channel or quantity not in QUANTITIES:
        fail(f"legwatch: --as {text}: write CHANNEL.QUANTITY; quantities are {', '.join(QUANTITIES)}")
    return channel, quantity
