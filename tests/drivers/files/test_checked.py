"""Checking located TOML: every finding of pydantic becomes a fault in plain words, in its place."""

from __future__ import annotations

from typing import Annotated, Literal

import pytest
from pydantic import BaseModel, ConfigDict, Field, TypeAdapter

from drivers.files.checked import check, nearest
from drivers.files.faults import FileFaults
from drivers.files.located import parse


class Inner(BaseModel):
    """A table in a list."""

    model_config = ConfigDict(extra="forbid", strict=True)
    amps: Annotated[float, Field(allow_inf_nan=False, gt=0)]
    kind: Literal["plug", "tail"] = "plug"
    tags: tuple[str, ...] = ()


class Outer(BaseModel):
    """A whole file."""

    model_config = ConfigDict(extra="forbid", strict=True)
    name: str
    count: int = 1
    on: bool = False
    inner: tuple[Inner, ...] = ()
    either: int | Inner | None = None


OUTER, INNER = TypeAdapter(Outer), TypeAdapter(Inner)
KNOWN = {(): tuple(Outer.model_fields), ("inner",): tuple(Inner.model_fields), ("either",): tuple(Inner.model_fields)}


def faults_of(text: str) -> list[str]:
    """Check a text that must be refused; give its faults as people see them."""
    with pytest.raises(FileFaults) as caught:
        check(parse(text, "f"), OUTER, KNOWN)
    return [str(fault) for fault in caught.value.faults]


def test_what_is_right_is_given_as_the_type_asked_for() -> None:
    """A good file becomes the object."""
    text = 'name = "x"\neither = 3\n[[inner]]\namps = 20\ntags = ["a"]\n'
    found = check(parse(text, "f"), OUTER, KNOWN)
    assert found == Outer(name="x", either=3, inner=(Inner(amps=20.0, tags=("a",)),))


def test_a_part_is_checked_alone() -> None:
    """Only the part asked for is looked at, and its faults keep their place in the file."""
    located = parse("name = 3\n[[inner]]\namps = 20\n[[inner]]\namps = -1\n", "f")
    assert check(located, INNER, KNOWN, ("inner", 0)) == Inner(amps=20.0)
    with pytest.raises(FileFaults) as caught:
        check(located, INNER, KNOWN, ("inner", 1))
    assert [str(fault) for fault in caught.value.faults] == ["f:5: inner[2].amps: found -1; must be greater than 0"]


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ('nmae = "x"\nname = "x"', 'f:1: nmae: unknown key; did you mean "name"?'),
        ("", "f: name: is missing"),
        ("name = 1", "f:1: name: found 1; must be text in quotes"),
        ('name = "x"\ncount = 1.5', "f:2: count: found 1.5; must be a whole number"),
        ('name = "x"\ncount = "1"', 'f:2: count: found "1"; must be a whole number'),
        ('name = "x"\ncount = true', "f:2: count: found true; must be a whole number"),
        ('name = "x"\non = 1', "f:2: on: found 1; must be true or false"),
        ('name = "x"\ninner = 1', "f:2: inner: found 1; must be a list in [ ]"),
        ('name = "x"\ninner = [1]', "f:2: inner[1]: found 1; must be a table"),
        ('name = "x"\n[[inner]]', "f:2: inner[1].amps: is missing"),
        ('name = "x"\n[[inner]]\namps = nan', "f:3: inner[1].amps: found NaN; must be a finite number"),
        ('name = "x"\n[[inner]]\namps = "9"', 'f:3: inner[1].amps: found "9"; must be a number'),
        (
            'name = "x"\n[[inner]]\namps = 1\nkind = "cap"',
            'f:4: inner[1].kind: found "cap"; must be "plug" or "tail"',
        ),
        (
            'name = "x"\n[[inner]]\namps = 1\ntags = [\n"a",\n1]',
            "f:6: inner[1].tags[2]: found 1; must be text in quotes",
        ),
        ('name = "x"\n[[inner]]\namps = 1\namsp = 1', 'f:4: inner[1].amsp: unknown key; did you mean "amps"?'),
        (
            'name = "x"\n[[inner]]\namps = 1\nzzz = 1',
            "f:4: inner[1].zzz: unknown key; known here: amps, kind, tags",
        ),
    ],
)
def test_each_kind_of_fault_in_plain_words(text: str, fault: str) -> None:
    """Line, key, what was found and what would do."""
    assert faults_of(text) == [fault]


def test_all_faults_at_once() -> None:
    """Nothing is held back for the next try."""
    faults = faults_of("name = 1\ncount = 2.5\n[[inner]]\namps = 0\n[[inner]]\nkind = 1\n")
    assert [fault.split(": ")[0] for fault in faults] == ["f:1", "f:2", "f:4", "f:5", "f:6"]


def test_a_union_names_the_key_of_the_file_only() -> None:
    """What pydantic calls the members of a union stays out of the message."""
    assert faults_of('name = "x"\neither = { amps = -1 }')[-1].startswith("f:2: either.amps: ")


@pytest.mark.parametrize(
    "text", ["name = 0x" + "F" * 5000, "name = " + "[" * 300 + "]" * 300, "[name" + ".a" * 2000 + "]\nx = 1"]
)
def test_what_can_not_be_looked_at_is_a_fault(text: str) -> None:
    """Endless numbers and bottomless nesting end as a fault, never as an error of our own."""
    (fault,) = faults_of(text)
    assert "nested too deeply" in fault


def test_a_long_finding_is_shortened() -> None:
    """A message stays readable, whatever was found."""
    (fault,) = faults_of("name = [" + "1, " * 500 + "]")
    assert len(fault) < 120


@pytest.mark.parametrize(
    ("word", "words", "text"),
    [
        ("volt", ("volts", "amps"), 'did you mean "volts"?'),
        ("x", ("volts", "amps"), "known here: volts, amps"),
        ("x", (), "nothing of that kind is known here"),
    ],
)
def test_nearest(word: str, words: tuple[str, ...], text: str) -> None:
    """The nearest word, or all of them, or none."""
    assert nearest(word, words) == text
