"""``legwatch review`` as a reviewer meets it."""

from __future__ import annotations

import json
from datetime import datetime
from typing import TYPE_CHECKING

import pytest

from tests.monitor.cli.test_commands import legwatch
from tests.monitor.review.logs import evening

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def log(tmp_path: Path) -> Path:
    """Give the log of the evening."""
    return evening(tmp_path)


def test_json_has_the_fixed_keys(log: Path) -> None:
    """Incidents, steps and gaps, times in the show's zone; null where nobody planned a load."""
    done = legwatch("review", log, "--json")
    assert done.returncode == 0, done.stderr
    data = json.loads(done.stdout)
    first = data["incidents"][0]
    assert (first["id"], first["kind"], first["points"], first["confidence"]) == (1, "overload-trip", ["A1"], 0.8)
    assert first["begin"] == "2026-09-21T11:24:00.000-03:00"
    assert first["end"] == "2026-09-21T11:25:00.000-03:00"
    assert [one["speaks"] for one in first["evidence"]] == ["for", "against", "beside"]
    assert first["alternatives"] == [{"kind": "opened-cause-not-shown", "confidence": 0.2}]
    assert first["not_shown"] == ["who or what opened the circuit"]
    steps = [(one["point"], one["watts"], one["amps"], one["match"]) for one in data["steps"]]
    assert steps == [("A1", 1195.0, 10.0, "Key light"), ("A1", 1494.0, 12.5, None)]
    assert {gap["point"] for gap in data["gaps"]} == {"A1", "A2", "source/L1", "source/L2"}


def test_one_in_detail(log: Path) -> None:
    """As text and as JSON of that one alone."""
    text = legwatch("review", log, "1").stdout
    assert "What this log can't show" in text
    assert "Weir <house> & lock" in text
    data = json.loads(legwatch("review", log, "1", "--json").stdout)
    assert [one["id"] for one in data["incidents"]] == [1]


def test_options_choose(log: Path) -> None:
    """By kind and by time; nothing found is no failure."""
    kind = json.loads(legwatch("review", log, "--kind", "meter-silent", "--json").stdout)
    assert [one["id"] for one in kind["incidents"]] == [2]
    early = legwatch("review", log, "--until", "2026-09-21T11:20")
    assert early.returncode == 0
    assert "No incident was found." in early.stdout


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("7",), "it has 1 to 2"),
        (("--since", "noon"), "is no time"),
        (("--since", "2026-09-22", "--until", "2026-09-21"), "does not lie after"),
        (("--kind", "gremlins"), "gremlins"),
    ],
)
def test_wrong_use_is_told(log: Path, words: tuple[str, ...], said: str) -> None:
    """Exit 2 and what would do."""
    done = legwatch("review", log, *words)
    assert done.returncode == 2
    assert said in done.stderr
    assert "Traceback" not in done.stderr


def test_alarms_tell_times_in_the_same_form(log: Path) -> None:
    """ISO 8601 in the show's zone with its offset, as everywhere."""
    rows = json.loads(legwatch("alarms", log, "--history", "--json").stdout)["alarms"]
    assert rows[0]["time"] == "2026-09-21T11:21:50.000-03:00"
    counted = json.loads(legwatch("alarms", log, "--stats", "--json").stdout)
    assert datetime.fromisoformat(counted["begin"]).isoformat() == "2026-09-21T11:14:00-03:00"
