"""TOML with lines: every key is found where it stands, whatever way it is written."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.files.faults import Fault, FileFaults
from drivers.files.located import dotted, parse, read

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

SAMPLE = '''\
# a comment with [brackets] and "quotes"
plain = 1
"quoted key" = "a # no comment"
dotted.key.deep = { inline = 2, other = [3] }

[table]
text = """
[no header]
key = "no key"
\\""" still the text"""
literal = \'\'\'
[nor this
\'\'\'
after = true

  [table.sub]   # with a comment
x = [
  1, # ]
  2,

  [3,
   4],
  { y = 5 }, { y = 6 }
]
z = 7

[[list]]
a = 1
[list.inner]
b = 2
[[list.more]]
c = 3
[[list.more]]
c = 4
[[list]]
a = 5
[[list.more]]
c = 6
'''

EXPECTED = {
    ("plain",): 2,
    ("quoted key",): 3,
    ("dotted", "key", "deep"): 4,
    ("dotted", "key", "deep", "other", 0): 4,
    ("table",): 6,
    ("table", "text"): 7,
    ("table", "literal"): 11,
    ("table", "after"): 14,
    ("table", "sub"): 16,
    ("table", "sub", "x"): 17,
    ("table", "sub", "x", 0): 18,
    ("table", "sub", "x", 1): 19,
    ("table", "sub", "x", 2): 22,
    ("table", "sub", "x", 3, "y"): 23,
    ("table", "sub", "x", 4, "y"): 23,
    ("table", "sub", "z"): 25,
    ("list", 0): 27,
    ("list", 0, "a"): 28,
    ("list", 0, "inner", "b"): 30,
    ("list", 0, "more", 0, "c"): 32,
    ("list", 0, "more", 1, "c"): 34,
    ("list", 1, "a"): 36,
    ("list", 1, "more", 0): 37,
    ("list", 1, "more", 0, "c"): 38,
}


@pytest.mark.parametrize(
    ("path", "line"), EXPECTED.items(), ids=lambda item: dotted(item) if isinstance(item, tuple) else ""
)
def test_every_key_is_found_on_its_line(path: tuple[str | int, ...], line: int) -> None:
    """Keys in all of TOML's ways of writing, beside comments and texts that look like keys."""
    assert parse(SAMPLE, "sample.toml").line_of(path) == line


def test_line_ends_do_not_matter() -> None:
    """Windows line ends give the same data and lines."""
    one, other = parse(SAMPLE, "x"), parse(SAMPLE.replace("\n", "\r\n"), "x")
    assert (one.data, one.lines) == (other.data, other.lines)


def test_a_path_without_line_takes_the_nearest_enclosing_one() -> None:
    """A key that is not there is told of at its table, or nowhere."""
    located = parse(SAMPLE, "x")
    assert located.line_of(("list", 1, "missing")) == 35
    assert located.line_of(("missing",)) is None


@pytest.mark.parametrize("odd", ["\x85", "\u2028", "\u2029", "\x0b", "\x0c", "\x1c"])
def test_only_line_ends_end_lines(odd: str) -> None:
    """Characters that some programs take for line ends shift no line; those TOML forbids are a fault."""
    text = f'a = "x{odd}y" # {odd}\nb = 1\n'
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        with pytest.raises(FileFaults):
            parse(text, "x")
    else:
        assert parse(text, "x").lines == {("a",): 1, ("b",): 2}


def test_dotted_counts_from_one() -> None:
    """Paths are written as people count."""
    assert dotted(("circuit", 1, "breaker", "amps")) == "circuit[2].breaker.amps"
    assert dotted(()) == ""


def all_paths(value: Any, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """Give the path of everything in ``value``."""
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in items:
        yield (*path, key)
        yield from all_paths(inner, (*path, key))


STATEMENTS = st.sampled_from(
    [
        "k{n} = 1",
        "k{n} = [\n1,\n\n2]",
        'k{n} = """\n[x]\n"""',
        "k{n} = '''\n#'''",
        "# [[no]]",
        "",
        "[t{n}]",
        "[[t.l]]",
        "[[l]]",
        'k{n} = { a = [ { b = \'}\' } ], c = "]\\"" }',
        'k{n} = """a""""',
        "k{n}.a.b = [[[1], [\n2]], []] # ]",
    ]
)


@given(st.lists(STATEMENTS, max_size=12))
def test_everything_has_a_line_within_its_statement(statements: list[str]) -> None:
    """In any sequence of statements, each key's line is one of its statement's, and none is forgotten."""
    parts = [statement.replace("{n}", str(place)) for place, statement in enumerate(statements)]
    located = parse("\n".join(parts), "x")
    assert set(all_paths(located.data)) == set(located.lines)
    starts = [1 + sum(part.count("\n") + 1 for part in parts[:place]) for place in range(len(parts))]
    for path, line in located.lines.items():
        for name in [part for part in path if isinstance(part, str) and part[0] in "kt" and part[1:].isdigit()]:
            place = int(name[1:])
            within = range(starts[place], starts[place] + parts[place].count("\n") + 1)
            assert line in within or name[0] == "t"


def test_a_very_long_list_is_located_as_a_whole() -> None:
    """Thousands of lines are no burden; the elements are told of where the list begins."""
    located = parse("x = [\n" + "1,\n" * 5000 + "]\ny = 2\n", "x")
    assert located.line_of(("x", 4000)) == 1
    assert located.line_of(("y",)) == 5003


@pytest.mark.parametrize(
    ("text", "line", "part"),
    [
        ("a = 1\nb =\nc = 2\n", 2, "invalid value"),
        ("a = 1\na = 2\n", 2, "is not valid TOML here"),
        ("a = [1,\n2\n", 2, "is not valid TOML here"),
        ('a = "x', 1, "is not valid TOML here"),
        ("a = \0", 1, "is not valid TOML here"),
        ("a = " + "9" * 5000, None, "too many digits"),
        ("a = " + "[" * 5000 + "]" * 5000, None, "nested too deeply"),
    ],
    ids=["no value", "twice", "open list", "open text", "nul", "long number", "deep"],
)
def test_what_is_no_toml_is_one_fault(text: str, line: int | None, part: str) -> None:
    """A syntax error is a fault with its line, in plain words."""
    with pytest.raises(FileFaults) as caught:
        parse(text, "broken.toml")
    (fault,) = caught.value.faults
    assert (fault.file, fault.line) == ("broken.toml", line)
    assert part in fault.text


@given(st.text(st.sampled_from("ab=[]{}\"'#.,\n\\ 1_-"), max_size=40))
def test_any_text_is_data_or_faults(text: str) -> None:
    """Whatever is typed ends as data that ``tomllib`` agrees with, or as faults."""
    try:
        located = parse(text, "x")
    except FileFaults:
        with pytest.raises(tomllib.TOMLDecodeError):
            tomllib.loads(text)
    else:
        assert located.data == tomllib.loads(text)
        assert set(all_paths(located.data)) == set(located.lines)


def test_files_are_read_or_told_of(tmp_path: Path) -> None:
    """A good file is read, with or without the mark some editors put first; others are told of by name."""
    good, bytes_only = tmp_path / "good.toml", tmp_path / "bytes.toml"
    good.write_bytes(b"\xef\xbb\xbfa = 1\r\nb = 2\r\n")
    assert read(str(good)).lines == {("a",): 1, ("b",): 2}
    bytes_only.write_bytes(b"\xff\xfea\0")
    for path, part in (
        (str(bytes_only), "UTF-8"),
        (str(tmp_path), "can't be read"),
        (str(tmp_path / "none"), "can't be read"),
        ("nul\0nul", "can't be read"),
    ):
        with pytest.raises(FileFaults, match=part) as caught:
            read(path)
        assert caught.value.faults[0].file == path


def test_faults_are_lines_for_people_in_the_order_of_the_file() -> None:
    """File, line, key, text; sorted by line, those without one first."""
    faults = FileFaults((Fault("f", 9, "b", "late"), Fault("f", 2, "", "early"), Fault("f", None, "a", "whole")))
    assert str(faults).split("\n") == ["f: a: whole", "f:2: early", "f:9: b: late"]
