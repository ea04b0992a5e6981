"""Whether an open dashboard grows: run it as ``python tests/bench/dashboard_memory.py``; nothing here is asserted.

An engine folds readings of 48 circuits and the screen draws each Snapshot, ten a second: an hour of a show at 10 times
its speed takes six minutes. Two of them are run, with the screens of one circuit, the alarms and the log opened and
closed now and then. The slope of the second half is printed for the whole hour: an extrapolation, said as one.
"""

from __future__ import annotations

import asyncio
import resource
import sys
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from drivers.reading import Quality, Values
from monitor.dashboard.app import LegwatchApp
from monitor.engine.fold import Engine
from monitor.engine.reading import Reading
from monitor.engine.snapshot import LoggerView
from monitor.show.model import Point
from tests.monitor.dashboard.past import Past
from tests.support.shows import circuit, show

if TYPE_CHECKING:
    from monitor.engine.snapshot import Snapshot

PERIOD_S, RUN_S, HOUR = 0.1, 120, 3600
KEYS = ("down", "enter", "escape", "a", "escape", "l", "escape", "s")
LOGGER = LoggerView(running=True, last_commit_age_s=0.1, not_kept=0, problem="", log_path="bench.sqlite")


class Folded:
    """A feed whose engine has taken one more second of readings at each call."""

    def __init__(self) -> None:
        self.show = show(*(circuit(f"A{n}") for n in range(48)))
        self.engine = Engine(self.show)
        self.seconds = 0

    def snapshot(self) -> Snapshot:
        """Fold the next second."""
        self.seconds += 1
        now_ms = 1_767_924_000_000 + self.seconds * 1000
        readings = [
            Reading(Point(each.id), now_ms, float(self.seconds), Quality.GOOD, Values(volts=120.0, amps=amps), "")
            for n, each in enumerate(self.show.circuits)
            if (amps := 1.0 + (7 * self.seconds + 3 * n) % 19)
        ]
        return self.engine.advance(readings, now_ms, float(self.seconds), LOGGER)


async def run() -> list[tuple[int, float]]:
    """Give (seconds of the show, resident kB) every twenty."""
    feed, seen = Folded(), []
    app = LegwatchApp(feed, history=Past())
    async with app.run_test(size=(120, 50)) as pilot:
        for step in count(1):
            app.look()
            if step % 15 == 0:
                await pilot.press(KEYS[step // 15 % len(KEYS)])
            await asyncio.sleep(PERIOD_S / 4)
            if step % 20 == 0:
                seen.append((feed.seconds, _resident_kb()))
            if step * PERIOD_S >= RUN_S:
                return seen
    return seen


def _resident_kb() -> float:
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * resource.getpagesize() / 1024


def main() -> None:
    """Print the slope."""
    seen = asyncio.run(run())
    half = seen[len(seen) // 2 :]
    slope = float(np.polyfit([at for at, _ in half], [kb for _, kb in half], 1)[0])
    print(f"resident after {seen[0][0]} s of the show {seen[0][1] / 1024:6.1f} MiB")
    print(f"after {half[0][0]} s                 {half[0][1] / 1024:6.1f} MiB")
    print(f"after {half[-1][0]} s                {half[-1][1] / 1024:6.1f} MiB")
    hour = slope * HOUR / 1024
    print(f"by the second half's slope    {hour:+6.2f} MiB an hour of the show, extrapolated; limit: flat")


if __name__ == "__main__":
    main()
