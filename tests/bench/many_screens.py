"""Write a log beside 20 screens and a stuck one. Run: python tests/bench/many_screens.py [CYCLES, default 3600]."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from monitor.log.schema import _WAL_BYTES
from tests.support.screens import POINTS, write_beside_screens

SCREENS = 20


def main() -> None:
    """Write, measure and print."""
    cycles = int(sys.argv[1]) if len(sys.argv) > 1 else 3_600
    with tempfile.TemporaryDirectory() as name:
        found = write_beside_screens(Path(name) / "log.sqlite", SCREENS, cycles)
    print(f"{found.committed} of {cycles} cycles of {POINTS} readings, beside {SCREENS} screens and a stuck one")
    print(f"a commit: {found.commit_ms:.2f} ms, alone {found.alone_ms:.2f} ms")
    stuck_mb, after_mb, limit_mb = (size / 1e6 for size in (found.wal_stuck, found.wal_after, _WAL_BYTES))
    print(f"WAL: {stuck_mb:.1f} MB while stuck, {after_mb:.1f} MB after; limit {limit_mb:.0f}")


if __name__ == "__main__":
    main()
