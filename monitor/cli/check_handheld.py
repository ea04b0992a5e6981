"""Comparing a meter with a handheld instrument: what was read, how far off it is, and the note in the log."""

from __future__ import annotations

import getpass
import re
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import click

from drivers.clock import now
from drivers.reading import Quality
from monitor.cli.asking import enter, make
from monitor.cli.check_findings import Finding
from monitor.electrical.fitting import scale_clue
from monitor.log.problems import LogProblem
from monitor.log.reader import LogReader
from monitor.log.writer import LogWriter
from monitor.show.check_meters import split_point
from monitor.show.model import SOURCE_ID, Point

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from monitor.engine.reading import Reading
    from monitor.log.records import Note
    from monitor.show.model import Show

UNITS = {"A": "amps", "V": "volts", "W": "watts", "HZ": "hertz"}
_SHORT = {quantity: unit.replace("HZ", "Hz") for unit, quantity in UNITS.items()}
_ASKED = re.compile(r"(?P<point>[^=\s]+)=(?P<value>-?\d+([.,]\d+)?)\s*(?P<unit>[A-Za-z]*)")
_FAR = 0.05
"""A clamp meter and a fitted transformer may be 2 or 3 % off each; more together is no error of theirs (a judgement:
instruments' own papers say their error)."""
_FLOOR = {"amps": 0.3, "volts": 1.0, "watts": 30.0, "hertz": 0.05}
_NOTES = 10_000


@dataclass(frozen=True, slots=True)
class ByHand:
    """What an instrument shows at a point, in the quantity's unit."""

    point: str
    quantity: str
    value: float


class HandheldType(click.ParamType[ByHand]):
    """``A1=12.3``, ``A1=12.3A`` or ``A1/L1=119.8V``."""

    name = "point=value"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> ByHand:
        """Read ``value``."""
        found = _ASKED.fullmatch(str(value).strip())
        unit = (found["unit"] or "A").upper() if found else ""
        if found is None or unit not in UNITS:
            self.fail(f"{value!r}: write POINT=VALUE with A, V, W or Hz, as A1=12.3A or A1/L1=119.8V.", param, ctx)
        return ByHand(found["point"], UNITS[unit], float(found["value"].replace(",", ".")))


@dataclass(frozen=True, slots=True)
class Compared:
    """A meter beside an instrument.

    Attributes:
        by_hand: what the instrument shows.
        shown: what the meter shows, or None where it gave no good value.
        why: why not, or empty.

    """

    by_hand: ByHand
    shown: float | None
    why: str = ""

    @property
    def offset(self) -> float | None:
        """Meter less instrument."""
        return None if self.shown is None else self.shown - self.by_hand.value

    @property
    def far(self) -> bool:
        """They differ by more than two instruments do."""
        offset, hand = self.offset, self.by_hand
        return offset is not None and abs(offset) > max(_FAR * abs(hand.value), _FLOOR[hand.quantity])

    def sentence(self) -> str:
        """Say it in words, for the log and the screen."""
        hand, unit = self.by_hand, _SHORT[self.by_hand.quantity]
        if self.shown is None or self.offset is None:
            return f"by hand {hand.value:g} {unit}; {self.why}"
        part = f" ({100 * self.offset / hand.value:+.1f} %)" if hand.value else ""
        return f"meter {self.shown:.4g} {unit}, by hand {hand.value:g} {unit}: offset {self.offset:+.3g} {unit}{part}"


def points_faults(show: Show, by_hand: Sequence[ByHand]) -> Iterator[str]:
    """Name the points that no meter of the show measures."""
    known = [str(point) for point in show.points()]
    for one in by_hand:
        if _spelled(show, one.point) not in known:
            yield f"--handheld {one.point}: no meter measures it; measured are {', '.join(known)}"


def compare(show: Show, by_hand: Sequence[ByHand], readings: Sequence[Reading], log: Path) -> list[Compared]:
    """Put each beside the reading just taken, or the logger's newest where it alone has the meter."""
    newest = {str(reading.point): reading for reading in readings}
    if any(_good(newest.get(_spelled(show, one.point)), one.quantity) is None for one in by_hand):
        newest.update({str(reading.point): reading for reading in _logged(show, log)})
    return [_compared(one, newest.get(_spelled(show, one.point))) for one in by_hand]


def keep(show: Show, compared: Sequence[Compared], who: str, log: Path) -> None:
    """Write the comparisons into the log as notes of kind ``handheld``, through its logger where one runs."""
    for one in compared:
        if one.shown is None:
            continue
        hand = one.by_hand
        where, text = _spelled(show, hand.point), one.sentence()
        request = make("handheld", who, where=where, text=text, amount=hand.value, quantity=hand.quantity)
        if log.exists():
            enter(log, request)
            continue
        at = now()
        with LogWriter.open(log, show, at) as writer:
            time_ms = writer.timeline.stamp(at)[0]
            writer.note(time_ms, who, text, kind="handheld", place=where, number=hand.value, quantity=hand.quantity)
        click.echo(f"written to {log}")


def known_name() -> str:
    """Give the name of whoever is logged in here, or a word in its place."""
    try:
        return getpass.getuser()
    except (OSError, KeyError):  # a user without a name
        return "somebody"


def findings(compared: Sequence[Compared]) -> Iterator[Finding]:
    """Give a finding for each that is far off or could not be compared."""
    for one in compared:
        hand = one.by_hand
        if one.shown is None:
            yield Finding("wrong", hand.point, one.sentence(), "see why the meter gives no value", "handheld-no-value")
        elif one.far:
            clue = scale_clue(one.shown, hand.value)
            text = one.sentence() + (f"; {clue}" if clue else "")
            do = (
                "measure again at the same conductor and moment; then look at the map's scale, at the transformer's"
                " ratio in the meter's menu, and at which circuit the transformer is on"
            )
            yield Finding("wrong", hand.point, text, do, "handheld-off")


def last_comparisons(show: Show, log: Path) -> list[Note]:
    """Give the newest comparison of each point and quantity that stands in the log; none where there is no log."""
    if not log.exists():
        return []
    try:
        with LogReader(log) as reader:
            notes = [note for note in reader.notes(_NOTES) if note.kind == "handheld"]
    except LogProblem:
        return []
    measured = {str(point) for point in show.points()}
    newest = {(note.place, note.quantity): note for note in notes if note.place in measured}
    return sorted(newest.values(), key=lambda note: note.time_ms)


def note_line(note: Note, timezone: str) -> str:
    """Say an earlier comparison in one line."""
    at = datetime.fromtimestamp(note.time_ms / 1000, ZoneInfo(timezone))
    return f"{note.place}: compared {at:%Y-%m-%d %H:%M} by {note.who}: {note.text}"


def behind_log(log: Path) -> float:
    """Give how far the computer's clock is behind the newest entry of the log [s]; 0 where it is not."""
    if not log.exists():
        return 0.0
    try:
        with LogReader(log) as reader:
            last = reader.last_time_ms()
    except LogProblem:
        return 0.0
    return max(0.0, ((last or 0) - now().wall_ms) / 1000)


def _spelled(show: Show, text: str) -> str:
    legs = {SOURCE_ID: show.source.legs, **{feeder.id: feeder.legs for feeder in show.feeders}}
    legs |= {circuit.id: circuit.legs for circuit in show.circuits}
    point: Point = split_point(text, legs, frozenset(circuit.id for circuit in show.circuits))
    return str(point)


def _logged(show: Show, log: Path) -> list[Reading]:
    """Give the readings of a running logger that count as live."""
    if not log.exists():
        return []
    since_ms = now().wall_ms - round(1000 * show.settings["old_after_seconds"])
    try:
        with LogReader(log) as reader:
            return [reading for reading in reader.readings_since(since_ms) if reading.quality is Quality.GOOD]
    except LogProblem:
        return []


def _good(reading: Reading | None, quantity: str) -> float | None:
    if reading is None or reading.quality is not Quality.GOOD:
        return None
    value = getattr(reading.values, quantity)
    return None if value is None else float(value)


def _compared(by_hand: ByHand, reading: Reading | None) -> Compared:
    value = _good(reading, by_hand.quantity)
    if value is not None:
        return Compared(by_hand, value)
    why = "the meter gave no reading" if reading is None else reading.detail or f"the meter gives no {by_hand.quantity}"
    return Compared(by_hand, None, why)
