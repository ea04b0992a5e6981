"""A load list as CSV, for a spreadsheet: one row a load, in and out.

Columns: circuit, name, watts, power_factor, count, kind, start_multiple. Only circuit, name and watts must be there on
the way in.
"""

from __future__ import annotations

import csv
from dataclasses import replace
from io import StringIO
from typing import TYPE_CHECKING, cast, get_args

from drivers.files.checked import nearest
from drivers.files.faults import Fault, FileFaults
from monitor.show.model import Load, LoadKind

if TYPE_CHECKING:
    from pathlib import Path

    from monitor.show.model import Show

COLUMNS = ("circuit", "name", "watts", "power_factor", "count", "kind", "start_multiple")
_NEEDED = COLUMNS[:3]
_KINDS: tuple[str, ...] = get_args(LoadKind)


def to_csv(show: Show) -> str:
    """Write the planned loads of a show."""
    out = StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for circuit in show.circuits:
        for load in circuit.load:
            start = "" if load.start_multiple is None else _exact(load.start_multiple)
            figures = (_exact(load.watts), _exact(load.power_factor), load.count)
            writer.writerow([circuit.id, load.name, *figures, load.kind, start])
    return out.getvalue()


def with_loads(show: Show, path: Path) -> Show:
    """Give the show with its planned loads replaced by those of the file at ``path``.

    A circuit that the file does not name has no planned load then.

    Raises:
        FileFaults: every fault of the file, with its line.

    """
    faults: list[Fault] = []
    loads: dict[str, list[Load]] = {circuit.id: [] for circuit in show.circuits}
    for line, row in _rows(path):
        try:
            circuit, load = _load(row, tuple(loads))
        except ValueError as error:
            faults.append(Fault(str(path), line, "", str(error)))
        else:
            loads[circuit].append(load)
    if faults:
        raise FileFaults(tuple(faults))
    return replace(show, circuits=tuple(replace(c, load=tuple(loads[c.id])) for c in show.circuits))


def _rows(path: Path) -> list[tuple[int, dict[str, str]]]:
    """Read the rows with their lines; spreadsheets of some countries write ``;`` for ``,``."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is not UTF-8 text"
        raise FileFaults((Fault(str(path), None, "", f"can't be read: {reason}"),)) from error
    head = text.partition("\n")[0]
    reader = csv.DictReader(StringIO(text), delimiter=";" if head.count(";") > head.count(",") else ",")
    names = [(name or "").strip().lower() for name in reader.fieldnames or ()]
    reader.fieldnames = names
    missing = [name for name in _NEEDED if name not in names]
    unknown = [name for name in names if name not in COLUMNS]
    if missing or unknown:
        told = [f'the column "{name}" is missing' for name in missing]
        told += [f'unknown column "{name}"; {nearest(name, COLUMNS)}' for name in unknown]
        raise FileFaults(tuple(Fault(str(path), 1, "", text) for text in told))
    rows: list[tuple[int, dict[str, str]]] = []
    for row in reader:
        cells = {name: str(cell or "").strip() for name, cell in row.items() if name}
        if any(cells.values()):
            rows.append((reader.line_num, cells))
    return rows


def _load(row: dict[str, str], circuits: tuple[str, ...]) -> tuple[str, Load]:
    circuit, kind = row["circuit"], row.get("kind") or "electronic"
    if circuit not in circuits:
        raise ValueError(f'no circuit is called "{circuit}"; {nearest(circuit, circuits)}')
    if kind not in _KINDS:
        raise ValueError(f'kind "{kind}" is not known; {nearest(kind, _KINDS)}')
    watts = _number(row, "watts", 0.1, 1e6)
    factor = _number(row, "power_factor", 0.01, 1.0) if row.get("power_factor") else 1.0
    count = _number(row, "count", 1.0, 1000.0) if row.get("count") else 1.0
    if count != int(count):
        raise ValueError(f'count "{row["count"]}" must be a whole number')
    start = _number(row, "start_multiple", 1.0, 20.0) if row.get("start_multiple") else None
    return circuit, Load(row["name"], watts, factor, int(count), cast("LoadKind", kind), start)


def _exact(number: float) -> str:
    """Write a number so that the same one is read again: 1200, 0.95, 1234567.5."""
    return f"{number:.0f}" if number == int(number) else repr(number)


def _number(row: dict[str, str], column: str, low: float, high: float) -> float:
    try:
        value = float(row[column].replace(",", "."))
    except ValueError:
        raise ValueError(f'{column} "{row[column]}" is not a number') from None
    if not low <= value <= high:
        raise ValueError(f"{column} {value:g} must be {low:g} to {high:g}")
    return value
