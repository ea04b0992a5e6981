"""Broken files, by the hundred: each ends as a map or as faults, nothing else."""

from __future__ import annotations

from pathlib import Path
from random import Random
from typing import TYPE_CHECKING

import pytest

from drivers.files.faults import FileFaults
from drivers.maps.mapfile import load_map
from drivers.maps.model import MeterMap

if TYPE_CHECKING:
    from collections.abc import Callable

METERS = sorted((Path(__file__).parents[3] / "config" / "meters").glob("*.toml"))
SHORTEST = min(METERS, key=lambda path: path.stat().st_size)

ODD = ["\0", '"', "'", '"""', "[", "]", "[[", "{", "}", "=", ",", "#", "\\", "\r", "\t", "-", "\x85", "\u2028", "é"]
NUMBERS = ["9" * 30, "9" * 5000, "0x" + "F" * 5000, "-9223372036854775809", "1e400", "nan", "-inf", "0b2", "1_0"]
VALUES = [
    *NUMBERS,
    "true",
    '""',
    '"\\u0000"',
    '"volts"',
    "[]",
    "[[]]",
    "[" * 300 + "]" * 300,
    "{}",
    "{ a = { b = [1, { c = 2 }] } }",
    "1979-05-27T07:32:00Z",
    "07:32:00",
    "0",
    "-1",
    "2.5",
    '["0xFFFF", 1.5, []]',
]


def drop_line(lines: list[str], dice: Random) -> None:
    """Leave a line out."""
    del lines[dice.randrange(len(lines))]


def repeat_line(lines: list[str], dice: Random) -> None:
    """Write a line twice."""
    lines.insert(dice.randrange(len(lines)), dice.choice(lines))


def swap_characters(lines: list[str], dice: Random) -> None:
    """Swap two neighbouring characters."""
    text = "\n".join(lines)
    at = dice.randrange(len(text) - 1)
    lines[:] = (text[:at] + text[at + 1] + text[at] + text[at + 2 :]).split("\n")


def put_in(lines: list[str], dice: Random) -> None:
    """Put an odd character somewhere."""
    at = dice.randrange(len(lines))
    place = dice.randrange(len(lines[at]) + 1)
    lines[at] = lines[at][:place] + dice.choice(ODD) + lines[at][place:]


def new_value(lines: list[str], dice: Random) -> None:
    """Give some key another value."""
    at = dice.choice([0, *(i for i, line in enumerate(lines) if " = " in line)])
    lines[at] = lines[at].partition(" = ")[0] + " = " + dice.choice(VALUES)


def break_off(lines: list[str], dice: Random) -> None:
    """End the file early."""
    del lines[dice.randrange(len(lines)) :]


WAYS: list[Callable[[list[str], Random], None]] = [
    drop_line,
    repeat_line,
    swap_characters,
    put_in,
    new_value,
    break_off,
]


def ends_well(path: Path) -> bool:
    """Load the file: a map, or at least one fault of that very file with a line that exists, and a text."""
    try:
        return isinstance(load_map(path), MeterMap)
    except FileFaults as error:
        faults = error.faults
    lines = path.read_bytes().count(b"\n") + path.read_bytes().count(b"\r") + 1
    assert faults
    for fault in faults:
        assert fault.file == str(path)
        assert fault.text
        assert fault.line is None or 1 <= fault.line <= lines
    return False


@pytest.mark.parametrize("seed", range(150))
def test_random_damage(seed: int, tmp_path: Path) -> None:
    """One to three random damages to a map that comes with legwatch."""
    dice = Random(seed)
    lines = dice.choice(METERS).read_text(encoding="utf-8").split("\n")
    for _ in range(dice.randint(1, 3)):
        dice.choice(WAYS)(lines, dice)
        lines = lines or [""]
    path = tmp_path / "damaged.toml"
    path.write_text("\n".join(lines), encoding="utf-8", newline="")
    ends_well(path)


@pytest.mark.parametrize("value", VALUES, ids=lambda value: value[:20])
def test_every_key_with_a_value_of_another_kind(value: str, tmp_path: Path) -> None:
    """Each key of a map in turn gets a value it was never meant to have."""
    lines = SHORTEST.read_text(encoding="utf-8").split("\n")
    path = tmp_path / "odd.toml"
    for at, line in enumerate(lines):
        if " = " in line:
            path.write_text("\n".join([*lines[:at], line.partition(" = ")[0] + " = " + value, *lines[at + 1 :]]))
            ends_well(path)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "\n",
        "\0",
        "meter = 1\nvalue = 2\nexample = 3\n",
        "value = [1, {}]\nexample = [[]]\n",
        "[meter",
        "a" + ".a" * 3000 + " = 1",
    ],
    ids=["empty", "a line", "nul", "numbers", "lists", "half a header", "deep key"],
)
def test_files_that_are_no_maps(text: str, tmp_path: Path) -> None:
    """Nothing at all, or something else altogether, is told of as faults."""
    path = tmp_path / "other.toml"
    path.write_text(text)
    assert not ends_well(path)


def test_files_that_are_no_text(tmp_path: Path) -> None:
    """Bytes that are no UTF-8, and a folder, are told of as faults."""
    path = tmp_path / "bytes.toml"
    path.write_bytes(b"\xff\xfe[\0m\0")
    assert not ends_well(path)
    with pytest.raises(FileFaults, match="can't be read"):
        load_map(tmp_path)
