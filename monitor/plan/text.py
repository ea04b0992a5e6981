"""The plan on paper: plain lines that pipe and print well, as wide as asked; its tables need 76 to 80 columns."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING
from unicodedata import combining, east_asian_width

from monitor.electrical.cable import basis

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from monitor.electrical.balance import Balance, Move
    from monitor.electrical.headroom import Headroom
    from monitor.plan.findings import Finding
    from monitor.plan.schedule import CircuitRow, FeederRow, Schedule

_FIXED = 66  # columns of a circuit's line that are not its name
_LEAST_NAME, _MOST_NAME = 10, 40


def plan_lines(schedule: Schedule, found: Sequence[Finding], width: int = 80) -> Iterator[str]:
    """Give the whole plan, at most ``width`` columns wide where its tables fit into that."""
    show = schedule.show
    yield f"{show.name}: load schedule"
    yield from _wrap(f"Source: {show.source.name}, {show.source.system} V, {show.source.hertz:g} Hz", width)
    yield ""
    yield from _circuits(schedule, width)
    yield ""
    yield from _feeders(schedule)
    if told := basis(show):
        rows: tuple[CircuitRow | FeederRow, ...] = (*schedule.circuits, *schedule.feeders)
        least = any(row.no_cable and row.far_drop for row in rows)
        more = " > where some cable on the way is not described: it drops more than that." if least else ""
        yield from _wrap(f"Drop: {told}.{more}", width)
        yield ""
    yield from _source(schedule, width)
    yield ""
    yield from _findings(found, width)


def _circuits(schedule: Schedule, width: int) -> Iterator[str]:
    room = min(_MOST_NAME, max(_LEAST_NAME, width - _FIXED))
    figures = f"{'watts':>7}{'amps':>6}{'paper':>6}{'of':>5}{'cont':>6}{'room':>6}{'drop':>15}"
    yield f"{'circuit':<8}{'name':<{room}} {'leg':<5}{figures}"
    boxes = list(dict.fromkeys(row.circuit.fed_from for row in schedule.circuits))
    box = ""
    for row in sorted(schedule.circuits, key=lambda row: boxes.index(row.circuit.fed_from)):
        if row.circuit.fed_from != box:
            box = row.circuit.fed_from
            yield f"from {box}"
        yield _circuit(row, room)


def _circuit(row: CircuitRow, room: int) -> str:
    circuit = row.circuit
    legs = "all 3" if len(circuit.legs) > 2 else "-".join(sorted(circuit.legs))  # noqa: PLR2004 - a pair of legs
    return (
        f"{circuit.id:<8.8}{_fit(circuit.name, room)} {legs:<5.5}{row.planned_watts:>7.0f}{row.planned_amps:>6.1f}"
        f"{row.paper_amps:>6.1f}{circuit.breaker.amps:>5.0f}{row.continuous_amps:>6.1f}{row.headroom_amps:>6.1f}"
        f"{_drop(row):>15}"
    )


def _fit(name: str, room: int) -> str:
    """Give a name in so many cells: cut with a point, or filled with blanks."""
    if _cells(name) > room:
        while _cells(name) >= room:
            name = name[:-1]
        name += "."
    return name + " " * (room - _cells(name))


def _cells(text: str) -> int:
    """Give the cells that a terminal takes for a text: two for wide signs, none for those that combine."""
    return sum(0 if combining(sign) else 1 + (east_asian_width(sign) in "WF") for sign in text)


def _drop(row: CircuitRow | FeederRow) -> str:
    if row.far_drop is None:
        return "no cable"
    least = ">" if row.no_cable else ""
    return f"{least}{row.far_drop.volts:.1f} V {row.far_drop.percent:.1f} %"


def _feeders(schedule: Schedule) -> Iterator[str]:
    if not schedule.feeders:
        return
    legs = schedule.show.source.legs
    heads = "".join(f"{leg:>7}" for leg in legs)
    yield f"{'feeder':<12}{'from':<12}{heads}{'N':>7}{'of':>6}{'cont':>7}{'drop':>15}"
    for row in schedule.feeders:
        yield _feeder(row, legs)
    yield ""


def _feeder(row: FeederRow, legs: tuple[str, ...]) -> str:
    amps = "".join(f"{row.amps_by_leg[leg]:>7.1f}" if leg in row.amps_by_leg else f"{'':>7}" for leg in legs)
    rated = "none" if row.rated_amps is None else f"{row.rated_amps:.0f}"
    continuous = "" if row.continuous_amps is None else f"{row.continuous_amps:.1f}"
    limits = f"{row.neutral_amps:>7.1f}{rated:>6}{continuous:>7}{_drop(row):>15}"
    return f"{row.feeder.id:<12.11}{row.feeder.fed_from:<12.11}{amps}{limits}"


def _source(schedule: Schedule, width: int) -> Iterator[str]:
    load, source = schedule.source, schedule.show.source
    legs = ", ".join(f"{leg} {amps:.1f} A" for leg, amps in schedule.amps_by_leg.items())
    rating = "" if schedule.leg_rating_amps is None else f" of {schedule.leg_rating_amps:.0f} A a leg"
    yield from _wrap(
        f"Source legs: {legs}{rating}; neutral {schedule.neutral_amps:.1f} A (linear loads; harmonics add)", width
    )
    parts = [f"{load.kilowatts:.1f} kW" + (f" of {source.rated_kw:g} kW" if source.rated_kw else "")]
    parts.append(f"{load.kilovolt_amperes:.1f} kVA" + (f" of {source.rated_kva:g} kVA" if source.rated_kva else ""))
    percent = "" if load.percent is None else f", {load.percent:.0f} % of its rating"
    yield from _wrap(f"Planned: {', '.join(parts)}{percent}", width)
    if schedule.fuel is not None:
        day = schedule.fuel
        text = (
            f"Fuel: about {day.litres_per_hour:.1f} l/h at this load, {day.litres:.0f} l in {day.hours:g} h; a full"
            f" tank gives {day.usable_litres:.0f} l. An estimate, good to about 20 %, with everything on all the time."
        )
        yield from _wrap(text, width)


def _findings(found: Sequence[Finding], width: int) -> Iterator[str]:
    if not found:
        yield "Findings: none in what the file describes."
        return
    yield "Findings"
    for finding in found:
        yield from _wrap(f"{finding.severity}: {finding.where}: {finding.text}", width, indent="  ")


def add_lines(circuit: str, answer: Headroom, watts: float, width: int = 80) -> Iterator[str]:
    """Give the answer to "does a load of ``watts`` [W] fit at this circuit?"."""
    room = "not checked" if answer.amps is None else f"{answer.amps:.1f} A"
    verdict = {True: "fits the plan", False: "does not fit the plan", None: "can't be judged"}[answer.fits]
    limit = "" if answer.limited_by is None else f", limited by {answer.limited_by}"
    text = f"{watts:g} W more at {circuit} is {answer.added_amps:.1f} A: {verdict}; room {room}{limit}."
    if answer.not_checked:
        text += f" Not checked, for want of a rating: {', '.join(answer.not_checked)}."
    yield from _wrap(text, width)


def balance_lines(found: Balance, worse: Sequence[Finding], width: int = 80) -> Iterator[str]:
    """Give the fewest moves that lower the highest leg, and what they would put wrong elsewhere."""
    if not found.moves:
        known = "lowers" if found.exact else "was found that lowers"
        yield f"Balance: no move of a movable circuit {known} the highest leg."
        return
    yield f"Balance: {len(found.moves)} {'move' if len(found.moves) == 1 else 'moves'}"
    for move in found.moves:
        yield f"  {_move(move)}"
    before = ", ".join(f"{leg} {amps:.1f} A" for leg, amps in found.before.items())
    after = ", ".join(f"{leg} {amps:.1f} A" for leg, amps in found.after.items())
    yield from _wrap(f"Before: {before}. After: {after}. Move with the load off.", width)
    for few in found.fewer:
        moves = f"{len(few.moves)} {'move' if len(few.moves) == 1 else 'moves'}"
        told = ", ".join(map(_move, few.moves))
        yield from _wrap(
            f"With {moves} alone the highest leg comes to {few.highest_amps:.1f} A at best: {told}.", width
        )
    if not found.exact:
        text = (
            f"Too many arrangements to try them all: none comes below {found.floor_amps:.2f} A on its highest leg, this"
            f" one comes to {max(found.after.values()):.2f} A; fewer moves may do as well."
        )
        yield from _wrap(text, width)
    for finding in worse:
        yield from _wrap(f"after the moves: {finding.where}: {finding.text}", width, indent="  ")


def _move(move: Move) -> str:
    return f"{move.circuit}: {move.from_leg} to {move.to_leg}"


def _wrap(text: str, width: int, indent: str = "") -> list[str]:
    return textwrap.wrap(text, width, initial_indent=indent, subsequent_indent=indent + "  ", break_on_hyphens=False)
