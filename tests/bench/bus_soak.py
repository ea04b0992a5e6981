"""Poll a bad bus a million times, on a clock of its own. Run: python tests/bench/bus_soak.py [POLLS] [SEED].

The expected number of damaged frames that pass: a frame whose bits are as good as random has any of the 2^16 checksums
with equal chance, so 2^-16 of them pass. The polynomial of MODBUS over Serial Line V1.02, 6.2.2, x^16 + x^15 + x^2 + 1,
has the factor x + 1, so it finds every odd number of wrong bits, and it finds every burst of up to 16 (W. W. Peterson
and D. T. Brown, Cyclic Codes for Error Detection, 1961; from memory). But it has four terms only: an even number of
scattered wrong bits passes more often than 2^-16. Of 400,000 frames with one to six wrong bits 27 passed, 4.4 times
that (measured with this wire), of as many with rubbish 2. So a few times the figure below is what to expect.
"""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.support.soak import Told, soak

WARM = 20_000  # polls before memory is measured for the first time
MISSED_SHARE = 2.0**-16


def memory_mb() -> float:
    """Give the memory that this process has in use [MB]."""
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def handles() -> int:
    """Count this process's open files."""
    return len(os.listdir("/proc/self/fd"))  # noqa: PTH208 - the listing's own handle counts both times


def main() -> None:
    """Run, measure and print."""
    polls = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 0
    first: list[tuple[float, int]] = []

    def watch(told: Told) -> None:
        if not first and told.polls >= WARM:
            first.append((memory_mb(), handles()))

    begun_s = time.monotonic()
    told = soak(polls, seed, watch)
    took_s = time.monotonic() - begun_s
    print(f"{told.polls:,} polls, {told.good:,} good, in {took_s:.0f} s ({told.simulated_s / 3600:.1f} h of the bus)")
    print(f"{len(told.wrong)} wrong values; limit 0")
    expected, passed = told.damaged * MISSED_SHARE, f"{told.missed} did, giving {told.passed} values"
    print(f"{told.damaged:,} damaged frames: {expected:.1f} would pass were all damage random, {passed}")
    for begin in first:
        print(f"memory {begin[0]:.1f} MB after {WARM:,} polls, {memory_mb():.1f} at the end")
        print(f"open files {begin[1]} and {handles()}")
    print("| fault on the bus | injected | next good poll of that meter, mean | longest |\n|---|---|---|---|")
    for kind, count in told.injected.items():
        if count:
            longest, total = told.recovered[kind]
            print(f"| {kind} | {count:,} | {total / count:.2f} s | {longest:.1f} s |")
    for text in told.wrong[:10]:
        print(text)


if __name__ == "__main__":
    main()
