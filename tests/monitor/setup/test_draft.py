"""A show file's text under change: what is not touched stays to the letter."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.places import data
from monitor.setup.draft import ShowDraft

EXAMPLE = data("config/example-show.toml").read_text(encoding="utf-8")
EUROPE = data("config/example-show-europe.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("text", [EXAMPLE, EUROPE, ""])
def test_nothing_changed_is_the_same_text(text: str) -> None:
    """Read and written to the letter."""
    assert ShowDraft(text).text == text


def test_one_key_changes_one_line() -> None:
    """A circuit's name: every other line stays, comments and order too."""
    draft = ShowDraft(EXAMPLE)
    draft.put("circuit", {"id": "W2"}, {"name": "Village"})
    before, after = EXAMPLE.splitlines(), draft.text.splitlines()
    assert [(a, b) for a, b in zip(before, after, strict=True) if a != b] == [
        ('name = "Monitors and sound"', 'name = "Village"')
    ]


def test_an_inner_table_keeps_its_comment() -> None:
    """Amps of a breaker change within its inline table, the remark behind stays."""
    draft = ShowDraft('[[feeder]]\nid = "w"\nbreaker = { amps = 60, poles = 2 } # tested in May\n')
    draft.put("feeder", {"id": "w"}, {"breaker": {"amps": 50, "poles": 2}})
    assert draft.text == '[[feeder]]\nid = "w"\nbreaker = { amps = 50, poles = 2 } # tested in May\n'


@pytest.mark.parametrize(
    "text",
    [
        "",
        '[[circuit]]\nid = "A"\n[[bus]]\nid = "b"\n[[circuit]]\nid = "B"\n# end',
        'circuit = [{ id = "A" }, { id = "B" }]\n',
        '[show]\nname = "x"',
    ],
)
def test_new_tables_come_whatever_stands_there(text: str) -> None:
    """Mixed tables, inline ones, no line end: the new circuit is added, the others stay, the text is TOML."""
    draft = ShowDraft(text)
    before = tomllib.loads(text).get("circuit", [])
    draft.put("circuit", {"id": "C"}, {"legs": ["L1"], "breaker": {"amps": 20}, "cable": None})
    draft.put("circuit", {"id": "C"}, {"name": 'Key "side"'})
    found = tomllib.loads(draft.text)["circuit"]
    assert found == [*before, {"id": "C", "legs": ["L1"], "breaker": {"amps": 20}, "name": 'Key "side"'}]
    assert all(line in draft.text for line in text.splitlines() if line.startswith("#"))


def test_none_takes_a_key_out() -> None:
    """A house has no governor: the key goes, the rest stays."""
    draft = ShowDraft('[source]\nkind = "generator"\ngovernor = "droop" # as told\nrated_kw = 20\n')
    draft.set("source", {"kind": "house", "governor": None})
    assert tomllib.loads(draft.text) == {"source": {"kind": "house", "rated_kw": 20}}


plain = st.one_of(st.text(max_size=20), st.integers(-(10**6), 10**6), st.booleans(), st.floats(-1e6, 1e6))


@given(st.dictionaries(st.from_regex(r"[a-z]{1,6}", fullmatch=True), plain, max_size=4), st.sampled_from([EXAMPLE, ""]))
def test_whatever_is_put_is_read_back(values: dict[str, Any], text: str) -> None:
    """Any plain values in a new table: TOML gives them back, and every line of before stays."""
    draft = ShowDraft(text)
    values.pop("id", None)
    draft.put("meter", {"id": "new one"}, values)
    assert tomllib.loads(draft.text)["meter"][-1] == {"id": "new one", **values}
    after = iter(draft.text.splitlines())
    assert all(line in after for line in text.splitlines()), "each line of before stands there, in its order"
