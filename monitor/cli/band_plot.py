"""A plot of a breaker's band in plain characters: what the gates say about every current and time."""

from __future__ import annotations

from math import exp, inf, log
from typing import TYPE_CHECKING

from monitor.electrical.breaker import latest_at, soonest_at

if TYPE_CHECKING:
    from monitor.electrical.breaker import Requirement

CLOSED, OPEN, EITHER, LOAD = "-", "#", ".", "|"
_TICKS = ((7200.0, "2 h"), (3600.0, "1 h"), (600.0, "10 min"), (60.0, "1 min"), (10.0, "10 s"), (1.0, "1 s"))
_TICKS_FAST = ((0.1, "0.1 s"), (0.05, ""))
_MULTIPLES = (1.0, 1.5, 2.0, 3.0, 5.0, 7.0, 10.0, 20.0, 50.0)
_MARGIN = 8


def band_plot(gates: tuple[Requirement, ...], multiple: float, width: int = 78, height: int = 17) -> list[str]:
    """Draw time (upwards, log) over multiple of the rating (to the right, log) in ``width`` columns.

    ``-`` the gates let it not have opened yet, ``#`` they want it to have opened, ``.`` they leave it open, ``|`` the
    load.
    """
    columns = width - _MARGIN
    top = max(10.0 if _slow(gates) else 21.0, multiple * 1.3, gates[-1].multiple * 1.3)
    low = min(0.8, multiple * 0.9) if multiple > 0 else 0.8
    across = [low * exp(log(top / low) * n / (columns - 1)) for n in range(columns)]
    times = [14400.0 * exp(log(0.03 / 14400.0) * n / (height - 1)) for n in range(height)]
    at_load = min(range(columns), key=lambda n: abs(log(across[n] / multiple))) if multiple > 0 else -1
    lines = []
    for row, time in enumerate(times):
        cells = (LOAD if n == at_load else region(gates, m, time) for n, m in enumerate(across))
        lines.append(f"{_time_label(times, row):>{_MARGIN - 1}} {''.join(cells)}")
    return [*lines, " " * _MARGIN + _scale(across), " " * _MARGIN + "times the rating"]


def region(gates: tuple[Requirement, ...], multiple: float, time_s: float) -> str:
    """Say what the gates want at a multiple of the rating after a time [s]."""
    soonest, latest = soonest_at(gates, multiple), latest_at(gates, multiple)
    if latest.seconds is not None and time_s >= latest.seconds:
        return OPEN
    holds = soonest.seconds
    if soonest.kind == "holds":
        holds = inf if soonest.holds_for_s is None else soonest.holds_for_s
    return CLOSED if holds is not None and time_s < holds else EITHER


def _slow(gates: tuple[Requirement, ...]) -> bool:
    return gates[-1].multiple < 5  # noqa: PLR2004 - no instantaneous part: the plot needs no room for one


def _time_label(times: list[float], row: int) -> str:
    for seconds, label in (*_TICKS, *_TICKS_FAST):
        if min(range(len(times)), key=lambda n: abs(log(times[n] / seconds))) == row:
            return label
    return ""


def _scale(across: list[float]) -> str:
    line = [" "] * len(across)
    for multiple in _MULTIPLES:
        if not across[0] <= multiple <= across[-1]:
            continue
        at = min(range(len(across)), key=lambda n: abs(log(across[n] / multiple)))
        label = f"{multiple:g}"
        if at + len(label) <= len(line):
            line[at : at + len(label)] = label
    return "".join(line)
