"""Buses and their meters: how quickly and how well each answers, and what to look at where one does not."""

from __future__ import annotations

from itertools import accumulate
from typing import TYPE_CHECKING

from monitor.dashboard import meterwords, words
from monitor.dashboard.faults import BADGE_WIDTH, OTHER, Faults
from monitor.dashboard.pieces import BLANK, Cells, Line, Page, Piece, Tone, clean, cut, fit, padded, right
from monitor.dashboard.sourcewords import NOT_TOLD

if TYPE_CHECKING:
    from monitor.engine.snapshot import Snapshot
    from monitor.engine.told import BusView, MeterView

_BLANK_MARK = Piece(" " * BADGE_WIDTH)
_OLD_MARK = Piece(f"{OTHER}OLD".ljust(BADGE_WIDTH), Tone.OLD)
_INDENT = BADGE_WIDTH + 1
_UNIT, _STATE, _AGE, _GOOD, _MS, _RETRIES = 4, 11, 6, 5, 6, 7
_MAP, _MAP_FROM, _FAULTS_FROM = 18, 110, 76
_TITLES = (("reply", _STATE), ("age", _AGE), ("good%", _GOOD), ("ms", _MS), ("worst", _MS), ("retries", _RETRIES))


def meters_page(snapshot: Snapshot, size: Cells) -> Page:
    """Give every bus with its meters."""
    width, faults = size.width, Faults(snapshot.wrong)
    if not snapshot.buses:
        return Page((padded((_BLANK_MARK, BLANK, Piece("No meter is in the show.", Tone.STRONG)), width),))
    head = [_titles(width)]
    if not snapshot.told:
        why = "Counts are not known: the logger has stopped." if not snapshot.logger.running else f"Counts: {NOT_TOLD}."
        head += _below(why, width, Tone.OLD)
    body: list[Line] = []
    for bus in snapshot.buses:
        body += _bus(bus, width)
        for meter in bus.meters:
            body += _meter(meter, bus, faults, width)
    return Page(tuple(head), tuple(body))


def _titles(width: int) -> Line:
    unit = fit("unit", _UNIT)
    named = f" {fit('map', _MAP)}" if width >= _MAP_FROM else ""
    titles = _TITLES[: _columns(width)]
    figures = " ".join(fit(name, cells) if name == "reply" else right(name, cells) for name, cells in titles)
    behind = "  faults; points" if width >= _FAULTS_FROM else ""
    return padded((_BLANK_MARK, BLANK, Piece(f"{unit}{named} {figures}{behind}", Tone.QUIET)), width)


def _columns(width: int) -> int:
    """Give how many columns there is whole room for."""
    room = width - _INDENT - _UNIT - (_MAP + 1 if width >= _MAP_FROM else 0)
    ends = accumulate(cells + 1 for _, cells in _TITLES)
    return sum(end <= room for end in ends)


def _bus(bus: BusView, width: int) -> list[Line]:
    """Give a bus: where, how fast, and what is the matter with it as a whole."""
    rate = meterwords.rate(bus)
    parts = [f"{clean(bus.where)}, {bus.protocol}", *(part for part in (rate, meterwords.busy(bus)) if part)]
    texts = words.wrapped("; ".join(parts), width - _INDENT - len(clean(bus.id)) - 2)
    room = len(clean(bus.id)) + 2
    lead = Piece(fit(bus.id, room), Tone.STRONG)
    tone = Tone.LOW if meterwords.behind(bus) else Tone.PLAIN
    lines = [
        padded((_BLANK_MARK, BLANK, lead if n == 0 else Piece(" " * room), Piece(text, tone)), width)
        for n, text in enumerate(texts)
    ]
    if meterwords.behind(bus):
        lines += _below("fewer polls than wanted: fewer meters on it, a faster line, or a longer interval", width)
    whole = meterwords.whole_bus(bus)
    return lines + (_below(whole, width) if whole else [])


def _meter(meter: MeterView, bus: BusView, faults: Faults, width: int) -> list[Line]:
    """Give a meter in one line, and below it what to look at, and its points where there was no room for them."""
    dark, counts, latest = meterwords.dark(meter), meter.counts, meter.latest
    mark = faults.badge(f"{bus.id}:{meter.unit}")
    if dark and not mark.text.strip() and latest.age_s is not None:
        mark = _OLD_MARK
    median, worst = meterwords.latency(counts)
    figures = (
        (words.age(latest.age_s), _AGE),
        (meterwords.good_share(counts), _GOOD),
        (median, _MS),
        (worst, _MS),
        (words.MISSING if counts is None else str(counts.retries), _RETRIES),
    )
    tone = Tone.OLD if dark else Tone.PLAIN
    line = [mark, BLANK, Piece(fit(str(meter.unit), _UNIT), Tone.STRONG)]
    line += [BLANK, Piece(fit(meter.map, _MAP), tone)] if width >= _MAP_FROM else []
    line += [BLANK, Piece(fit(meterwords.state(latest), _STATE), Tone.OLD if dark else Tone.STRONG)]
    for text, cells in figures[: _columns(width) - 1]:
        line += [BLANK, Piece(right(text, cells), tone)]
    said = f"{meterwords.faults(counts)}; {_points(meter)}"
    if width >= _FAULTS_FROM:
        room = width - _INDENT - _UNIT - 1 - sum(cells + 1 for _, cells in _TITLES) - 1
        room -= _MAP + 1 if width >= _MAP_FROM else 0
        fits = len(said) <= room
        line += [Piece("  "), Piece(said if fits else cut(meterwords.faults(counts), room), tone)]
    else:
        fits = False
    below = [] if fits else _below(said if width < _FAULTS_FROM else _points(meter), width, Tone.QUIET)
    todo = meterwords.why_dark(meter, bus)
    return [padded(tuple(line), width), *below, *(_below(todo, width) if todo else [])]


def _points(meter: MeterView) -> str:
    return clean(" ".join(point for _, point in meter.points))


def _below(text: str, width: int, tone: Tone = Tone.STRONG) -> list[Line]:
    room = Piece(" " * (_INDENT + _UNIT + 1))
    return [padded((room, Piece(part, tone)), width) for part in words.wrapped(text, width - _INDENT - _UNIT - 1)]
