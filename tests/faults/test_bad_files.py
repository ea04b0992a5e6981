"""Broken show files and meter maps by the hundred: a show, or faults that name file and line; never anything else."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from drivers.files.faults import FileFaults
from monitor.show.loading import load_show_text
from tests.support.badfiles import read_broken
from tests.support.measured import Measured

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from drivers.files.faults import Fault

TIMES = 300  # tests of the loaders themselves break 350 more


def test_no_broken_file_breaks_us(tmp_path: Path, record_property: Callable[[str, object], None]) -> None:
    """Shows, maps beside shows and wrong bytes, each through the loader that the commands use."""
    found = read_broken(tmp_path, TIMES)
    how = "one to three seeded damages, read as the commands read them"
    for kind, count in sorted(found.count.items()):
        row = Measured(f"broken file: {kind}", how, count, len(found.wrong), TIMES, "without file and line")
        row.keep(record_property)
    assert not found.wrong, found.wrong[:5]
    assert found.refused > TIMES / 3
    assert sum(found.count.values()) == TIMES


WORDS = st.sampled_from([*"[]{}=,1#\n", "[show]", "[[circuit]]", "[source]", "id", "name", "legs", '"A1"', "nan"])


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.one_of(st.text(max_size=200), st.lists(WORDS, max_size=40).map(" ".join)))
def test_no_text_breaks_the_loader(text: str) -> None:
    """Any text, and texts made of the file's own words."""
    faults = faults_in(text)
    assert {fault.file for fault in faults} <= {"quarry.toml"}
    assert all(fault.text for fault in faults)


def faults_in(text: str) -> tuple[Fault, ...]:
    """Give the faults of a show file's text; none where it is a show."""
    try:
        load_show_text(text, "quarry.toml", with_maps=False)
    except FileFaults as error:
        return error.faults
    return ()
