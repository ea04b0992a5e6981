"""The clerk: requests reach the desk whole, and count as done only when a Snapshot shows it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from monitor.dashboard.clerk import Clerk, make
from monitor.dashboard.entries import why_no_minutes, why_no_minutes_or_none, why_no_name, why_no_text
from monitor.engine.told import Answer
from tests.monitor.dashboard import snapshots
from tests.monitor.dashboard.seat import Desk
from tests.monitor.dashboard.snapshots import ABOVE, LATCHED, SHELVED

if TYPE_CHECKING:
    from monitor.engine.requests import Kind
    from monitor.engine.snapshot import AlarmView

LOGGER = snapshots.quiet().logger


@pytest.mark.parametrize(
    ("kind", "before", "after"),
    [
        ("acknowledge", ABOVE, replace(ABOVE, state="acknowledged")),
        ("acknowledge", ABOVE, None),
        ("shelve", ABOVE, replace(ABOVE, state="shelved")),
        ("unshelve", SHELVED, replace(SHELVED, state="unacknowledged")),
        ("unshelve", SHELVED, None),
        ("reset", LATCHED, None),
    ],
)
def test_waits_until_the_effect_shows(kind: Kind, before: AlarmView, after: AlarmView | None) -> None:
    """A request is waited for until the Snapshot has what it asked for, and no longer."""
    clerk, quiet = Clerk(Desk()), snapshots.quiet()
    clerk.hand_in(LOGGER, make(kind, "Noor", code=before.code, where=before.where, text="why"))
    assert not clerk.follow(replace(quiet, alarms=(before,)))
    assert clerk.waiting
    assert clerk.follow(replace(quiet, alarms=() if after is None else (after,)))
    assert clerk.overdue() == ""


@pytest.mark.parametrize(
    ("kind", "after"),
    [
        ("acknowledge", replace(ABOVE, state="returned-unacknowledged")),
        ("shelve", replace(ABOVE, state="acknowledged")),
    ],
)
def test_another_change_is_not_the_effect(kind: Kind, after: AlarmView) -> None:
    """That the alarm moved otherwise is not what was asked."""
    clerk = Clerk(Desk())
    clerk.hand_in(LOGGER, make(kind, "Noor", code=ABOVE.code, where=ABOVE.where))
    assert not clerk.follow(replace(snapshots.quiet(), alarms=(after,)))
    assert clerk.overdue().startswith(f"No effect seen in 5 s of: {kind} above-rating at A3.")
    assert not clerk.waiting


def test_the_loggers_refusal_is_given_once_and_ends_the_waiting() -> None:
    """What the logger refused is said in its words; the others are waited for on."""
    clerk, quiet = Clerk(Desk()), snapshots.quiet()
    wishes = [make("acknowledge", "Noor", code=a.code, where=a.where) for a in (ABOVE, SHELVED)]
    clerk.hand_in(LOGGER, *wishes)
    refusal = Answer(wishes[0].number, done=False, text="Noor's request is refused: no such alarm", time_ms=1)
    other = Answer("somebody else's", done=False, text="Ilse's request is refused", time_ms=1)
    told = replace(quiet, alarms=(ABOVE, replace(SHELVED, state="unacknowledged")), answers=(other, refusal))
    assert clerk.answers(told) == "Noor's request is refused: no such alarm"
    assert clerk.answers(told) == ""
    assert clerk.waiting
    assert "acknowledge over-plan at A5" in clerk.overdue()


def test_what_no_list_shows_is_answered_in_words() -> None:
    """A note is known to be kept once the logger says so; an acknowledgement shows in the list."""
    clerk, quiet = Clerk(Desk()), snapshots.quiet()
    note = make("note", "Noor", text="urn moved")
    clerk.hand_in(LOGGER, note)
    assert clerk.answers(quiet) == ""
    done = replace(quiet, answers=(Answer(note.number, done=True, text="Noor noted: urn moved", time_ms=1),))
    assert clerk.answers(done) == "Noor noted: urn moved"
    wish = make("acknowledge", "Noor", code=ABOVE.code, where=ABOVE.where)
    clerk.hand_in(LOGGER, wish)
    done = replace(quiet, answers=(Answer(wish.number, done=True, text="Noor acknowledged", time_ms=1),))
    assert clerk.answers(done) == ""


def test_numbers_are_unique() -> None:
    """No two requests have the same number."""
    assert len({make("note", "Noor", text="x").number for _ in range(100)}) == 100


def test_a_request_without_a_name_is_none() -> None:
    """The name is checked where the request is made, too."""
    with pytest.raises(ValueError, match="no name"):
        make("note", " ", text="x")


@pytest.mark.parametrize("text", ["", "0", "-5", "1441", "2.5", "ten", "²", "1e3"])
def test_minutes_that_are_none(text: str) -> None:
    """Only whole minutes up to the longest shelf are taken."""
    assert why_no_minutes(text) == "Whole minutes from 1 to 1440"


def test_entries_that_will_do() -> None:
    """Names, reasons and minutes that will do give no complaint; 0 only where it has a meaning."""
    assert not why_no_name("Noor")
    assert not why_no_text("agreed")
    assert not why_no_minutes("1440")
    assert not why_no_minutes_or_none("0")
    assert why_no_minutes_or_none("-1")
    assert why_no_name("N" * 31) == "At most 30 characters"
