"""The list of alarms: grouped by what they need of a person, a line each, one of them chosen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.cells import cell_len

from monitor.alarms.lifecycle import State
from monitor.dashboard import words
from monitor.dashboard.faults import BADGE_WIDTH, badge
from monitor.dashboard.needs import Key, asks, key_of, listing
from monitor.dashboard.pieces import BLANK, Cells, Line, Page, Piece, Tone, clean, cut, fit, padded, width_of

if TYPE_CHECKING:
    from monitor.engine.snapshot import AlarmView, Snapshot

CHOSEN, _RULE = "→", "─"
_MARK = 2  # cells for the mark of the chosen one
_WEIGHT = 6
_TIME = 8
_STATE_FROM, _SINCE_FROM, _WIDE_FROM = 58, 76, 104  # widths from which weight and state, since when, whole words fit
_STATE = (14, 28)  # cells, without and with much room
_SHELF_SHARE = 0.5  # of sentence and state together, for who shelved it until when and why


def alarms_page(snapshot: Snapshot, size: Cells, chosen: Key | None) -> Page:
    """Give every alarm that is not normal."""
    width, rows = size.width, listing(snapshot)
    body = tuple(
        _title(row, width) if isinstance(row, str) else _alarm(row, snapshot, width, chosen=key_of(row) == chosen)
        for row in rows
    )
    keep = next((n for n, row in enumerate(rows) if not isinstance(row, str) and key_of(row) == chosen), None)
    if not body:
        indent = Piece(" " * (_MARK + BADGE_WIDTH + 1))
        said = words.nothing_wrong(snapshot)
        body = tuple(padded((indent, Piece(text)), width) for text in words.wrapped(said, width - len(indent.text)))
    return Page((_head(snapshot, width),), body, keep=keep)


def _head(snapshot: Snapshot, width: int) -> Line:
    name = "Alarms" if snapshot.logger.running else "Alarms as they stood when the logger stopped"
    return padded((Piece(" " * (_MARK + BADGE_WIDTH + 1)), Piece(name, Tone.STRONG)), width)


def _title(title: str, width: int) -> Line:
    line = (Piece(" " * _MARK), Piece(title, Tone.QUIET), BLANK)
    return padded((*line, Piece(_RULE * max(width - width_of(line), 0), Tone.QUIET)), width)


def _alarm(alarm: AlarmView, snapshot: Snapshot, width: int, *, chosen: bool) -> Line:
    tone = Tone.STRONG if chosen else Tone.PLAIN if asks(alarm) else Tone.QUIET
    head: list[Piece] = [Piece(CHOSEN if chosen else " ", Tone.STRONG), BLANK, badge(alarm), BLANK]
    if width < _STATE_FROM:  # the title above says the state, the mark how much attention it needs
        left = width - width_of(tuple(head))
        return padded((*head, Piece(cut(words.told(alarm, snapshot, left), left), tone)), width)
    head += [Piece(fit(alarm.weight, _WEIGHT), tone), BLANK]
    if width >= _SINCE_FROM:
        head += [Piece(f"{words.moment(alarm.since_ms, snapshot.timezone):%H:%M:%S}".ljust(_TIME), Tone.QUIET), BLANK]
    room = width - width_of(tuple(head)) - 1
    state = _state(alarm, snapshot.timezone, width, room)
    said = room - len(state)
    return padded(
        (*head, Piece(fit(cut(words.told(alarm, snapshot, said), said), said), tone), BLANK, Piece(state, tone)), width
    )


def _state(alarm: AlarmView, timezone: str, width: int, room: int) -> str:
    shelved = alarm.state == State.SHELVED
    place = max(_STATE[width >= _WIDE_FROM], int(room * _SHELF_SHARE) if shelved else 0)
    text = words.state(alarm, timezone)
    if shelved or cell_len(text) > place:
        text = words.state(alarm, timezone, short=True)
    return fit(f"{text}: {clean(alarm.why)}" if shelved and alarm.why else text, place)
