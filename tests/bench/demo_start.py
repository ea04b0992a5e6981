"""Print how long `legwatch demo` takes from its start to the first live volts on its screen [s]: must be under 2.

Run: python tests/bench/demo_start.py [TIMES]
"""

from __future__ import annotations

import os
import pty
import re
import select
import signal
import statistics
import sys
import time
from pathlib import Path

VOLTS = re.compile(rb"\b1[12]\d\.\d\b")
GIVE_UP_S = 20.0


def once() -> float:
    """Start the demo on a pseudo-terminal of its own and wait for volts [s]."""
    legwatch = str(Path(sys.executable).with_name("legwatch"))
    start = time.monotonic()
    pid, master = pty.fork()
    if pid == 0:
        os.environ.update(TERM="xterm-256color", COLUMNS="120", LINES="40")
        os.execv(legwatch, [legwatch, "demo"])  # noqa: S606 - the program under test
    seen = b""
    try:
        while time.monotonic() - start < GIVE_UP_S:
            if select.select([master], [], [], 0.05)[0]:
                seen += os.read(master, 65536)
                if VOLTS.search(re.sub(rb"\x1b\[[0-9;?]*[A-Za-z]", b"", seen)):
                    return time.monotonic() - start
        raise TimeoutError(f"no volts within {GIVE_UP_S} s: {seen[-2000:]!r}")
    finally:
        os.kill(pid, signal.SIGTERM)
        os.close(master)
        os.waitpid(pid, 0)


if __name__ == "__main__":
    times = [once() for _ in range(int(sys.argv[1]) if len(sys.argv) > 1 else 5)]
    print(f"demo to first live volts: median {statistics.median(times):.2f} s, worst {max(times):.2f} s (limit 2)")
