"""However a show file is broken: a show or faults, never anything else."""

from __future__ import annotations

import random

import pytest

from monitor.places import data
from tests.monitor.show.files import faults_of

EXAMPLES = [
    data(f"config/{name}").read_text(encoding="utf-8") for name in ("example-show.toml", "example-show-europe.toml")
]
VALUES = [
    "nan", "-inf", "0", "-1", "1e400", "9" * 400, "true", '""', '"source"', '"\\u0000"', "[]", "{}", "[[]]", "1.5",
    '["L1", "L1"]', "2026-01-01", "07:32:00", '"A/B"', '"' + "x" * 5000 + '"', "{ a = { b = 1 } }", "[{}]", "'''\n#'''",
]  # fmt: skip


def mutate(text: str, dice: random.Random) -> str:
    """Break one line, or some characters, of ``text``."""
    lines = text.split("\n")
    spot = dice.randrange(len(lines))
    kind = dice.randrange(7)
    if kind == 0:
        del lines[spot]
    elif kind == 1:
        lines.insert(dice.randrange(len(lines)), lines[spot])
    elif kind == 2:
        lines[spot], lines[spot - 1] = lines[spot - 1], lines[spot]
    elif kind == 3:
        at = dice.randrange(len(text))
        return text[:at] + dice.choice('="[]{}\n,.#x0-\x00\u2028é') + text[at + dice.randrange(3) :]
    elif "=" in lines[spot]:
        key, _, _ = lines[spot].partition("=")
        lines[spot] = f"{key}= {dice.choice(VALUES)}"
    return "\n".join(lines)


@pytest.mark.parametrize("seed", range(200))
def test_a_broken_file_gives_a_show_or_faults(seed: int) -> None:
    """Whatever stands in the file, it ends in a show or in faults with a place."""
    dice = random.Random(seed)
    text = EXAMPLES[seed % 2]
    for _ in range(dice.randrange(1, 4)):
        text = mutate(text, dice)
    for fault in faults_of(text):
        assert fault.text
        assert fault.line is not None or fault.key in {"show", "source"}
        assert (fault.line or 1) <= text.count("\n") + 1


@pytest.mark.parametrize(("turn", "value"), enumerate(VALUES), ids=[value[:12] for value in VALUES])
def test_any_value_anywhere(turn: int, value: str) -> None:
    """Odd values in every third line with a key: a show, or faults in the file."""
    for text in EXAMPLES:
        lines = text.split("\n")
        for spot in range(turn % 3, len(lines), 3):
            key, equals, _ = lines[spot].partition("=")
            if equals and not key.lstrip().startswith(("#", "{")):
                broken = "\n".join([*lines[:spot], f"{key}= {value}", *lines[spot + 1 :]])
                assert {fault.file for fault in faults_of(broken, with_maps=False)} <= {"quarry.toml"}


@pytest.mark.parametrize(
    "text",
    [f"a = {'[' * 5000}{']' * 5000}", f"{'a.' * 5000}a = 1", f"[{'a.' * 5000}a]", f"a = {'{a=' * 5000}1{'}' * 5000}"],
    ids=["lists", "dotted key", "header", "inline tables"],
)
def test_nested_too_deeply(text: str) -> None:
    """Absurd nesting is a fault too."""
    assert faults_of(text)
