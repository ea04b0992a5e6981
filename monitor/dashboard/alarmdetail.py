"""One alarm in full: what is seen, what it may mean, what to do now, what it can't know, what is folded under it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.alarms.lifecycle import State
from monitor.dashboard import words
from monitor.dashboard.faults import BADGE_WIDTH, badge
from monitor.dashboard.pieces import BLANK, Cells, Line, Page, Piece, Tone, clean, padded

if TYPE_CHECKING:
    from collections.abc import Iterator

    from monitor.engine.snapshot import AlarmView, Snapshot

_RULE = "─"
_MARK = 2
_NOW, _DUE = "do now", "was due"  # while it stands; once it has returned
_LABEL = BADGE_WIDTH + 1


def detail_page(snapshot: Snapshot, size: Cells, alarm: AlarmView | None) -> Page:
    """Give the chosen alarm in full, or what to press where none is chosen."""
    rule = padded((Piece(_RULE * size.width, Tone.QUIET),), size.width)
    if alarm is None:
        said = "None chosen: ▲▼ choose one." if snapshot.alarms else ""
        return Page((rule, padded((Piece(" " * (_MARK + _LABEL)), Piece(said, Tone.QUIET)), size.width)))
    body = [line for label, text in _parts(alarm, snapshot) for line in _part(label, text, size.width)]
    return Page((rule,), tuple(body))


def _parts(alarm: AlarmView, snapshot: Snapshot) -> Iterator[tuple[str | Piece, str]]:
    lasted = words.age((snapshot.time_ms - alarm.since_ms) / 1000)
    yield badge(alarm), f"{words.told(alarm, snapshot)}, since {_at(alarm.since_ms, snapshot)} ({lasted})"
    yield _DUE if alarm.state == State.RETURNED else _NOW, alarm.do
    yield "meaning", f"It may mean: {alarm.means}" if alarm.means else ""
    yield "unknown", alarm.cannot_know
    for n, sentence in enumerate(alarm.folded):
        yield f"with {len(alarm.folded)}" if n == 0 else "", sentence
    yield "state", f"{alarm.weight}; {_state(alarm, snapshot)}"


def _state(alarm: AlarmView, snapshot: Snapshot) -> str:
    said = words.state(alarm, snapshot.timezone)
    if alarm.state != State.UNACKNOWLEDGED and alarm.changed_ms is not None:
        said += f", at {_at(alarm.changed_ms, snapshot)}"
    if alarm.why:
        said += f": {alarm.why}"
    return f"{said}; x resets it" if alarm.state == State.LATCHED_ACKNOWLEDGED else said


def _at(time_ms: int, snapshot: Snapshot) -> str:
    return f"{words.moment(time_ms, snapshot.timezone):%H:%M:%S}"


def _part(label: str | Piece, text: str, width: int) -> Iterator[Line]:
    if not text:
        return
    lead = label if isinstance(label, Piece) else Piece(label.ljust(BADGE_WIDTH), Tone.QUIET)
    for line in words.wrapped(clean(text), width - _MARK - _LABEL):
        strong = Tone.STRONG if label == _NOW else Tone.PLAIN
        yield padded((Piece(" " * _MARK), lead, BLANK, Piece(line, strong)), width)
        lead = Piece(" " * BADGE_WIDTH)
