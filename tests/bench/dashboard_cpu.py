"""What the dashboard costs: run it as ``python tests/bench/dashboard_cpu.py``; nothing here is asserted.

It draws circuits on a pseudo-terminal of 120 by 50 cells: 48 with a Snapshot in which every circuit has changed each
second, 48 with one that never changes, 200 that change twice a second. It prints the processor time of each as a share
of one core, and the time from the start of Python to the first line on the screen, beside their limits.
"""

from __future__ import annotations

import fcntl
import json
import os
import pty
import select
import struct
import subprocess
import sys
import tempfile
import termios
import time
from dataclasses import replace
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from monitor.engine.snapshot import Snapshot

ROOT = Path(__file__).resolve().parents[2]
SIZE = (50, 120)  # lines, columns
WARM_UP_S, MEASURED_S = 3, 20


def main() -> None:
    """Print the costs."""
    changing, _ = _run("changing", 48, 1.0)
    still, _ = _run("still", 48, 1.0)
    many, _ = _run("changing", 200, 0.5)
    paints = {number: median(_run("once", number, 1.0)[1] for _ in range(5)) for number in (48, 200)}
    print(f"48 circuits changing each second    {changing:5.2f} % of a core   limit 1.5")
    print(f"the same screen without changes     {still:5.2f} %")
    print(f"200 circuits changing twice a second{many:6.2f} % of a core   limit 5")
    print(f"start of Python to first paint      {paints[48]:5.2f} s             limit 0.5")
    print(f"the same with 200 circuits          {paints[200]:5.2f} s             limit 0.5")


def _run(kind: str, circuits: int, period_s: float) -> tuple[float, float]:
    """Run the dashboard on a pseudo-terminal; give percent of a core, and seconds to the first paint."""
    with tempfile.TemporaryDirectory() as folder:
        answer = Path(folder) / "answer.json"
        ours, theirs = pty.openpty()
        fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", *SIZE, 0, 0))
        environ = {**os.environ, "TERM": "xterm-256color", "PYTHONPATH": str(ROOT)}
        began = time.monotonic()
        child = subprocess.Popen(
            [sys.executable, __file__, kind, str(circuits), str(period_s), str(answer)],
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            env=environ,
        )
        os.close(theirs)
        first_paint_s = _read_until_end(ours, child, began)
        os.close(ours)
        return float(json.loads(answer.read_text())["percent"]), first_paint_s


def _read_until_end(ours: int, child: subprocess.Popen[bytes], began: float) -> float:
    first_paint_s, seen = 0.0, b""
    while child.poll() is None:
        if not select.select([ours], [], [], 0.2)[0]:
            continue
        try:
            data = os.read(ours, 65536)
        except OSError:
            break
        seen = seen[-100:] + data
        if not first_paint_s and b"boxA" in seen:
            first_paint_s = time.monotonic() - began
    child.wait()
    return first_paint_s


def _child(kind: str, circuits: int, period_s: float, answer: Path) -> None:
    from monitor.dashboard import app as dashboard  # noqa: PLC0415 - only the child pays for Textual
    from tests.monitor.dashboard import snapshots  # noqa: PLC0415 - it stands in the checkout alone

    dashboard.PERIOD_S = period_s
    base = snapshots.many(circuits)
    shown = [base]
    if kind == "changing":
        shown = [
            replace(
                base,
                time_ms=base.time_ms + round(1000 * period_s * step),
                circuits=tuple(
                    snapshots.measured_as(view, snapshots.live(1.0 + (7 * step + 3 * index) % 19))
                    for index, view in enumerate(base.circuits)
                ),
            )
            for step in range(10)
        ]

    class Counting:
        """A feed that notes the processor time at two of its calls and then ends the app."""

        calls = 0
        at: tuple[float, float] = (0.0, 0.0)

        def snapshot(self) -> Snapshot:
            self.calls += 1
            if kind == "once" and self.calls > 1:
                answer.write_text('{"percent": 0}')
                app.exit()
            if self.calls == round(WARM_UP_S / period_s):
                self.at = time.process_time(), time.monotonic()
            if self.calls == round((WARM_UP_S + MEASURED_S) / period_s):
                used, passed = time.process_time() - self.at[0], time.monotonic() - self.at[1]
                answer.write_text(json.dumps({"percent": 100.0 * used / passed}))
                app.exit()
            return shown[self.calls % len(shown)]

    app = dashboard.LegwatchApp(Counting())
    app.run()


if __name__ == "__main__":
    if len(sys.argv) == 5:
        _child(sys.argv[1], int(sys.argv[2]), float(sys.argv[3]), Path(sys.argv[4]))
    else:
        main()
