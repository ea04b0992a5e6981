"""Kill loggers with SIGKILL at random moments. Run: python tests/bench/kills.py [TIMES, default 600]."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.support.killing import kill_many
from tests.support.sets import small_set

SIDE_BY_SIDE = 6


def main() -> None:
    """Kill, count and print."""
    each = max(1, int(sys.argv[1] if len(sys.argv) > 1 else 600) // SIDE_BY_SIDE)
    with tempfile.TemporaryDirectory() as name, small_set(Path(name)) as (show, _):
        found = kill_many(show, Path(name), SIDE_BY_SIDE, each, seed=1_000)
    print(f"{found.kills:,} kills, {found.acknowledged:,} readings acknowledged")
    print(f"{found.lost} lost, {found.torn} polls in part, {found.damaged} damaged logs; limit 0 each")
    print(f"{found.ready_s:.1f} s at most from a start to the first committed cycle, {SIDE_BY_SIDE} side by side")


if __name__ == "__main__":
    main()
