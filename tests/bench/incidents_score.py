"""Print how many scenes are told right, and what a quiet second of 48 circuits costs the finder.

Run: python tests/bench/incidents_score.py [SEEDS] [FIRST SEED] [SCENE ...]
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from drivers.reading import Quality, Values
from monitor.alarms.model import Now, PointNow
from monitor.incidents.finder import IncidentFinder
from tests.monitor.incidents.sceneday import Maker, Scene
from tests.monitor.incidents.scenes import MAKERS
from tests.monitor.incidents.seconds import circuit, panel, small

if TYPE_CHECKING:
    from monitor.incidents.model import Incident

SECONDS = 600
SURE = 0.7


def main() -> None:
    """Measure and print."""
    seeds = int(sys.argv[1]) if len(sys.argv) > 1 else 15
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 1000
    names = sys.argv[3:]
    good: Counter[str] = Counter()
    played: Counter[str] = Counter()
    sure = 0
    for maker in MAKERS:
        name = maker.__name__
        for seed in range(first, first + seeds) if not names or name in names else ():
            right, wrong_and_sure = judge(maker(Maker(seed * 1000 + MAKERS.index(maker))), f"{name} {seed}")
            good[name] += right
            played[name] += 1
            sure += wrong_and_sure
    for name, count in played.items():
        print(f"{name:15} {good[name]:4} of {count}")
    share = 100 * sum(good.values()) / sum(played.values())
    print(f"{share:.1f} % of {sum(played.values())} scenes told right, once and in place (goal 95)")
    print(f"{sure} wrong with a confidence of {SURE:g} or more")
    print(f"{quiet_cost() * 1e6:.0f} us a quiet second of 48 circuits (limit 300)")


def judge(scene: Scene, name: str) -> tuple[bool, bool]:
    """Play a scene: whether it was told right, and whether it was told wrong and sure of it."""
    finder = IncidentFinder(scene.day.show)
    found: dict[int, Incident] = {}
    for now in scene.day.moments(scene.seconds):
        found |= {one.number: one for one in finder.observe(now).incidents}
    told = list(found.values())
    right = not told
    if scene.wanted:
        right = len(told) == 1 and told[0].kind in scene.wanted
        right = right and bool({str(point) for point in told[0].points} & set(scene.where))
    if not right:
        print(name, scene.name, [(one.kind.value, str(one.points[0]), one.confidence) for one in told])
    return right, any(one.kind not in scene.wanted and one.confidence >= SURE for one in told)


def quiet_cost() -> float:
    """Give the processor time of one quiet second [s]."""
    random = Random(1)
    show = small([circuit(f"C{n}", ("L1", "L2")[n % 2], load=(panel(900),)) for n in range(48)])
    points = show.points()
    nows = [
        Now(
            1_800_000_000_000 + 1000 * second,
            {
                point: PointNow(
                    Values(random.gauss(119, 0.1), random.gauss(7.5, 0.02), 60.0, random.gauss(892, 2)),
                    Quality.GOOD,
                    "",
                    0.2,
                    fresh=True,
                )
                for point in points
            },
            resumed=second == 0,
        )
        for second in range(SECONDS)
    ]
    finder = IncidentFinder(show)
    begin = time.process_time()
    for now in nows:
        finder.observe(now)
    return (time.process_time() - begin) / SECONDS


if __name__ == "__main__":
    main()
