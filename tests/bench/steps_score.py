"""Print how many planned loads are named right, and how many names are invented, over random days of one circuit.

Run: python tests/bench/steps_score.py [DAYS] [FIRST SEED]
"""

from __future__ import annotations

import sys
import time
from collections import defaultdict
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from monitor.electrical.steps import StepFinder
from tests.support.stepdays import random_day
from tests.support.stepscore import Score, score


def main() -> None:
    """Measure and print."""
    days = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 50_000
    groups: dict[str, Score] = defaultdict(Score)
    spent, samples = 0.0, 0
    for seed in range(first, first + days):
        day = random_day(seed)
        finder = StepFinder(day.circuit, day.system)
        rows = list(day.samples())
        begin = time.perf_counter()
        steps = [step for row in rows for step in finder.add(*row)]
        spent += time.perf_counter() - begin
        samples += len(rows)
        found = score(day, steps)
        kind = "watts" if day.by_watts else "amps"
        for name in ("all", f"by {kind}", f"pace {day.pace_s}", f"flutter {day.flutter}", f"digit {day.digit}"):
            groups[name].add(found)
        groups[f"{day.system} {len(day.circuit.legs)}"].add(found)
        groups[f"lost {day.lost}"].add(found)
    for name in sorted(groups):
        s = groups[name]
        print(
            f"{name:16} named right {100 * s.right / max(s.planned, 1):5.1f} % of {s.planned:5}   "
            f"alone {100 * s.alone_right / max(s.alone, 1):5.1f} % of {s.alone:5}   "
            f"and unmistakable {100 * s.clear_right / max(s.clear, 1):5.1f} % of {s.clear:5}   "
            f"wrong names {100 * s.wrong / max(s.named, 1):4.1f} % of {s.named:5}   "
            f"invented for {s.strange - s.alike} unplanned unlike any planned: {s.invented}   "
            f"steps from nothing {s.spurious} ({s.spurious_named} named)"
        )
    print(f"{1e6 * spent / samples:.1f} microseconds a sample, {samples} samples, {days} days")


if __name__ == "__main__":
    main()
