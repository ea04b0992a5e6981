"""The top of every screen: whose show, whether it is being logged, and what is wrong now, always in the same lines."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.cells import cell_len

from monitor.alarms.lifecycle import State
from monitor.dashboard import words
from monitor.dashboard.faults import badge
from monitor.dashboard.needs import aside, asks
from monitor.dashboard.pieces import BLANK, Cells, Line, Page, Piece, Tone, clean, cut, fit, padded, width_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from monitor.dashboard.session import Mute
    from monitor.engine.snapshot import AlarmView, Snapshot

_SHORT, _TALL = 22, 30  # screen heights below and from which two and five lines are for what is wrong, else three
_STATES: Mapping[str, tuple[str, str]] = {
    State.ACKNOWLEDGED: ("acknowledged", "ack."),
    State.LATCHED: ("latched", "latched"),
    State.LATCHED_ACKNOWLEDGED: ("latched", "latched"),
}
_ROOMY = 7  # a strip of this height leaves its last line blank
_SINCE_FROM = 76  # width from which it is said since when


def strip_height(screen_height: int) -> int:
    """Give the strip's height on a screen of so many lines."""
    return 3 if screen_height < _SHORT else 4 if screen_height < _TALL else 7


def strip_page(snapshot: Snapshot, size: Cells, mute: Mute | None = None) -> Page:
    """Give the strip in exactly as many lines as it has.

    Args:
        snapshot: as it may be shown.
        size: of the strip.
        mute: who keeps the bell quiet until when, or None.

    """
    width, height = size
    if not snapshot.logger.running:
        lines = _stopped(snapshot, width)
    else:
        lines = _cut_off(snapshot, size) if snapshot.logger.cut_off else _running(snapshot, size, mute)
    blank = padded((), width)
    return Page(tuple((lines + [blank] * height)[:height]))


def _running(snapshot: Snapshot, size: Cells, mute: Mute | None) -> list[Line]:
    width, height = size
    lines = [_title(snapshot, width, mute)]
    if not snapshot.wrong:
        texts = words.wrapped(words.nothing_wrong(snapshot), width)
        return lines + [padded((Piece(text, Tone.QUIET),), width) for text in texts]
    wrongs = sorted(snapshot.wrong, key=lambda wrong: not asks(wrong))
    shown = wrongs[: height - (2 if height >= _ROOMY else 1)]
    more = len(wrongs) - len(shown)
    for index, wrong in enumerate(shown):
        last = f" and {more} more" if more and index == len(shown) - 1 else ""
        lines.append(_wrong(snapshot, wrong, last, width))
    return lines


def _title(snapshot: Snapshot, width: int, mute: Mute | None) -> Line:
    time = f"  {words.moment(snapshot.time_ms, snapshot.timezone):%H:%M:%S}  "
    kept = not (snapshot.logger.not_kept or snapshot.logger.problem)
    state = clean(words.logger_state(snapshot.logger))
    state = fit(state, min(len(state), width - len(time)))
    room = width - len(time) - len(state)
    notes = _notes(snapshot, mute, room)
    name = fit(snapshot.show_name, max(room - cell_len(notes), 0))
    tone = Tone.QUIET if kept else Tone.URGENT_BADGE
    line = (Piece(name, Tone.PLAIN), Piece(time, Tone.STRONG), Piece(state, tone), Piece(notes, Tone.STRONG))
    return padded(line, width)


def _notes(snapshot: Snapshot, mute: Mute | None, room: int) -> str:
    """Say what else stands and whether the bell is muted, in the longest form that fits; the show's name gives way."""
    counts = [f"{count} {word}" for count, word in aside(snapshot)]
    if mute is None:
        forms = [", ".join(counts)]
    else:
        until = f"{words.moment(mute.until_ms, snapshot.timezone):%H:%M}"
        more = [f"{sum(count for count, _ in aside(snapshot))} more (a)"] if counts else []
        by = clean(mute.who)
        whole = (f"bell muted until {until} by {by}", f"muted to {until} {by}", f"muted to {until}")
        forms = [", ".join([*counts, said]) for said in whole] + [", ".join([f"muted to {until}", *more])]
    said = next((form for form in forms if cell_len(form) + 2 <= room), forms[-1])
    return f"  {said}"[: max(room, 0)] if said else ""


def _wrong(snapshot: Snapshot, wrong: AlarmView, more: str, width: int) -> Line:
    mark, open_ = badge(wrong), asks(wrong)
    since = f" since {words.moment(wrong.since_ms, snapshot.timezone):%H:%M:%S}" if width >= _SINCE_FROM else ""
    long, short = _STATES.get(wrong.state, ("", ""))
    ends = (f"{since}, {long}", f" {long}", f" {short}") if long else (since, "")
    room = width - width_of((mark, BLANK)) - len(more)
    text = words.told(wrong, snapshot, room - len(ends[-1]))
    end = next((end for end in ends if cell_len(text) + len(end) <= room), ends[-1])
    said = fit(cut(text, room - len(end)), room - len(end))
    tone = Tone.PLAIN if open_ else Tone.QUIET
    return padded((mark, BLANK, Piece(said, tone), Piece(end, Tone.QUIET), Piece(more, Tone.STRONG)), width)


def _stopped(snapshot: Snapshot, width: int) -> list[Line]:
    logger = snapshot.logger
    written = f"{words.age(logger.last_commit_age_s)} ago" if logger.last_commit_age_s is not None else "never"
    loud = (
        " LOGGER STOPPED: nothing on this screen is live",
        f" Log last written {written}: {clean(logger.log_path)}",
        f" {snapshot.show_name}: start the logger again to see what is happening now",
    )
    return [*_loud(loud, width), _left(snapshot, "when it stopped", width)]


def _cut_off(snapshot: Snapshot, size: Cells) -> list[Line]:
    """Say on an attached screen that the logger runs and can't write: nothing that it reads gets here."""
    logger = snapshot.logger
    many = f"{logger.not_kept} reading{'' if logger.not_kept == 1 else 's'}"
    loud = [
        " LOG NOT WRITTEN: nothing on this screen is live, though the logger runs",
        f" {many} not kept, last written {words.age(logger.last_commit_age_s)} ago: {clean(logger.log_path)}",
    ]
    room = size.height - len(loud) - 1
    why = words.wrapped(logger.problem, size.width - 1)
    loud += [f" {text}" for text in (why if len(why) <= room else [*why[: room - 1], " ".join(why[room - 1 :])])]
    return [*_loud(loud, size.width), _left(snapshot, "when it was last written", size.width)]


def _loud(texts: Iterable[str], width: int) -> list[Line]:
    return [(Piece(fit(f" {cut(text.strip(), width - 1)}", width), Tone.LOUD),) for text in texts]


def _left(snapshot: Snapshot, when: str, width: int) -> Line:
    """Say what was wrong when the last was known."""
    many = len(snapshot.wrong)
    if many:
        then = f"{many} thing{'' if many == 1 else 's'} wrong {when} (a)"
    else:
        then = f"No alarm stood in what was measured {when}."
    return padded((Piece(then, Tone.OLD),), width)
