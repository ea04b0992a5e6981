"""Show files and meter maps broken on purpose, one after another, read as a user's are: from a folder, by name."""

from __future__ import annotations

import re
import time
from collections import Counter
from dataclasses import dataclass, field
from random import Random
from typing import TYPE_CHECKING

from drivers.files.faults import FileFaults
from monitor.places import data
from monitor.show.loading import load_show
from tests.drivers.maps.test_mutations import WAYS
from tests.monitor.show.test_mutations import mutate

if TYPE_CHECKING:
    from pathlib import Path

SHOWS = ("example-show.toml", "example-show-europe.toml")
_WHOLE_FILE = {"", "show", "source", "meter", "value", "example"}  # a missing table has no line


@dataclass
class Found:
    """What reading broken files gave.

    Attributes:
        count: how many were read, by what they were.
        refused: of those, refused with faults.
        wrong: what no user should meet.
        longest_s: for one file [s].

    """

    count: Counter[str] = field(default_factory=Counter)
    refused: int = 0
    wrong: list[str] = field(default_factory=list)
    longest_s: float = 0.0


def read_broken(folder: Path, times: int, seed: int = 0) -> Found:
    """Break ``times`` files in turn: a show, a map beside a show, and either with wrong bytes."""
    found = Found()
    maps = sorted(path.name for path in data("config/meters").iterdir() if path.name.endswith(".toml"))
    for number in range(times):
        dice = Random(seed + number)
        kind = ("show", "map", "bytes")[number % 3]
        broken = dice.choice(SHOWS) if kind == "show" else dice.choice(maps)
        _lay_out(folder, kind, broken, dice)
        _read(folder / "show.toml", found, f"seed {seed + number}, {kind} {broken}")
        found.count[kind] += 1
        for path in folder.glob("*.toml"):
            path.unlink()
    return found


def _lay_out(folder: Path, kind: str, broken: str, dice: Random) -> None:
    """Write a show file and, for a map, the broken map beside it, which every meter then names."""
    if kind == "show":
        text = data(f"config/{broken}").read_text(encoding="utf-8")
        for _ in range(dice.randint(1, 3)):
            text = mutate(text, dice)
        (folder / "show.toml").write_text(text, encoding="utf-8", newline="")
        return
    show = data(f"config/{dice.choice(SHOWS)}").read_text(encoding="utf-8")
    (folder / "show.toml").write_text(re.sub(r'(?m)^map = ".*?"', 'map = "broken"', show), encoding="utf-8")
    text = data(f"config/meters/{broken}").read_text(encoding="utf-8")
    lines = text.split("\n")
    for _ in range(dice.randint(1, 3)):
        dice.choice(WAYS)(lines, dice)
        lines = lines or [""]
    raw = bytearray("\n".join(lines).encode())
    if kind == "bytes":
        for _ in range(dice.randint(1, 4)):
            raw.insert(dice.randrange(len(raw) + 1), dice.randrange(256))
    (folder / "broken.toml").write_bytes(raw)


def _read(path: Path, found: Found, what: str) -> None:
    begun_s = time.monotonic()
    try:
        load_show(path)
    except FileFaults as error:
        found.refused += 1
        for fault in error.faults:
            placed = fault.line is not None or fault.key in _WHOLE_FILE
            if not (fault.file and fault.text and placed):
                found.wrong.append(f"{what}: {fault}")
    except Exception as error:  # noqa: BLE001 - which is what is looked for
        found.wrong.append(f"{what}: {error!r}")
    found.longest_s = max(found.longest_s, time.monotonic() - begun_s)
