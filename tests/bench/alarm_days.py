"""How many alarms whole quiet days raise, and what watching them costs.

Run: python tests/bench/alarm_days.py [days] [hours]
Every day is another set, seed, source and way of metering. The goal is no alarm; each one raised is printed with what
was seen. A circuit that is opened in the middle of every second day shows that the day is really watched.
"""

from __future__ import annotations

import sys
from pathlib import Path
from time import process_time
from typing import TYPE_CHECKING

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from monitor.alarms.conditions import Conditions
from monitor.alarms.judge import Judge
from tests.support.days.day import Day
from tests.support.days.scripts import both, heater, later, opened, power_up, quiet, wrap
from tests.support.days.sets import Governor, Kind, Made, Metering, Performance, Tap, make

if TYPE_CHECKING:
    from monitor.show.model import System

SYSTEMS: tuple[System, ...] = ("120/240", "208Y/120", "400Y/230", "230")
METERED: tuple[Metering, ...] = ("circuits", "source", "all")
TAPS: tuple[Tap, ...] = ("load", "line")
SOURCES: tuple[tuple[Kind, Governor, Performance], ...] = (
    ("generator", "isochronous", "G1"),
    ("generator", "droop", "G2"),
    ("house", "isochronous", "G2"),
    ("generator", "inverter", "G2"),
    ("generator", "isochronous", "G3"),
)


def made(number: int) -> Made:
    """Give the set of one day."""
    kind, governor, performance = SOURCES[number % len(SOURCES)]
    return Made(
        system=SYSTEMS[number % len(SYSTEMS)],
        metering=METERED[number % len(METERED)],
        tap=TAPS[number // 2 % len(TAPS)],
        kind=kind,
        governor=governor,
        performance=performance,
        boxes=2 + number % 3,
        each=3 + number % 4,
        seed=number,
    )


def play(number: int, seconds: int) -> tuple[list[str], float, int]:
    """Play one day; give what it raised, the cost of one observation of everything [ms], and how many there are."""
    how = made(number)
    day = Day(make(how), number, noise=0.006)
    day.corrupt, day.slow = 0.02, 0.1
    power_up(day, 30)
    quiet(day, 200, seconds - 300)
    wrap(day, seconds - 250)
    if number % 2 and how.tap == "load":
        day.at(seconds // 2, both(heater("A2", 300), later(10, opened("A2"))))
    conditions, judge = Conditions(day.show), Judge(day.show)
    raised, cost, count = [], 0.0, 0
    for now in day.moments(seconds):
        begin = process_time()
        seen = conditions.observe(now)
        cost += process_time() - begin
        count = len(seen)
        for change in judge.judge(seen, now):
            if change.alarm.state == "unacknowledged" and change.before != change.alarm.state:
                alarm = change.alarm
                raised.append(f"{day.second:6} s  {alarm.code} at {alarm.where}: {alarm.seen}")
    return raised, 1000 * cost / seconds, count


def main() -> None:
    """Print a line a day, and every alarm."""
    days = int(sys.argv[1]) if len(sys.argv) > 1 else 4
    hours = float(sys.argv[2]) if len(sys.argv) > 2 else 12.0
    for number in range(days):
        raised, cost, count = play(number, round(3600 * hours))
        how = made(number)
        opened_one = " (one circuit was opened)" if number % 2 and how.tap == "load" else ""
        print(
            f"day {number}: {how.system}, {how.kind} {how.governor}, metered {how.metering}, volts from the {how.tap}"
            f" side: {len(raised)} alarms{opened_one}; {count} observations, {cost:.2f} ms each second"
        )
        for line in raised:
            print(f"   {line}")


if __name__ == "__main__":
    main()
