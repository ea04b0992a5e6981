"""The log's newest lines: when, what, where, who and a sentence, all of it, wrapped where it is long."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from monitor.dashboard import words
from monitor.dashboard.pieces import BLANK, Cells, Line, Page, Piece, Tone, clean, fit, padded

if TYPE_CHECKING:
    from collections.abc import Iterator

    from monitor.engine.history import Entry

MOST = 500
NO_LOG = "This screen has no log to read."
_TIME, _KIND = 11, 5  # cells
_LEAST_PLACE, _MOST_PLACE = 5, 10
_MARGIN = 8  # cells kept free for how many lines are out of sight


class Pages(NamedTuple):
    """What was read from the log.

    Attributes:
        entries: newest first.
        read_ms: when, on the log's clock.
        search: what they are searched for; empty: all are shown.

    """

    entries: tuple[Entry, ...]
    read_ms: int
    search: str = ""


def log_page(pages: Pages | None, timezone: str, size: Cells) -> Page:
    """Give the lines of the log that were read, or why there are none."""
    margin = Piece(" " * _MARGIN)
    if pages is None:
        return Page((padded((margin, Piece(NO_LOG, Tone.OLD)), size.width),))
    found = [entry for entry in pages.entries if _has(entry, pages.search)]
    place = min(max((len(entry.where) for entry in found), default=0), _MOST_PLACE)
    place = max(place, _LEAST_PLACE)
    head = (padded((margin, *_title(pages, len(found), timezone)), size.width), _columns(place, size.width))
    body = tuple(line for entry in found for line in _entry(entry, pages, timezone, place, size.width))
    return Page(head, body)


def _title(pages: Pages, found: int, timezone: str) -> Line:
    many = len(pages.entries)
    total = f"newest {many} entries" if many >= MOST else f"{many} entr{'y' if many == 1 else 'ies'}"
    said = f"{found} of {total}: {clean(pages.search)}" if pages.search else total
    at = f"{words.moment(pages.read_ms, timezone):%H:%M:%S}"
    return (Piece(f"Log, {said}", Tone.STRONG), Piece(f"   newest first, read at {at}", Tone.QUIET))


def _columns(place: int, width: int) -> Line:
    return padded((Piece(f"{'time':<{_TIME}} {'kind':<{_KIND}} {fit('place', place)} what", Tone.QUIET),), width)


def _entry(entry: Entry, pages: Pages, timezone: str, place: int, width: int) -> Iterator[Line]:
    lead: Line = (
        Piece(when(entry.time_ms, pages.read_ms, timezone).ljust(_TIME), Tone.QUIET),
        BLANK,
        Piece(fit(entry.kind, _KIND), Tone.QUIET),
        BLANK,
        Piece(fit(entry.where, place), Tone.STRONG),
        BLANK,
    )
    indent = _TIME + 1 + _KIND + 1 + place + 1
    said = f"{entry.who}: {entry.text}" if entry.who else entry.text
    for text in words.wrapped(said, width - indent) or [""]:
        yield padded((*lead, Piece(text)), width)
        lead = (Piece(" " * indent),)


def when(time_ms: int, now_ms: int, timezone: str) -> str:
    """Give the time, with its date where it is another day's."""
    moment, now = words.moment(time_ms, timezone), words.moment(now_ms, timezone)
    return f"{moment:%H:%M:%S}" if moment.date() == now.date() else f"{moment:%m-%d %H:%M}"


def _has(entry: Entry, search: str) -> bool:
    return search.lower() in f"{entry.kind} {entry.where} {entry.who} {entry.text}".lower()
