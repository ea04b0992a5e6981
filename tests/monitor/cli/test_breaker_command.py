"""``legwatch breaker`` with a datasheet's own points, and what it refuses."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

LEGWATCH = str(Path(sys.executable).with_name("legwatch"))
OWN = ("--standard", "custom", "--amps", "25")


def breaker(*words: str) -> subprocess.CompletedProcess[str]:
    """Run the command."""
    return subprocess.run([LEGWATCH, "breaker", *words], capture_output=True, text=True, timeout=30, check=False)


@pytest.mark.parametrize(
    ("load", "soonest", "latest"),
    [
        ("25", 300.0, None),  # below the first point: no sooner than there, no opening required
        ("50", 10.0, 200.0),  # a point itself
        ("60", 2.0, 200.0),  # between points: no sooner than at the next, no later than at the last
        ("250", None, 0.1),  # the last point sets no lower time, given as 0 or left empty
        ("500", None, 0.1),
    ],
)
@pytest.mark.parametrize("nothing", ["", "0"])
def test_own_points(load: str, soonest: float | None, latest: float | None, nothing: str) -> None:
    """Stepwise between the points, as the points of any standard are read."""
    gates = ("1.5:300:3000", "2:10:200", "3:2:", f"10:{nothing}:0.1")
    told = json.loads(breaker(*OWN, "--load", load, *(w for g in gates for w in ("--gate", g)), "--json").stdout)
    assert told["soonest"]["seconds"] == soonest
    assert told["soonest"]["kind"] == ("not-set" if soonest is None else "time")
    assert told["latest"] == {"kind": "none" if latest is None else "time", "seconds": latest}


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--class", "C", "--gate", "2:8:90"), "--class belongs to"),
        (("--gate", "2::"), "needs a soonest or a latest time"),
        (("--gate", "2:8:90", "--gate", "3:9:80"), "more current can't take longer"),
        (("--gate", "2:nan:90"), "numbers above 0"),
    ],
)
def test_points_that_are_none_are_refused(words: tuple[str, ...], told: str) -> None:
    """Each with one line and exit code 2."""
    result = breaker(*OWN, "--load", "30", *words)
    assert result.returncode == 2
    assert told in result.stderr
    assert len(result.stderr.splitlines()) == 1
