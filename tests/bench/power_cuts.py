"""Cut the power of a logger 20,000 times, and print what was found. Run: python tests/bench/power_cuts.py [TIMES]."""

from __future__ import annotations

import shutil
import sys
import tempfile
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.support.cutting import base_log, cut_once

MEMORY = Path("/dev/shm")  # noqa: S108 - what a sync is worth is decided by the shim, not by this disk


def main() -> None:
    """Cut, count and print."""
    times = int(sys.argv[1]) if len(sys.argv) > 1 else 20_000
    found: Counter[str] = Counter()
    with tempfile.TemporaryDirectory(dir=MEMORY if MEMORY.is_dir() else None) as name:
        base = base_log(Path(name) / "base.sqlite")
        for seed in range(1_000_000, 1_000_000 + times):
            folder = Path(name) / "run"
            folder.mkdir()
            outcome = cut_once(folder, base, seed)
            shutil.rmtree(folder)
            found["cycles acknowledged"] += outcome.acknowledged
            found["cycles lost"] += max(0, outcome.acknowledged - outcome.found)
            found["cycles in part"] += outcome.torn
            found["damaged files"] += outcome.sound != "ok"
            found["could not go on"] += not outcome.opened_again
            found["cuts within a commit that is there all the same"] += outcome.found > outcome.acknowledged
    print(f"{times} cuts")
    for what, count in found.items():
        print(f"{count:>9,} {what}")


if __name__ == "__main__":
    main()
