"""The top of every screen: whose show, whether it is being logged, and what is wrong now, always in the same lines."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.dashboard import words
from monitor.dashboard.faults import BADGE_WIDTH, badge
from monitor.dashboard.pieces import BLANK, Cells, Line, Page, Piece, Tone, clean, cut, fit, padded, width_of

if TYPE_CHECKING:
    from monitor.engine.snapshot import AlarmView, Snapshot

_SHORT, _TALL = 22, 30  # screen heights below and from which two and five lines are for what is wrong, else three
_ROOMY = 7  # a strip of this height leaves its last line blank
_SINCE_FROM = 76  # width from which it is said since when


def strip_height(screen_height: int) -> int:
    """Give the strip's height on a screen of so many lines."""
    return 3 if screen_height < _SHORT else 4 if screen_height < _TALL else 7


def strip_page(snapshot: Snapshot, size: Cells) -> Page:
    """Give the strip in exactly as many lines as it has."""
    width, height = size
    lines = _stopped(snapshot, width) if not snapshot.logger.running else _running(snapshot, width, height)
    blank = padded((), width)
    return Page(tuple((lines + [blank] * height)[:height]))


def wrong_page(snapshot: Snapshot, size: Cells) -> Page:
    """Give everything that is wrong, each on as many lines as it takes."""
    title = "Everything that is wrong now, most urgent first" if snapshot.logger.running else "Wrong when it stopped"
    width, indent = size.width, Piece(" " * (BADGE_WIDTH + 1))
    body: list[Line] = []
    for wrong in snapshot.wrong:
        since = f"since {words.moment(wrong.since_ms, snapshot.timezone):%H:%M:%S}"
        for index, text in enumerate(words.wrapped(f"{wrong.text}, {since}", width - len(indent.text))):
            lead = (badge(wrong), BLANK) if index == 0 else (indent,)
            body.append(padded((*lead, Piece(text)), width))
    if not body:
        texts = words.wrapped(words.nothing_wrong(snapshot), width - len(indent.text))
        body = [padded((indent, Piece(text)), width) for text in texts]
    return Page((padded((indent, Piece(title, Tone.STRONG)), width),), tuple(body))


def _running(snapshot: Snapshot, width: int, height: int) -> list[Line]:
    lines = [_title(snapshot, width)]
    if not snapshot.wrong:
        texts = words.wrapped(words.nothing_wrong(snapshot), width)
        return lines + [padded((Piece(text, Tone.QUIET),), width) for text in texts]
    shown = snapshot.wrong[: height - (2 if height >= _ROOMY else 1)]
    more = len(snapshot.wrong) - len(shown)
    for index, wrong in enumerate(shown):
        last = f" and {more} more" if more and index == len(shown) - 1 else ""
        lines.append(_wrong(snapshot, wrong, last, width))
    return lines


def _title(snapshot: Snapshot, width: int) -> Line:
    time = f"{words.moment(snapshot.time_ms, snapshot.timezone):%H:%M:%S}"
    kept = not (snapshot.logger.not_kept or snapshot.logger.problem)
    state = clean(words.logger_state(snapshot.logger))
    state = fit(state, min(len(state), width - len(time) - 4))
    name = fit(snapshot.show_name, max(width - len(state) - len(time) - 4, 0))
    tone = Tone.QUIET if kept else Tone.URGENT_BADGE
    return padded((Piece(name, Tone.PLAIN), Piece(f"  {time}  ", Tone.STRONG), Piece(state, tone)), width)


def _wrong(snapshot: Snapshot, wrong: AlarmView, more: str, width: int) -> Line:
    mark = badge(wrong)
    since = f" since {words.moment(wrong.since_ms, snapshot.timezone):%H:%M:%S}" if width >= _SINCE_FROM else ""
    room = width - width_of((mark, BLANK)) - len(more)
    text = clean(wrong.text)
    end = since if len(text) + len(since) <= room else ""
    said = fit(cut(text, room - len(end)), room - len(end))
    return padded((mark, BLANK, Piece(said), Piece(end, Tone.QUIET), Piece(more, Tone.STRONG)), width)


def _stopped(snapshot: Snapshot, width: int) -> list[Line]:
    logger, many = snapshot.logger, len(snapshot.wrong)
    written = f"{words.age(logger.last_commit_age_s)} ago" if logger.last_commit_age_s is not None else "never"
    loud = (
        " LOGGER STOPPED: nothing on this screen is live",
        f" Log last written {written}: {clean(logger.log_path)}",
        f" {snapshot.show_name}: start the logger again to see what is happening now",
    )
    lines: list[Line] = [(Piece(fit(cut(text, width), width), Tone.LOUD),) for text in loud]
    then = (
        f"{many} thing{'' if many == 1 else 's'} wrong when it stopped (w)"
        if many
        else "Nothing was outside limits in what was measured when it stopped."
    )
    return [*lines, padded((Piece(then, Tone.OLD),), width)]
